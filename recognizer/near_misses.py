"""Near misses: what is almost something else, said with the figure by which it is not.

Models drawn by hand or converted often miss a shared axis or level by hundredths; the maker usually meant it equal.
"""

from __future__ import annotations

from recognizer.near_sizes import near_angles, near_diameters, near_levels
from recognizer.rule import Claim, Context
from recognizer.vector import cross, dot, length, scale, sub
from shared.features import HOLE_KINDS
from shared.findings import Finding


def near_misses(ctx: Context) -> list[Finding]:
    """Findings for what is almost on one axis, at one level, square or parallel, or of one diameter."""
    return [*_near_axes(ctx), *near_levels(ctx), *near_angles(ctx), *near_diameters(ctx)]


def _near_axes(ctx: Context) -> list[Finding]:
    """Holes that touch and are almost, but not quite, on one axis."""
    holes = [c for c in ctx.claims if c.kind in HOLE_KINDS and c.axis_point]
    owner = {f: k for k, c in enumerate(holes) for f in c.faces}
    seen: set[tuple[int, int]] = set()
    found = []
    for k, hole in enumerate(holes):
        for other in sorted(_touching(ctx, hole, owner) - {k}):
            pair = (min(k, other), max(k, other))
            if pair in seen:
                continue
            seen.add(pair)
            gap = _off_axis(hole, holes[other])
            if gap is not None and 2 * ctx.tol.length_mm < gap <= NEAR * ctx.tol.near_miss_mm:
                found.append(_finding(hole, holes[other], gap))
    return found


NEAR = 4
"""Axes up to this many times `near_miss_mm` apart are worth a word: 0.2 mm."""


def _touching(ctx: Context, hole: Claim, owner: dict[int, int]) -> set[int]:
    """Holes that share an edge with this one, or a face between them."""
    beside = {n for f in hole.faces for n, _, _ in ctx.graph.links(f)}
    across = {m for n in beside if n not in ctx.box_faces for m, _, _ in ctx.graph.links(n)}
    return {owner[f] for f in beside | across if f in owner}


def _off_axis(a: Claim, b: Claim) -> float | None:
    """Distance between two parallel axes in mm; None where they are not parallel."""
    if a.axis_point is None or b.axis_point is None or length(cross(a.direction, b.direction)) > 2e-3:
        return None
    rel = sub(b.axis_point, a.axis_point)
    return length(sub(rel, scale(a.direction, dot(rel, a.direction))))


def _finding(a: Claim, b: Claim, gap: float) -> Finding:
    sizes = sorted((a.dimensions["diameter"], b.dimensions["diameter"]))
    return Finding(
        code="near_miss_axis",
        severity="warning",
        message=(
            f"would be one hole of {sizes[1]:.4g} over {sizes[0]:.4g} mm, "
            f"but the two cylinders are {gap:.3g} mm off axis: planned as two holes"
        ),
        hint="if one axis was meant, correct the model; else keep them as two holes",
        faces=sorted(a.faces | b.faces),
    )
