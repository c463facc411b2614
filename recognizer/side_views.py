"""Side views: a flat side of the part's box seen edge-on, where a cutter passing beside the part can mill it as a wall."""

from __future__ import annotations

from recognizer.rule import Claim, Context
from recognizer.vector import add, cross, dot, scale
from shared.features import Side, View
from shared.units import Vector


def side_views(ctx: Context, claim: Claim) -> list[View]:
    """Views of a box side along the four main directions square to it.

    Nothing of the part stands beyond its box, so the way beside it is always free: the wall is reached whole.
    """
    if not all(f in ctx.box_faces for f in claim.faces):
        return []
    return [_view(ctx, claim, d) for d in ctx.frame.directions if abs(dot(d, claim.direction)) < 0.5]


def _view(ctx: Context, claim: Claim, d: Vector) -> View:
    low, high = ctx.span(claim.faces, d)
    across = cross(d, claim.direction)
    a, b = ctx.span(claim.faces, across)
    level = ctx.faces[min(claim.faces)].surface.offset
    start, end = (add(add(scale(across, x), scale(claim.direction, level)), scale(d, low)) for x in (a, b))
    return View(
        direction=d,
        kind="outside_profile",
        reachable=True,
        reach_share=1.0,
        top=high,
        bottom=low,
        depth=high - low,
        through=True,
        bottom_condition="through",
        profile="linear",
        sides=[Side(open=False, faces=sorted(claim.faces), edges=[], length=b - a, start=start, end=end)],
        closed_sides=1,
        length=b - a,
        width=0.0,
        region_area=0.0,
    )
