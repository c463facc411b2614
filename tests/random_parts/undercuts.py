"""Slots wider below than above, and free forms."""

from __future__ import annotations

from math import radians, sin, tan

import cadquery as cq
import numpy as np

from tests.random_parts.build import NX, NY, OVER, Block, Y, Z
from tests.random_parts.truth import Expected


def _along_y(b: Block, points: list[tuple[float, float]]) -> cq.Workplane:
    """A closed outline of (x, z) points, swept through the whole width of the block."""
    return cq.Workplane("XZ").polyline(points).close().extrude(b.width / 2 + OVER, both=True)


def tee_slot(b: Block) -> None:
    neck, head, depth, low = b.pick(8, 12), b.pick(16, 24), b.pick(14, 18), b.pick(5, 8)
    n, h, top, floor = neck / 2, head / 2, b.height + OVER, b.height - depth
    right = [(h, floor), (h, floor + low), (n, floor + low), (n, top)]
    tool = _along_y(b, right + [(-x, z) for x, z in reversed(right)])
    b.cut(tool, Expected(("undercut",), (), (Z, Y, NY), profile="tee", volume=0.0))


def dovetail_slot(b: Block) -> None:
    neck, depth, angle = b.pick(14, 20), b.pick(8, 14), float(b.rng.choice([45.0, 55.0, 60.0]))
    n, wide = neck / 2, neck / 2 + depth / tan(radians(angle))
    floor, top = b.height - depth, b.height
    right = [(wide, floor), (n, top), (n, top + OVER)]
    tool = _along_y(b, right + [(-x, z) for x, z in reversed(right)])
    b.cut(tool, Expected(("undercut",), (), (Z, Y, NY), volume=0.0))


def engraving(b: Block) -> None:
    """Two shallow closed pockets with free-form walls and plane floors, like letters."""
    for x in (-18.0, 18.0):
        depth = b.pick(0.8, 2.0)
        radii = [b.pick(5, 11) for _ in range(7)]
        points = [(r * sin(radians(90 + 360 * k / 7)), r * sin(radians(360 * k / 7))) for k, r in enumerate(radii)]
        outline = cq.Workplane().spline(points, periodic=True).close()
        taken = depth * enclosed(outline.val())  # type: ignore[arg-type]
        tool = b.prism(outline, b.height + OVER, depth + OVER)
        letter = Expected(
            ("closed_pocket",), (Z,), bottom_condition="planar", dimensions={"depth": depth}, volume=taken
        )
        b.cut(tool.translate((x, 0, 0)), letter)


def enclosed(curve: cq.Wire) -> float:
    """Area inside a closed curve in the XY plane, by a polygon of 800 points: the kernel's own is 0.5 % off on splines."""
    x, y = np.array([(p.x, p.y) for p in curve.positions(np.arange(800) / 800)]).T
    return float(abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) / 2)


def freeform_patch(b: Block) -> None:
    """A wavy valley right across the top: no plane, cylinder or cone in it."""
    low = [(-18.0 + 9 * k, b.height - b.pick(3, 8)) for k in range(5)]
    top = b.height
    path = cq.Workplane("XZ").moveTo(-27, top + OVER).lineTo(-27, top).spline([(-27, top), *low, (27, top)])
    tool = path.lineTo(27, top + OVER).close().extrude(b.width / 2 + OVER, both=True)
    b.cut(tool, Expected(("region", "slot"), (Z,), (Y, NY), volume=0.0))


def blind_tee(b: Block) -> None:
    """A tee slot whose cutters turned round at its end."""
    neck, head, depth, low = b.pick(8, 12), b.pick(16, 24), b.pick(14, 18), b.pick(5, 8)
    end, floor = b.pick(-10, 10), b.height - depth
    tool = cq.Workplane()
    for wide, high in ((head, low), (neck, depth + OVER)):
        arm = cq.Workplane().box(b.length / 2 + OVER + end, wide, high, centered=(False, True, False))
        arm = arm.translate((-b.length / 2 - OVER, 0, floor))
        tool = tool.union(arm).union(cq.Workplane(b.rod((end, 0, floor), Z, wide, high)))
    sizes = {"foot_width": head, "foot_height": low, "depth": depth}
    b.cut(tool, Expected(("undercut",), (), (Z, NX), profile="tee", dimensions=sizes, volume=0.0))


def male_dovetail(b: Block) -> None:
    """Both flanks of a rail that is narrower below than above: a one-sided dovetail on either side."""
    half, depth, angle = b.pick(12, 18), b.pick(8, 12), float(b.rng.choice([45.0, 55.0, 60.0]))
    floor, foot = b.height - depth, half - depth / tan(radians(angle))
    far = b.length / 2 + OVER
    for side in (-1, 1):
        section = [(foot, floor), (half, b.height), (half, b.height + OVER), (far, b.height + OVER), (far, floor)]
        tool = _along_y(b, [(side * x, z) for x, z in section])
        sizes = {"depth": depth, "flank_angle": angle}
        b.cut(tool, Expected(("undercut",), (), (Z, Y, NY), dimensions=sizes, volume=0.0))
