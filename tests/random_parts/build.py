"""A block that records what is cut from it."""

from __future__ import annotations

from dataclasses import replace

import cadquery as cq
import numpy as np

from shared.units import Vector
from tests.random_parts.truth import Expected

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
NX, NY, NZ = (-1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0)
OVER = 5.0
"""Tools stick out of the block by this much, so that no face of a tool lies on a face of the block."""


class Block:
    """A solid and the truth about it; x and y run from the middle, z from 0 at the bottom."""

    def __init__(self, rng: np.random.RandomState, shape: cq.Shape | None = None) -> None:
        self.rng = rng
        self.truth: list[Expected] = []
        self.length, self.width, self.height = self.pick(80, 110), self.pick(60, 78), self.pick(24, 40)
        box = cq.Workplane().box(self.length, self.width, self.height, centered=(True, True, False))
        self.shape: cq.Shape = shape or box.findSolid()

    def pick(self, low: float, high: float) -> float:
        """A random length between two, to a tenth of a millimetre."""
        return round(float(self.rng.uniform(low, high)), 1)

    def cut(self, tool: cq.Workplane | cq.Shape, *expected: Expected) -> None:
        """Takes the tool away. One expected feature gets the volume, where the tool met material all the way."""
        solid = tool if isinstance(tool, cq.Shape) else tool.findSolid()
        before = self.shape.Volume()
        self.shape = only_solid(self.shape.cut(solid))
        taken = before - self.shape.Volume()
        self.truth += [replace(e, volume=taken) if len(expected) == 1 and e.volume == 0.0 else e for e in expected]

    def prism(self, sketch: cq.Workplane, top: float, depth: float) -> cq.Workplane:
        """A closed wire in the XY plane, extruded from `top` down by `depth`."""
        return sketch.extrude(depth).translate((0, 0, top - depth))

    def rod(self, at: Vector, direction: Vector, diameter: float, length: float) -> cq.Shape:
        """A cylinder from `at` along `direction`."""
        return cq.Solid.makeCylinder(diameter / 2, length, cq.Vector(*at), cq.Vector(*direction))


def only_solid(shape: cq.Shape) -> cq.Shape:
    """The one solid in a shape. Raises ValueError where a case went wrong and left none or several."""
    solids = shape.Solids()
    if len(solids) != 1:
        raise ValueError(f"the case left {len(solids)} solids")
    return solids[0]
