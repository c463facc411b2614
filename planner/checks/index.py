"""The plan and the features document side by side, looked up by id. Knows no solver and no recipe."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

from shared.features import HOLE_KINDS, Feature, FeaturesDocument, View
from shared.findings import Finding
from shared.plan import Operation, PlanDocument, Setup
from shared.tolerances import DEFAULT
from shared.units import Vector

LEVEL = DEFAULT.near_miss_mm
"""Mm by which two levels may differ and still be one."""
DIAMETER = 0.02
"""Mm by which two diameters may differ and still be one."""


def dot(a: Vector, b: Vector) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def same(a: Vector, b: Vector) -> bool:
    """Whether two unit vectors are one direction: under about 0.26 degrees apart."""
    return dot(a, b) > 1.0 - 1e-5


def fault(code: str, message: str, *, features: list[str] | None = None, faces: list[int] | None = None) -> Finding:
    """A violation."""
    return Finding(code=code, severity="error", message=message, features=features or [], faces=faces or [])


@dataclass(frozen=True)
class Placed:
    """An operation with its place: running number in the plan, setup, number of the setup."""

    number: int
    setup: Setup
    setup_number: int
    op: Operation

    @property
    def deepest(self) -> float:
        """Level that the cutter goes down to, break-through included."""
        return self.op.levels.bottom - self.op.levels.break_through

    @property
    def breaks_edges(self) -> bool:
        """Whether it serves edges only."""
        return bool(self.op.edges) and not self.op.features


@dataclass(frozen=True)
class Index:
    """Both documents with the look-ups that the checks share."""

    plan: PlanDocument
    document: FeaturesDocument
    _by_side: dict[Vector, list[Feature]] = field(default_factory=dict, init=False, repr=False, compare=False)
    """Answers of side_features() by direction."""

    @cached_property
    def placed(self) -> list[Placed]:
        """Operations in cutting order."""
        out: list[Placed] = []
        for k, setup in enumerate(self.plan.setups):
            for op in setup.operations:
                out.append(Placed(len(out), setup, k, op))
        return out

    @cached_property
    def features(self) -> dict[str, Feature]:
        """Features by id."""
        return {f.id: f for f in self.document.features}

    @cached_property
    def by_feature(self) -> dict[str, list[Placed]]:
        """Operations that cut each feature, in order."""
        out: dict[str, list[Placed]] = {}
        for p in self.placed:
            for name in p.op.features:
                out.setdefault(name, []).append(p)
        return out

    @cached_property
    def unplanned(self) -> set[str]:
        """Features that the plan says it does not cut."""
        return {u.feature for u in self.plan.unplanned}

    def view(self, feature: str, direction: Vector) -> View | None:
        """The feature's reachable view from a direction; of a hole also one that only its own narrower step shuts."""
        known = self.features.get(feature)
        if known is None:
            return None
        here = [v for v in known.views if same(v.direction, direction)]
        own = [v for v in here if known.kind in HOLE_KINDS and v.through and len(v.blocked_by) > 0]
        shut = [v for v in own if set(v.blocked_by) <= set(known.faces)]
        return next((v for v in [*(v for v in here if v.reachable), *shut]), None)

    def views(self) -> Iterator[tuple[Placed, str, View]]:
        """Each (operation, feature, view) where the operation cuts the feature from a reachable direction."""
        for p in self.placed:
            for name in p.op.features:
                view = self.view(name, p.setup.direction)
                if view is not None:
                    yield p, name, view

    def parents(self, feature: str) -> list[str]:
        """Features that must be cut before; what is itself not cut passes on what it waited for."""
        out: list[str] = []
        queue, seen = list(self.features[feature].inside), {feature}
        while queue:
            name = queue.pop(0)
            if name in seen or name not in self.features:
                continue
            seen.add(name)
            if name in self.by_feature:
                out.append(name)
            else:
                queue += self.features[name].inside
        return out

    def said(self, code: str) -> list[Finding]:
        """The plan's own findings of a code."""
        return [f for f in self.plan.findings if f.code == code]

    def box_level(self, direction: Vector) -> float | None:
        """Level of the part's box along one of its own axes; None for another direction."""
        part = self.document.part
        for axis, low, high in zip(part.frame, part.frame_box.min, part.frame_box.max, strict=True):
            if abs(dot(axis, direction)) > 1.0 - 1e-5:
                return high if dot(axis, direction) > 0 else -low
        return None

    def flat_level(self, faces: list[int], direction: Vector) -> float | None:
        """Level of faces that are plane and square to a direction along one of the part's own axes, as their boxes tell."""
        boxes = [f.box for f in self.document.faces if f.index in faces and f.surface == "plane"]
        for i, axis in enumerate(self.document.part.frame):
            if abs(dot(axis, direction)) > 1.0 - 1e-5 and len(boxes) == len(faces):
                levels = [x for box in boxes for x in ((box.min[i], box.max[i]) if box else (-1e9, 1e9))]
                if levels and max(levels) - min(levels) < LEVEL:
                    return levels[0] if dot(axis, direction) > 0 else -levels[0]
        return None

    def allowance(self, direction: Vector) -> float:
        """Raw layer of the stock on the side that a direction looks out of; 0 for a tilted direction."""
        for i, axis in enumerate(self.document.part.frame):
            if abs(dot(axis, direction)) > 1.0 - 1e-5:
                return self.plan.job.stock.allowance[2 * i + (1 if dot(axis, direction) > 0 else 0)]
        return 0.0

    def side_features(self, direction: Vector) -> list[Feature]:
        """Planar faces that lie on the part's box and look along a direction."""
        if direction not in self._by_side:
            self._by_side[direction] = self._side_features(direction)
        return self._by_side[direction]

    def _side_features(self, direction: Vector) -> list[Feature]:
        level = self.box_level(direction)
        if level is None:
            return []
        return [
            f
            for f in self.document.features
            if f.kind == "planar_face"
            and any(same(v.direction, direction) and v.kind == "planar_face" and abs(v.bottom - level) <= LEVEL for v in f.views)
        ]  # fmt: skip
