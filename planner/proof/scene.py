"""What the operations are cut in: the part's faces, the raw block and the features, all in the part's own frame."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.plane import Plane, plane_of
from planner.proof.rays import Array
from planner.proof.regions import Region, region_of
from shared.features import Edge, Feature, FeaturesDocument, View
from shared.plan import Operation, PlanDocument, Setup
from shared.shape import Shape
from shared.units import Vector

T = TypeVar("T")
SAME = 1.0 - 1e-5
"""Cosine from which two directions are one."""
LEANS = (2e-3, 0.98)
"""Cosine between a face's normal and the direction between which it is a leaning wall."""
SAME_DRAFT = 0.01
"""Radians that walls round an island may lean differently."""
LEVEL = 0.02
"""Mm: levels that differ by less are one."""


@dataclass(frozen=True)
class Scene:
    """The part and its block.

    frame: (3, 3), rows are the part's own axes. corners: (m, 3, 3) of the part's triangles in the frame; index: (m, 3)
    numbers of these points; face_of: (m,).
    low, high: (3,) of the part's box; raw_low, raw_high: (3,) of the stock's. tapped: features that get a thread. edges: those to break.
    """

    frame: Array
    corners: Array
    index: Array
    face_of: Array
    low: Array
    high: Array
    raw_low: Array
    raw_high: Array
    features: dict[str, Feature]
    tapped: frozenset[str] = frozenset()
    edges: dict[int, Edge] = field(default_factory=dict)
    normals: Array = field(init=False)
    _made: dict[Hashable, Any] = field(init=False, repr=False, compare=False, default_factory=dict)

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, made at the first call with this key."""
        if key not in self._made:
            self._made[key] = make()
        found: T = self._made[key]
        return found

    def __post_init__(self) -> None:
        a, b, c = np.moveaxis(self.corners, 1, 0)
        n = np.cross(b - a, c - a)
        size = np.linalg.norm(n, axis=1, keepdims=True)
        object.__setattr__(self, "normals", n / np.where(size > 0, size, 1.0))

    def plane(self, direction: Vector) -> Plane:
        """The plane across a direction given in the part's coordinates."""
        return plane_of(self.frame @ np.array(direction))

    def rectangle(self, plane: Plane, raw: bool = True) -> BaseGeometry:
        """The block seen along a direction: of a slanted one the outline of its corners."""
        low, high = (self.raw_low, self.raw_high) if raw else (self.low, self.high)
        grid = np.array([[p[k] for k, p in enumerate(pick)] for pick in _corner_picks(low, high)])
        return shapely.MultiPoint(plane.flat(grid)).convex_hull

    def triangles(self, faces: list[int]) -> Array:
        """Indices of the triangles of faces, rising."""
        order, numbers, starts = self.once("by face", self._by_face)
        at = np.searchsorted(numbers, np.unique(faces))
        at = at[np.isin(numbers[np.minimum(at, max(len(numbers) - 1, 0))], faces)] if len(numbers) else at[:0]
        rows = [order[starts[k] : starts[k + 1]] for k in at]
        return rows[0] if len(rows) == 1 else np.sort(np.concatenate([order[:0], *rows]))

    def _by_face(self) -> tuple[Array, Array, Array]:
        """Triangles face by face, the faces' numbers, and where each one's triangles begin (and the last one's end)."""
        order = np.argsort(self.face_of, kind="stable")
        numbers, starts = np.unique(self.face_of[order], return_index=True)
        return order, numbers, np.append(starts, len(order))

    def face_boxes(self) -> tuple[dict[int, list[float]], dict[int, list[float]]]:
        """Lower and upper corner of the box round each face that has triangles."""
        order, numbers, starts = self.once("by face", self._by_face)
        if not len(numbers):
            return {}, {}
        ends = (np.minimum, self.corners.min(axis=1)), (np.maximum, self.corners.max(axis=1))
        low, high = (least.reduceat(x[order], starts[:-1], axis=0).tolist() for least, x in ends)
        return dict(zip(numbers.tolist(), low, strict=True)), dict(zip(numbers.tolist(), high, strict=True))

    def draft_along(self, ring: BaseGeometry, faces: list[int], plane: Plane) -> float:
        """Radians that faces which reach up to a ring lean away from the direction; 0 where they stand upright or differ."""
        chosen = self.triangles(faces)
        up = plane.levels(self.normals[chosen])
        chosen = chosen[(up > LEANS[0]) & (up < LEANS[1])]
        flat, levels = (
            plane.flat(self.corners[chosen].reshape(-1, 3)).reshape(-1, 3, 2),
            plane.levels(self.corners[chosen]),
        )
        near = shapely.distance(shapely.points(flat), ring) < LEVEL
        top = levels > levels.max(axis=1, keepdims=True) - LEVEL
        own = (near & top).sum(axis=1) == 2
        drafts = np.arcsin(np.clip(plane.levels(self.normals[chosen[own]]), -1.0, 1.0))
        return float(drafts.mean()) if len(drafts) and np.ptp(drafts) < SAME_DRAFT else 0.0

    def inside(self, plane: Plane, places: Array, levels: list[float]) -> Array:
        """(k, levels) whether the part is at places (k, 2) and levels: faces over each, counted with their way."""
        flat, heights = plane.flat(self.corners), plane.levels(self.corners)
        e, f = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
        twice = e[:, 0] * f[:, 1] - e[:, 1] * f[:, 0]
        seen = np.abs(twice) > 1e-9
        flat, heights, e, f, twice = flat[seen], heights[seen], e[seen], f[seen], twice[seen]
        # A tiny odd step keeps places off the edges between triangles.
        p = (places + np.array([1.3e-4, 0.7e-4]))[:, None] - flat[None, :, 0]
        s = (p[..., 0] * f[:, 1] - p[..., 1] * f[:, 0]) / twice
        t = (e[:, 0] * p[..., 1] - e[:, 1] * p[..., 0]) / twice
        hit = (s >= 0.0) & (t >= 0.0) & (s + t <= 1.0)
        at = heights[:, 0] + s * (heights[:, 1] - heights[:, 0]) + t * (heights[:, 2] - heights[:, 0])
        way = np.sign(plane.levels(self.normals[seen]))
        return np.column_stack([np.where(hit & (at > level), way, 0.0).sum(axis=1) > 0.5 for level in levels])

    def view(self, feature: Feature, direction: Vector) -> View | None:
        """The feature's view along a direction."""
        for view in feature.views:
            if float(np.dot(view.direction, direction)) > SAME:
                return view
        return None


