"""Stand-ins for the recognizer, so that the measuring itself can be tested: files hold documents instead of STEP."""

from __future__ import annotations

import os
import time
from math import cos, pi, sin
from pathlib import Path
from typing import Any

from shared.features import Closure, Face, Feature, FeaturesDocument, Part, Side, View
from shared.units import Vector


def from_json(path: str) -> FeaturesDocument:
    """The document in the file; a file that says `crash`, `hang` or `raise` does so."""
    text = Path(path).read_text()
    if text == "crash":
        os._exit(11)
    if text == "hang":
        time.sleep(60)
    if text == "raise":
        raise ValueError("no such part")
    return FeaturesDocument.from_json(text)


def document(surfaces: list[str], features: list[Feature], size: float = 10.0) -> FeaturesDocument:
    """A document of a cube with one face for each surface kind."""
    box: dict[str, Any] = {"min": (0.0, 0.0, 0.0), "max": (size, size, size)}
    part = {"file": "x", "sha256": "", "unit": "mm", "bounding_box": box, "volume": 1.0, "solids": 1}
    axes = [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)]
    owner = {i: f.id for f in features for i in f.faces}
    return FeaturesDocument(
        part=Part(**part, frame=axes, frame_box=box),
        faces=[Face(index=i, surface=s, area=1.0, feature=owner.get(i)) for i, s in enumerate(surfaces)],
        features=features,
        closure=Closure(stock_volume=1.0, part_volume=1.0, removed=0.0, unexplained=0.0, method="fake"),
    )


def cut(kind: str, sides: list[Side], faces: list[int], floor: bool, **more: Any) -> Feature:
    """A feature seen from +z; its last face is the floor if it has one."""
    view = View(
        direction=(0.0, 0.0, 1.0),
        kind=kind,  # type: ignore[arg-type]
        reachable=True,
        reach_share=1.0,
        top=10.0,
        bottom=5.0,
        depth=5.0,
        through=not floor,
        sides=sides,
        outline=[[s.start for s in sides]],
        islands=more.pop("islands", 0),
    )
    walls = faces[:-1] if floor else faces
    condition = "planar" if floor else "through"
    given: dict[str, Any] = {"bottom_condition": condition, "walls": walls, "bottom": faces[len(walls) :], **more}
    given |= {"open_sides": sum(s.open for s in sides), "closed_sides": sum(not s.open for s in sides)}
    return Feature(id="f1", kind=kind, faces=faces, views=[view], because=["fake"], **given)  # type: ignore[arg-type]


def outline(points: list[tuple[float, float]], open_: tuple[int, ...] = ()) -> list[Side]:
    """Straight sides through `points` and back; those numbered in `open_` are open."""
    ends = points[1:] + points[:1]
    return [side(a, b, n, n in open_) for n, (a, b) in enumerate(zip(points, ends, strict=True))]


def side(a: tuple[float, float], b: tuple[float, float], face: int, open_: bool = False, arc: float = 0.0) -> Side:
    """A side from a to b, straight or an arc of `arc` degrees."""
    chord = ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
    angle = arc * pi / 180
    radius = chord / 2 / sin(angle / 2) if arc else None
    start: Vector = (a[0], a[1], 5.0)
    end: Vector = (b[0], b[1], 5.0)
    faces = [] if open_ else [face]
    length = radius * angle if radius else chord
    return Side(open=open_, faces=faces, edges=[], length=length, start=start, end=end, radius=radius)


def ring(n: int, radius: float = 2.0, turn: float = 0.3) -> list[tuple[float, float]]:
    """Corners of a regular polygon round (5, 5)."""
    angles = [turn + 2 * pi * k / n for k in range(n)]
    return [(5 + radius * cos(a), 5 + radius * sin(a)) for a in angles]
