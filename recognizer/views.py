"""Views: a claim read along every direction from which nothing of it faces away.

The sides decide the kind (see the vocabulary in DEVELOPERS.md): no open side, closed_pocket; no closed side,
planar_face; one straight wall, step; two facing parallel walls with both ends open, slot; else open_pocket.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from recognizer.bodies import Reading, candidate_directions, is_convex, read
from recognizer.ceilings import ceilings
from recognizer.extents import extents
from recognizer.forms import any_inside, draft_of, facing, profile_of, round_floor
from recognizer.gaps import circles_of, widest_cutter
from recognizer.outline import Outline, Plane2, Run
from recognizer.outline_convex import convex_outline
from recognizer.outline_traced import traced_outline
from recognizer.radii import corner_radius, floor_radius, is_upright
from recognizer.rule import Context
from recognizer.tilts import FLAT, tilt
from recognizer.vector import dot
from shared.features import HOLE_KINDS, Side, View
from shared.units import Vector

SLIVER_SHARE = 1e-5
"""Of the largest region that another direction sees: less is the walls' own roundness or rounding."""
SLIVER_MM2 = 1e-3
"""A region no larger is noise between edges that lie on one another when seen end-on: it shows no side."""


@dataclass
class Look:
    """A body read along one direction, with its outline; what a view is made from."""

    reading: Reading
    outline: Outline
    low: float
    high: float
    blocked: tuple[float, list[int]] | None = None
    """Filled on demand by `in_the_way`."""

    @property
    def d(self) -> Vector:
        """Direction."""
        return self.reading.d

    @property
    def through(self) -> bool:
        """No floor and no leaning face: the cut goes right through along d."""
        return not self.reading.floors and not self.reading.leans

    @property
    def kind(self) -> str:
        """Kind by the sides."""
        closed, opens = self.outline.closed, self.outline.opens
        straight = [r for r in closed if r.radius is None and not r.ball]
        if len(straight) == len(closed) == 2 and (len(opens) < 2 or self._two_leans) and not self.reading.floors:
            return "slot"  # two planes cannot shut a ring: they lean together to a vee that runs out at its ends
        if not opens:
            return "closed_pocket" if closed or self.through else "planar_face"
        if not closed:
            return "planar_face"
        if len(closed) == 1:
            return "step" if straight else "open_pocket"
        if len(closed) == 2 and facing(closed[0], closed[1]) and len(opens) >= 2:
            return "slot"
        return "open_pocket"

    @property
    def _two_leans(self) -> bool:
        return len(self.reading.leans) >= 2 and not self.reading.walls

    @property
    def rank(self) -> tuple[int, bool, float, float]:
        """Order of preference for naming: floor and upright walls or a ring of walls, then leaning, then end views; of
        these first what any end mill leaves: radii in upright corners, not along the floor.
        """
        r = self.reading
        if r.floors and not set(r.leans) - r.blends or self.through and not self.outline.opens:
            first = 0
        elif r.floors or r.leans:
            first = 1
        else:
            first = 2
        return (first, not r.blends.isdisjoint(r.leans), round(self.high - self.low, 4), -round(self.outline.area, 4))


def looks(ctx: Context, faces: frozenset[int]) -> list[Look]:
    """The body along every candidate direction in which none of its faces faces away, best for naming first."""
    if faces in ctx.looks:
        return ctx.looks[faces]
    convex = is_convex(ctx, faces)
    found = []
    for d in candidate_directions(ctx, faces):
        reading = read(ctx, faces, d)
        if reading.under:
            continue
        outline = convex_outline(ctx, reading) if convex else traced_outline(ctx, reading)
        low, high = ctx.span(faces, d)
        if reading.floors and not reading.leans:  # a strip on the floor's rim shows more of the walls, below the floor
            low = ctx.span(reading.floors, d)[0]
        found.append(Look(reading, outline, low, high))
    least = max([SLIVER_MM2, *(SLIVER_SHARE * k.outline.area for k in found)])
    found = [k for k in found if k.outline.area > least] or found
    main = ctx.frame.directions
    ctx.looks[faces] = sorted(
        found,
        key=lambda k: (
            0 if _even_vee(ctx, k) else k.rank[0],
            not any(dot(k.d, m) > 1 - 1e-6 for m in main),
            *k.rank[1:],
        ),
    )
    return ctx.looks[faces]


def _even_vee(ctx: Context, look: Look) -> bool:
    """Two planes that lean evenly from a direction: a vee, though from one of their normals it reads as a step."""
    r = look.reading
    if len(r.leans) != 2 or r.floors or r.walls or len(look.outline.closed) != 2:
        return False
    (a, up), (b, _) = (tilt(ctx, f, look.d) for f in r.leans)
    plane = all(ctx.faces[f].kind == "plane" for f in r.leans)
    return plane and abs(a - b) < 1e-4 and up < 1 - FLAT and look.kind == "slot"