def _corner_picks(low: Array, high: Array) -> list[tuple[Array, Array, Array]]:
    ends = (low, high)
    return [(ends[i], ends[j], ends[k]) for i in (0, 1) for j in (0, 1) for k in (0, 1)]


def _square(frame: Array) -> Array:
    """The axes square to each other and of length one again: a document keeps six decimals of them."""
    u, _, v = np.linalg.svd(frame)
    return np.asarray(u @ v)


def scene_of(plan: PlanDocument, features: FeaturesDocument, shape: Shape) -> Scene:
    """The scene of a plan."""
    return Scenes(features, shape).of(plan)


class Scenes:
    """The scenes of several plans of one part: what one plan had made in its scene, the next one finds there."""

    def __init__(self, features: FeaturesDocument, shape: Shape) -> None:
        self._features, self._shape = features, shape
        self._known: dict[tuple[tuple[float, ...], frozenset[str]], Scene] = {}

    def of(self, plan: PlanDocument) -> Scene:
        """The scene of a plan."""
        tapped = frozenset(f for s in plan.setups for op in s.operations if op.kind == "tapping" for f in op.features)
        key = tuple(plan.job.stock.allowance), tapped
        if key not in self._known:
            self._known[key] = self._scene(*key)
        return self._known[key]

    def _scene(self, allowance: tuple[float, ...], tapped: frozenset[str]) -> Scene:
        part, shape = self._features.part, self._shape
        frame = _square(np.array(part.frame))
        extra = np.array(allowance).reshape(3, 2)
        low, high = np.array(part.frame_box.min), np.array(part.frame_box.max)
        return Scene(
            frame,
            shape.corners() @ frame.T,
            shape.triangles,
            shape.faces,
            low,
            high,
            low - extra[:, 0],
            high + extra[:, 1],
            {f.id: f for f in self._features.features},
            tapped,
            {e.index: e for e in self._features.edges},
        )


@dataclass(frozen=True)
class Job:
    """One operation on one feature (or on none), in its setup."""

    scene: Scene
    setup: Setup
    operation: Operation
    plane: Plane
    feature: Feature | None
    view: View | None

    @property
    def bottom(self) -> float:
        """Lowest level of the full diameter, break-through included."""
        return self.operation.levels.bottom - self.operation.levels.break_through

    @property
    def region(self) -> Region:
        """What the view's outline encloses, and its walls."""
        view, feature = self.view, self.feature
        assert view is not None and feature is not None
        key = ("region", feature.id, self.setup.direction)
        return self.scene.once(
            key, lambda: self._with_leaning_islands(region_of(view, self.plane, self.scene.frame, self._solid))
        )

    def _with_leaning_islands(self, region: Region) -> Region:
        """Islands' walls lean too, but no side of the view says so: the feature's own faces do."""
        feature = self.feature
        rings = [ring for p in shapely.get_parts(region.area) if p.geom_type == "Polygon" for ring in p.interiors]
        if not rings or feature is None or (self.view and self.view.kind == "planar_face"):
            return region
        drafts = [(shapely.LineString(r.coords), self.scene.draft_along(r, feature.faces, self.plane)) for r in rings]
        leans = tuple((ring, draft) for ring, draft in drafts if draft > 0.0)
        return replace(region, leans=region.leans + leans, _centres={}) if leans else region

    def _solid(self, places: Array) -> bool:
        """Whether the part stands at most of some places (k, 2) between the view's levels."""
        assert self.view is not None
        levels = [self.view.bottom + share * (self.view.top - self.view.bottom) for share in (0.1, 0.5)]
        return len(places) > 0 and bool(self.scene.inside(self.plane, places, levels).any(axis=1).mean() > 0.5)

    @property
    def own_faces(self) -> list[int]:
        """Faces that the operation brings to size, of several features its own ones; else all of its feature."""
        faces = self.operation.faces
        if self.feature and len(self.operation.features) > 1:
            faces = [f for f in faces if f in self.feature.faces]
        return faces or (self.feature.faces if self.feature else [])


def jobs_of(scene: Scene, setup: Setup, operation: Operation) -> list[Job]:
    """An operation feature by feature."""
    plane = scene.plane(setup.direction)
    names = operation.features or [None]  # type: ignore[list-item]
    out = []
    for name in names:
        feature = scene.features.get(name) if name else None
        view = scene.view(feature, setup.direction) if feature else None
        out.append(Job(scene, setup, operation, plane, feature, view))
    return out
