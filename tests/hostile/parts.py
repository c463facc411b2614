"""The good parts that are spoilt: small, and of all kinds of faces."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

import cadquery as cq


@cache
def good_texts() -> tuple[str, ...]:
    """STEP texts of eight small parts."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.step"
        texts = []
        for part in _parts():
            cq.exporters.export(part, str(path))
            texts.append(path.read_text())
    return tuple(texts)


def _parts() -> list[cq.Workplane]:
    box = cq.Workplane().box(60, 40, 20)
    return [
        box,
        box.faces(">Z").workplane().hole(8),
        box.faces(">Z").workplane().cboreHole(6, 11, 6.4),
        box.faces(">Z").workplane().cskHole(5, 11, 90),
        box.faces(">Z").workplane().rect(30, 20).cutBlind(-8).edges("|Z").fillet(3),
        box.edges("|Z").fillet(6).faces(">Z").edges().chamfer(1),
        cq.Workplane().circle(20).extrude(15).faces(">Z").workplane().polarArray(12, 0, 360, 5).hole(4),
        cq.Workplane("XZ")
        .moveTo(10, 0)
        .spline([(20, 8), (14, 16), (22, 24)], includeCurrent=True)
        .lineTo(10, 24)
        .close()
        .revolve(360, (0, 0), (0, 1)),
    ]
