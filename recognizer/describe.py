"""Claims -> features of the document: views, dimensions, ids, parents, patterns."""

from __future__ import annotations

from hashlib import sha256
from math import pi

from shapely import MultiPoint, Point, get_coordinates, unary_union
from shapely.geometry.base import BaseGeometry

from recognizer.beside import covering_flat, passing_boss
from recognizer.blends import chains_of
from recognizer.bodies import candidate_directions, read
from recognizer.ceilings import ceilings
from recognizer.outline import Outline, Plane2, Region, box_polygon, edge_lines, face_polygon, points2
from recognizer.outline_traced import between_walls
from recognizer.rule import Claim, Context
from recognizer.side_views import side_views
from recognizer.vector import dot, neg
from recognizer.views import SLIVER_MM2, Look, blend_top, looks, rings, view_of
from shared.features import HOLE_KINDS, POCKET_KINDS, Axis, Feature, View
from shared.tables.load import hole_hints
from shared.units import Vector

MOUTH_BAND = 0.97
"""Share of a bore's radius within which something in the way is looked for: the chords of an oblique mouth's edge cut
into the rest of it, and a straight edge that reaches in no farther covers 0.3 % of the bore."""


def features_of(ctx: Context) -> list[Feature]:
    """All claims as features, in the order of their first face."""
    claims = sorted(ctx.claims, key=lambda c: min(c.faces))
    found = [_feature(ctx, c) for c in claims]
    return _with_ids(ctx, found)


def _feature(ctx: Context, claim: Claim) -> Feature:
    views = _views(ctx, claim)
    first = views[0] if views else None
    return Feature(
        id="",
        kind=claim.kind,  # type: ignore[arg-type]
        faces=sorted(claim.faces),
        bottom=sorted(claim.bottom),
        walls=sorted(claim.walls),
        blends=sorted(claim.blends),
        blend_chains=chains_of(ctx, claim.blends),
        bottom_condition=(claim.bottom_condition or (first.bottom_condition if first else None)),  # type: ignore[arg-type]
        profile=(claim.profile or (first.profile if first else None)),  # type: ignore[arg-type]
        open_sides=first.open_sides if first and claim.kind in POCKET_KINDS else 0,
        closed_sides=first.closed_sides if first and claim.kind in POCKET_KINDS else 0,
        views=views,
        dimensions=claim.dimensions or _dimensions(claim, first),
        axis=Axis(origin=claim.axis_point, direction=claim.direction) if claim.axis_point else None,
        steps=claim.steps,
        hints=hole_hints(claim.dimensions["diameter"]) if claim.kind == "round_hole" else [],
        because=claim.because,
    )


def _dimensions(claim: Claim, view: View | None) -> dict[str, float]:
    if view is None or claim.kind not in (*POCKET_KINDS, "outside_profile"):
        return {}
    out = {"length": view.length or 0.0, "width": view.width or 0.0, "depth": view.depth}
    if view.corner_radius:
        out["corner_radius"] = view.corner_radius
    if view.floor_radius:
        out["floor_radius"] = view.floor_radius
    return out


def _views(ctx: Context, claim: Claim) -> list[View]:
    if claim.kind == "enclosed_void":
        return []
    if claim.kind in HOLE_KINDS:
        return _reachable_first(_hole_views(ctx, claim))
    if claim.kind in POCKET_KINDS:
        views = [view_of(ctx, look) for look in looks(ctx, (claim.faces | claim.shared) - claim.shut)]
        if views:
            views[0] = views[0].model_copy(update={"kind": claim.kind})
        return _reachable_first(views)
    if claim.kind == "outside_profile":
        return _reachable_first([_outline_view(ctx, claim, d) for d in (claim.direction, neg(claim.direction))])
    if claim.kind in ("undercut", "boss"):
        return _reachable_first([_flat_view(ctx, claim, claim.direction)])
    if claim.kind == "planar_face":
        return _reachable_first([_flat_view(ctx, claim, claim.direction), *side_views(ctx, claim)])
    return _reachable_first([_flat_view(ctx, claim, d) for d in _seen_from(ctx, claim.faces)])


def _reachable_first(views: list[View]) -> list[View]:
    return sorted(views, key=lambda v: not v.reachable)


def _seen_from(ctx: Context, faces: frozenset[int]) -> list[Vector]:
    """Directions in which no face of a strip or region faces away."""
    return [d for d in candidate_directions(ctx, faces) if not read(ctx, faces, d).under]


