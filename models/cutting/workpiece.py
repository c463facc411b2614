"""The block, what is left of it, and the record of what was cut."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import cadquery as cq

from models.cutting.frame import Vec, box, vector_of
from models.cutting.stepfile import write_step

FOLDER = Path(__file__).parent.parent


class Workpiece:
    """A block with one corner at the origin; `size` in mm."""

    def __init__(self, part: str, size: Vec, note: str, schema: str = "AP214", unit: str = "mm") -> None:
        """`schema` is AP203, AP214 or AP242; `unit` is the file's, mm or inch: all arguments here are mm."""
        self.part, self.size, self.note, self.schema, self.unit = part, size, note, schema, unit
        self.solid: cq.Shape = box((0.0, 0.0, 0.0), size)
        self.features: list[dict[str, Any]] = []
        self.patterns: list[dict[str, Any]] = []
        self.volume: float | None = math.prod(size)
        self.ambiguous = False
        self._turns: list[tuple[Vec, float]] = []
        self._move: Vec = (0.0, 0.0, 0.0)

    def add(
        self, name: str, kind: str, directions: Sequence[str | Vec], dimensions: dict[str, float], **more: Any
    ) -> None:
        """Write one feature down; `more` may give count, open_sides, closed_sides, bottom_condition, bores."""
        bores = {"bores": more["bores"]} if "bores" in more else {}
        self.features.append(
            {
                "name": name,
                "kind": kind,
                "directions": [vector_of(d) if isinstance(d, str) else d for d in directions],
                "count": more.get("count", 1),
                "dimensions": dimensions,
                "open_sides": more.get("open_sides"),
                "closed_sides": more.get("closed_sides"),
                "bottom_condition": more.get("bottom_condition"),
            }
            | bores
        )

    def pattern(self, kind: str, *names: str) -> None:
        """Say that the holes of these entries stand together in a circular, rectangular or general pattern.

        A row is a rectangular pattern of one row (ISO 14649-10: the number of rows is optional). Four equally spaced
        on a circle are a square too: the record calls them circular, and both names are right.
        """
        self.patterns.append({"kind": kind, "features": list(names)})

    def remove(self, tool: cq.Shape, volume: float | None) -> None:
        """Cut the tool away; `volume` is what it takes by arithmetic, None if there is no formula."""
        self.solid = self.solid.cut(tool)
        self.less(volume)

    def less(self, volume: float | None) -> None:
        """Book a removed volume."""
        self.volume = None if self.volume is None or volume is None else self.volume - volume

    def turn(self, axis: Vec, degrees: float) -> None:
        """Turn the finished part about an axis through the origin, and its record with it."""
        self._turns.append((axis, degrees))

    def move(self, by: Vec) -> None:
        """Move the finished part, after all turns."""
        self._move = by

    def save(self, folder: Path = FOLDER) -> None:
        """Write `<part>.step` and `<part>.json` into the folder."""
        solid = self.solid.clean()
        for axis, degrees in self._turns:
            solid = solid.rotate((0, 0, 0), axis, degrees)
        solids = solid.translate(cq.Vector(*self._move)).Solids()
        if len(solids) != 1:
            raise ValueError(f"{self.part}: the cuts left {len(solids)} solids instead of one")
        write_step(solids[0], folder / f"{self.part}.step", self.part, self.schema, self.unit)
        text = json.dumps(self.record(len(solids[0].Faces())), indent=1)
        (folder / f"{self.part}.json").write_text(text + "\n", encoding="utf-8")

    def record(self, faces: int) -> dict[str, Any]:
        """The record as it is written."""
        return {
            "part": self.part,
            "unit": self.unit,
            "step_schema": self.schema,
            "note": self.note,
            "ambiguous": self.ambiguous,
            "faces": faces,
            "volume": None if self.volume is None else round(self.volume, 4),
            "features": [self._finished(feature) for feature in self.features],
            "patterns": self.patterns,
        }

    def _finished(self, feature: dict[str, Any]) -> dict[str, Any]:
        directions = [self._turned(direction) for direction in feature["directions"]]
        dimensions = {key: round(float(value), 6) for key, value in feature["dimensions"].items()}
        return feature | {"directions": directions, "dimensions": dimensions}

    def _turned(self, direction: Vec) -> list[float]:
        vector = cq.Vector(*direction)
        for axis, degrees in self._turns:
            vector = _about(vector, cq.Vector(*axis).normalized(), math.radians(degrees))
        return [round(value, 9) + 0.0 for value in vector.toTuple()]


def _about(vector: cq.Vector, axis: cq.Vector, angle: float) -> cq.Vector:
    """The vector turned about a unit axis (Rodrigues)."""
    along = axis * (axis.dot(vector) * (1 - math.cos(angle)))
    return vector * math.cos(angle) + axis.cross(vector) * math.sin(angle) + along