def view_of(ctx: Context, look: Look) -> View:
    """The document's view of a look."""
    r, d = look.reading, look.d
    own = frozenset(r.floors + r.walls + r.leans)
    top = max(look.high, blend_top(ctx, own, d, look.high))
    share, blockers = in_the_way(ctx, look)
    length, width = extents(ctx, look.outline, r)
    if look.kind != "step" and width > length:
        length, width = width, length
    gap, largest = widest_cutter(look.outline, circles_of(ctx, r))
    corner, corners = corner_radius(ctx, look)
    return View(
        direction=d,
        kind=look.kind,  # type: ignore[arg-type]
        reachable=share <= ctx.tol.share,
        reach_share=max(0.0, 1.0 - share),
        blocked_by=sorted(blockers),
        top=top,
        bottom=look.low,
        depth=top - look.low,
        through=look.through,
        bottom_condition=_bottom_condition(ctx, look),
        profile=profile_of(ctx, look),
        sides=[_side(ctx, run, look) for run in look.outline.runs],
        open_sides=len(look.outline.opens),
        closed_sides=len(look.outline.closed),
        length=length,
        width=width,
        region_area=look.outline.area,
        outline=rings(look),
        corner_radius=corner,
        corner_count=corners,
        floor_radius=floor_radius(ctx, look),
        narrowest_gap=gap,
        largest_cutter=largest,
        islands=_islands(look),
    )


def in_the_way(ctx: Context, look: Look) -> tuple[float, list[int]]:
    """(blocked share, blocking faces) of what a look sees."""
    if look.blocked is None:
        own = frozenset(look.reading.floors + look.reading.walls + look.reading.leans)
        share, blockers = ceilings(ctx, look.d).over(look.outline, look.low, own)
        look.blocked = (share, blockers) if any_inside(ctx, blockers, own) and blockers else (0.0, [])
    return look.blocked


def blend_top(ctx: Context, own: frozenset[int], d: Vector, high: float) -> float:
    """Level that chamfers and rounds on the feature's rim reach: they were sharp edges when it was cut."""
    top = high
    for claim in ctx.claims:
        if claim.kind in ("chamfer", "edge_round"):
            for f in claim.faces:
                low, up = ctx.extent(f, d)
                if abs(low - high) < 4 * ctx.tol.length_mm and any(n in own for n, _, _ in ctx.graph.links(f)):
                    top = max(top, up)
    return top


def _bottom_condition(ctx: Context, look: Look) -> str:
    if look.through:
        return "through"
    if not look.reading.floors:
        return "radiused" if round_floor(ctx, look) else "general"
    return "planar"  # ISO 14649-10: a plane floor with a radius at its walls stays planar


def _islands(look: Look) -> int:
    if look.outline.ring is not None or look.outline.is_empty:
        return 0
    region = look.outline.region
    return sum(
        len(p.interiors) for p in (region.geoms if hasattr(region, "geoms") else [region]) if p.geom_type == "Polygon"
    )


def _side(ctx: Context, run: Run, look: Look) -> Side:
    plane = Plane2(look.d)
    floor = set(look.reading.floors)
    edges = []
    if run.faces:
        edges = sorted({e for f in run.faces for n, e, _ in ctx.graph.links(f) if n in floor})
    else:
        edges = _open_edges(ctx, run, look, plane)
    draft = draft_of(ctx, run.faces[0], look.d) if run.faces and run.faces[0] in look.reading.leans else 0.0
    return Side(
        open=run.open,
        faces=run.faces,
        edges=edges,
        length=run.length,
        start=plane.back(run.points[0], look.low),
        end=plane.back(run.points[-1], look.low),
        radius=run.radius if run.radius and is_upright(ctx, run, look.d) else None,
        corner=run.corner,
        draft=draft,
    )


def _open_edges(ctx: Context, run: Run, look: Look, plane: Plane2) -> list[int]:
    """Convex edges of the floor that lie along an open side."""
    (x0, y0), (x1, y1) = run.points[0], run.points[-1]
    size = hypot(x1 - x0, y1 - y0) or 1.0
    n = (-(y1 - y0) / size, (x1 - x0) / size)
    found = []
    for f in look.reading.floors:
        for _, e, sign in ctx.graph.links(f):
            if sign != "convex":
                continue
            q = plane.at(ctx.snapshot.edges[e].middle)
            if abs((q[0] - x0) * n[0] + (q[1] - y0) * n[1]) < 10 * ctx.tol.length_mm:
                found.append(e)
    return sorted(found)


def rings(look: Look) -> list[list[Vector]]:
    """The region's closed rings at its bottom level, in the part's coordinates."""
    plane = Plane2(look.d)
    return [[plane.back(q, look.low) for q in ring] for ring in look.outline.rings]


__all__ = ["HOLE_KINDS", "Look", "looks", "profile_of", "view_of"]