def _flat_view(ctx: Context, claim: Claim, d: Vector) -> View:
    """View of faces that no wall closes in."""
    plane = Plane2(d)

    polygons = [face_polygon(ctx, f, plane) for f in sorted(claim.faces)]
    region = polygons[0] if len(polygons) == 1 else unary_union(polygons)
    region = region.difference(_under_lands(ctx, claim, plane))
    if claim.kind == "undercut" and claim.bottom:  # its floor may run on in a slot that crosses it
        region = region.intersection(MultiPoint(points2(ctx, claim.walls, plane)).convex_hull)
    low, high = ctx.span(claim.faces, d)
    if claim.kind == "undercut" and claim.bottom:
        low = ctx.span(claim.bottom, d)[0]  # a relief in its corner goes deeper
    region_area = region.area
    if region_area < 1e-6:  # seen edge-on: a strip along its own line
        region = edge_lines(ctx, claim.faces, plane).buffer(0.01)
    share, blockers = ceilings(ctx, d).over(Region(region), low, claim.faces | _crossing(ctx, claim))
    reading = read(ctx, claim.faces, d)
    outline = Outline(d, region, [])
    look = Look(reading, outline, low, high)
    minx, miny, maxx, maxy = region.bounds
    sizes = sorted((maxx - minx, maxy - miny))
    passing = _passing(ctx, claim, d, region, low)
    return View(
        direction=d,
        kind=claim.kind,  # type: ignore[arg-type]
        reachable=share <= ctx.tol.share,
        reach_share=max(0.0, 1 - share),
        blocked_by=sorted(blockers),
        top=high,
        bottom=low,
        depth=high - low,
        through=claim.kind != "boss" and not reading.floors and not reading.leans,
        bottom_condition=None,
        length=sizes[1],
        width=sizes[0],
        region_area=region_area,
        outline=rings(look) if claim.kind == "planar_face" else [],
        narrowest_gap=passing,
        largest_cutter=passing if claim.kind == "boss" else None,
    )


def _crossing(ctx: Context, claim: Claim) -> frozenset[int]:
    """Faces of the undercuts that cross an undercut on its own floor: their walls lean over it no more than its own."""
    if claim.kind != "undercut":
        return frozenset()
    kin = (c for c in ctx.claims if c.kind == "undercut" and (c.shared & claim.faces or claim.shared & c.faces))
    return frozenset().union(*(c.faces for c in kin))


def _under_lands(ctx: Context, claim: Claim, plane: Plane2) -> BaseGeometry:
    """What of a shoulder lies in a groove at its foot, under the land beyond: the groove's cutter brings it to size."""
    found = []
    for other in ctx.claims:
        if claim.kind == "planar_face" and "outer_diameter" in other.dimensions and other.shared & claim.faces:
            turned = next(s for s in (ctx.faces[f].surface for f in sorted(other.faces)) if s.kind != "plane")
            found.append(Point(plane.at(turned.origin)).buffer(other.dimensions["outer_diameter"] / 2, quad_segs=18))
    return unary_union(found)


def _passing(ctx: Context, claim: Claim, d: Vector, region: BaseGeometry, low: float) -> float | None:
    """Diameter of the largest cutter that meets nothing beside a flat face or a boss; None for any."""
    if claim.kind == "boss":
        return passing_boss(ctx, claim.faces, d, low)
    flat = claim.kind == "planar_face" and region.area > SLIVER_MM2
    return covering_flat(ctx, region, d, low) if flat else None


def _outline_view(ctx: Context, claim: Claim, d: Vector) -> View:
    """The outside seen along d: the removed region is the part's box without its outline."""

    plane = Plane2(d)
    reading = read(ctx, claim.faces, d)
    inside = between_walls(ctx, reading, plane)
    region = Region(box_polygon(ctx, plane).difference(inside))
    low, high = ctx.span(claim.faces, d)
    top = blend_top(ctx, claim.faces, d, high)
    low = -blend_top(ctx, claim.faces, neg(d), -low)
    share, blockers = ceilings(ctx, d).over(region, low, claim.faces)
    sizes = sorted(
        (b - a for a, b in (_extent_across(ctx, claim, axis, d) for axis in ctx.frame.axes) if b > a), reverse=True
    )
    radii = [ctx.faces[f].surface.radius for f in claim.faces if ctx.graph.hollow(f)]
    sharp = any(sign == "concave" and n in claim.faces for f in claim.faces for n, _, sign in ctx.graph.links(f))
    return View(
        direction=d,
        kind="outside_profile",
        reachable=share <= ctx.tol.share,
        reach_share=max(0.0, 1 - share),
        blocked_by=sorted(blockers),
        top=top,
        bottom=low,
        depth=top - low,
        through=True,
        bottom_condition="through",
        length=sizes[0],
        width=sizes[1],
        region_area=region.area,
        outline=rings(Look(reading, Outline(d, region.region, []), low, top)),
        corner_radius=0.0 if sharp else min(radii) if radii else None,
        narrowest_gap=2 * min(radii) if radii else None,
        largest_cutter=None,
    )


def _extent_across(ctx: Context, claim: Claim, axis: Vector, d: Vector) -> tuple[float, float]:
    return (0.0, 0.0) if abs(dot(axis, d)) > 0.5 else ctx.span(claim.faces, axis)


def _hole_views(ctx: Context, claim: Claim) -> list[View]:
    views = [_hole_view(ctx, claim, claim.direction)]
    if claim.through:
        views.append(_hole_view(ctx, claim, neg(claim.direction)))
    return views


