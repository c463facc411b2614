"""Plates of filleted pockets and holes, as large as wanted: what shows how time grows with the number of faces."""

from __future__ import annotations

from math import ceil, sqrt
from pathlib import Path

import cadquery as cq

PITCH = 40.0
FACES_OF_A_PAIR = 18
"""4 walls, 4 corners, 4 + 4 floor fillets and a floor of a pocket, and a hole."""


def plate(faces: int) -> cq.Workplane:
    """A plate with about `faces` faces: a square grid of equal pockets, each with a through hole beside it."""
    pairs = max(1, round((faces - 6) / FACES_OF_A_PAIR))
    across = ceil(sqrt(pairs))
    down = ceil(pairs / across)
    block = cq.Workplane().box(across * PITCH, down * PITCH, 20, centered=False)
    pocket = cq.Workplane().box(24, 16, 20).edges("|Z").fillet(4).faces("<Z").edges().fillet(2).findSolid()
    hole = cq.Solid.makeCylinder(3, 30, cq.Vector(0, 0, -5))
    tools: list[cq.Shape] = []
    for i in range(pairs):
        x, y = (i % across + 0.5) * PITCH, (i // across + 0.5) * PITCH
        tools += [pocket.translate(cq.Vector(x, y - 5, 18)), hole.translate(cq.Vector(x, y + 12, 0))]
    return cq.Workplane(block.findSolid().cut(*tools))


def write_plate(faces: int, folder: Path) -> tuple[Path, int]:
    """The plate as a STEP file, and how many faces it has."""
    made = plate(faces)
    path = folder / f"plate_{faces}.step"
    cq.exporters.export(made, str(path))
    return path, len(made.faces().vals())
