"""What a rule receives and what it returns."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from recognizer.frame import Frame
from recognizer.graph import PartGraph
from recognizer.snapshot import Face, Snapshot
from recognizer.vector import dot
from shared.features import HoleStep
from shared.findings import Finding
from shared.tolerances import Tolerances
from shared.units import Vector


@dataclass
class Claim:
    """Faces that a rule says are cut together, before claims are settled.

    direction: from where the feature is named; bottom and walls are read in that direction.
    shared: faces that bound this cut too but are owned by another.
    shut: faces that lie in the plane of the cut's mouth and shut it over part of its length; not sides of it.
    """

    kind: str
    faces: frozenset[int]
    direction: Vector
    because: list[str]
    bottom: frozenset[int] = frozenset()
    walls: frozenset[int] = frozenset()
    blends: frozenset[int] = frozenset()
    shut: frozenset[int] = frozenset()
    shared: frozenset[int] = frozenset()
    through: bool = False
    bottom_condition: str | None = None
    profile: str | None = None
    dimensions: dict[str, float] = field(default_factory=dict)
    steps: list[HoleStep] = field(default_factory=list)
    axis_point: Vector | None = None
    findings: list[Finding] = field(default_factory=list)


@dataclass
class Context:
    """The part, its graph and frame, and the claims made so far."""

    snapshot: Snapshot
    graph: PartGraph
    frame: Frame
    tol: Tolerances
    claims: list[Claim] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def forget(self) -> None:
        """Drops all that was found out: some of it refers back here, and only the garbage collector would free it."""
        vars(self).clear()

    @property
    def faces(self) -> tuple[Face, ...]:
        """The solid's faces."""
        return self.snapshot.faces

    @property
    def claimed(self) -> set[int]:
        """Faces that some claim holds."""
        return {f for c in self.claims for f in c.faces}

    def free(self) -> list[int]:
        """Faces that no claim holds, in order."""
        taken = self.claimed
        return [f.index for f in self.faces if f.index not in taken]

    @cached_property
    def box_faces(self) -> dict[int, Vector]:
        """Plane faces that lie on the box of the part and face out of it: face -> the box's direction there."""
        found = {}
        for d, level in zip(self.frame.directions, self._box_levels(), strict=True):
            for f in self.faces:
                s = f.surface
                if (
                    s.kind == "plane"
                    and dot(s.axis, d) > 1 - 1e-6
                    and abs(dot(s.origin, d) - level) < 2 * self.tol.length_mm
                ):
                    found[f.index] = d
        return found

    def _box_levels(self) -> list[float]:
        low, high = self.frame.low, self.frame.high
        return [v for k in range(3) for v in (high[k], -low[k])]

    @cached_property
    def tilts(self) -> dict[tuple[int, Vector], tuple[float, float]]:
        """Filled on demand by `tilts.tilt`."""
        return {}

    @cached_property
    def all_tilts(self) -> dict[Vector, Any]:
        """Filled on demand by `tilts.tilts`."""
        return {}

    @cached_property
    def curved_normals(self) -> Any:
        """Set on demand by `tilts.tilts`."""
        return None

    @cached_property
    def looks(self) -> dict[frozenset[int], list[Any]]:
        """Filled on demand by `views.looks`."""
        return {}

    @cached_property
    def polygons(self) -> dict[tuple[int, Vector], Any]:
        """Filled on demand by `outline.face_polygon`."""
        return {}

    @cached_property
    def box_rings(self) -> dict[Vector, list[tuple[float, float]]]:
        """Filled on demand by `outline.box_ring`."""
        return {}

    @cached_property
    def outside_points(self) -> dict[Vector, list[tuple[float, float]]]:
        """Filled on demand by `outline_convex.convex_outline`."""
        return {}

    @cached_property
    def taken_floors(self) -> dict[int, frozenset[int]]:
        """Filled by the rules of holes and undercuts: a flat floor of theirs -> the other faces of the claim that owns it."""
        return {}

    @cached_property
    def standing(self) -> dict[tuple[tuple[float, ...], float], Any]:
        """Filled on demand by `beside.standing`."""
        return {}

    @cached_property
    def obstacles(self) -> dict[Vector, Any]:
        """Filled on demand by `chamfer_reach.chamfer_passes`."""
        return {}

    @cached_property
    def bodies(self) -> dict[tuple[int, ...], list[frozenset[int]]]:
        """Filled on demand by `bodies.bodies`, by the faces that are left."""
        return {}

    @cached_property
    def convex(self) -> dict[frozenset[int], bool]:
        """Filled on demand by `bodies.is_convex`."""
        return {}

    @cached_property
    def lowest(self) -> dict[tuple[frozenset[int], Vector], float]:
        """Filled on demand by `bodies.one_body`."""
        return {}

    @cached_property
    def lowest_core(self) -> dict[tuple[frozenset[int], Vector], float]:
        """Filled on demand by `bodies.one_body`."""
        return {}

    def extent(self, face: int, d: Vector) -> tuple[float, float]:
        """Lowest and highest level of a face along d, from its edges' points and facets."""
        low, high = self.snapshot.levels(d)
        return low[face], high[face]

    def core_low(self, face: int, d: Vector) -> float:
        """Lowest level of a face along d without the corners that chamfers and rounds beside it have made."""
        if face not in self._core_points:
            points = [p for e in self.snapshot.face_edges[face] for p in self.snapshot.edges[e].points]
            strips = self._strip_points
            self._core_points[face] = [p for p in points if _key(p) not in strips] if strips else points
        return min((dot(p, d) for p in self._core_points[face]), default=float("inf"))

    @cached_property
    def _core_points(self) -> dict[int, list[Vector]]:
        return {}

    @cached_property
    def _strip_points(self) -> set[Vector]:
        strips = {f for c in self.claims if c.kind in ("chamfer", "edge_round") for f in c.faces}
        return {_key(p) for f in strips for e in self.snapshot.face_edges[f] for p in self.snapshot.edges[e].points}

    def span(self, faces: Iterable[int], d: Vector) -> tuple[float, float]:
        """Lowest and highest level of several faces along d."""
        pairs = [self.extent(f, d) for f in faces]
        return min(p[0] for p in pairs), max(p[1] for p in pairs)


def _key(p: Vector) -> Vector:
    return (round(p[0], 4), round(p[1], 4), round(p[2], 4))


Rule = Callable[[Context], list[Claim]]