def _hole_view(ctx: Context, claim: Claim, d: Vector) -> View:
    """A hole from one end: from the far end of a counterbore only its bore can be seen, and that is said."""

    plane = Plane2(d)
    point = claim.axis_point or (0.0, 0.0, 0.0)
    own_end = dot(d, claim.direction) > 0
    steps = claim.steps if own_end else claim.steps[::-1]
    widest = max(s.diameter for s in claim.steps)
    mouth = steps[0].diameter
    if not own_end and steps[0].surface == "cone" and all(s.end_diameter > mouth - 1e-3 for s in steps[1:2]):
        mouth = steps[0].end_diameter  # a taper's narrow end
    low, high = ctx.span(claim.faces - claim.blends or claim.faces, d)
    if own_end:
        high = max(high, dot(point, d))
    else:
        low = min(low, dot(point, d))
    if claim.bottom:
        low = min(ctx.span(claim.bottom, d)[0], low)
    shut = widest > mouth + 1e-3  # a wider bore lies behind a narrower one
    centre = Point(plane.at(point))
    region = centre.buffer(mouth / 2, quad_segs=16)
    share, blockers = _blocked(ctx, claim, centre, d, low)
    if shut:
        blockers = sorted({f for s in claim.steps for f in s.faces if s.diameter < widest} | set(blockers))
    bottom = claim.bottom_condition
    return View(
        direction=d,
        kind=claim.kind,  # type: ignore[arg-type]
        reachable=share <= ctx.tol.share and not shut,
        reach_share=0.0 if shut else max(0.0, 1 - share),
        blocked_by=sorted(blockers),
        top=high,
        bottom=min(s for s in [low]) if not claim.bottom else _cylinder_low(claim, low, d),
        depth=high - (_cylinder_low(claim, low, d) if claim.bottom else low),
        through=claim.through,
        bottom_condition=bottom,  # type: ignore[arg-type]
        profile="circular_closed",
        open_sides=0,
        closed_sides=1,
        length=mouth,
        width=mouth,
        region_area=pi * mouth * mouth / 4,
        outline=[[plane.back(q, low) for q in get_coordinates(region).tolist()[:-1]]],
        narrowest_gap=min(s.end_diameter for s in claim.steps),
        largest_cutter=mouth,
    )


def _blocked(ctx: Context, claim: Claim, centre: BaseGeometry, d: Vector, low: float) -> tuple[float, list[int]]:
    """(largest blocked share, blocking faces) over the bores of a hole, each from its own lower end up.

    Behind a narrower bore only that bore's width is looked at: what is wider there is cut from the other end.
    """
    worst, faces = 0.0, set()
    own_end = dot(d, claim.direction) > 0
    width = max(s.diameter for s in claim.steps)
    for s in claim.steps if own_end else claim.steps[::-1]:
        floor, width = s.bottom if own_end else -s.top, min(width, s.diameter)
        bore = centre.buffer(MOUTH_BAND * width / 2, quad_segs=16)
        share, found = ceilings(ctx, d).over(Region(bore), max(floor, low), claim.faces)
        worst = max(worst, share)
        faces.update(found)
    return worst, sorted(faces)


def _cylinder_low(claim: Claim, low: float, d: Vector) -> float:
    """Level of the full diameter's end: a drill's point goes deeper."""
    if dot(d, claim.direction) > 0 and claim.steps:
        return min(s.bottom for s in claim.steps)
    return low


def _with_ids(ctx: Context, features: list[Feature]) -> list[Feature]:
    """Ids from each feature's own geometry: an unrelated face that changes leaves them as they are."""
    seen: dict[str, int] = {}
    out = []
    for f in features:
        name = f"{f.kind}-{sha256(_own_geometry(ctx, f).encode()).hexdigest()[:6]}"
        seen[name] = seen.get(name, 0) + 1
        out.append(f.model_copy(update={"id": name if seen[name] == 1 else f"{name}-{seen[name]}"}))
    return out


def _own_geometry(ctx: Context, f: Feature) -> str:
    parts = [f.kind, *(f"{k}={v:.2f}" for k, v in sorted(f.dimensions.items()))]
    for v in f.views[:1]:
        parts += [f"{c + 0.0:.3f}" for c in v.direction] + [f"{v.bottom + 0.0:.2f}", f"{v.top + 0.0:.2f}"]
        if v.outline:
            xs = list(zip(*v.outline[0], strict=True))
            parts += [f"{min(x) + 0.0:.1f}/{max(x) + 0.0:.1f}" for x in xs]
    if not any(v.outline for v in f.views[:1]):  # it has no outline: where it lies tells it from its like
        parts += [f"{c + 0.0:.2f}" for a in ctx.frame.axes for c in ctx.span(f.faces, a)]
    if f.axis:
        parts += [f"{c + 0.0:.2f}" for c in f.axis.origin]
    return "|".join(parts).replace("-0.000", "0.000")
