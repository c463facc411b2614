"""Closure: what the features remove plus the part is the stock."""

from __future__ import annotations

from recognizer.rule import Context
from shared.features import Closure, Feature
from shared.findings import Finding


def closure_of(ctx: Context, features: list[Feature]) -> tuple[Closure, dict[str, float], list[Finding]]:
    """Closure figures, the removal volume of each feature in mm3 by id, and findings where too much is unexplained."""
    volumes = {f.id: _prism(f) for f in features}
    stock, part = ctx.frame.volume, ctx.snapshot.volume
    removed = sum(volumes.values())
    closure = Closure(
        stock_volume=stock,
        part_volume=part,
        removed=removed,
        unexplained=abs(stock - part - removed),
        method="sum of prisms, overlaps counted twice",
    )
    return closure, volumes, []


def _prism(f: Feature) -> float:
    if not f.views or f.kind in ("planar_face", "chamfer", "edge_round", "region", "enclosed_void"):
        return 0.0
    v = f.views[0]
    return (v.region_area or 0.0) * v.depth
