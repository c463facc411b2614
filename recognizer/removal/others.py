"""Removal bodies of undercut slots and of free-form regions."""

from __future__ import annotations

from shapely import MultiPoint, Polygon, box
from shapely.geometry.base import BaseGeometry

from recognizer.meridians import meridian
from recognizer.outline import Plane2, points2
from recognizer.removal.body import Body
from recognizer.removal.frames import Shop
from recognizer.removal.pockets import columns, free_ways
from recognizer.removal.solids import Solid
from recognizer.vector import add, cross, dot, scale, unit
from recognizer.wall_lines import enclosed
from shared.features import Feature
from shared.units import Vector


def undercut_body(shop: Shop, f: Feature) -> Body | None:
    """Prism along a tee or dovetail slot over its cross-section."""
    ctx = shop.ctx
    if f.views and "neck_width" in f.dimensions:
        return _groove(shop, f)
    if "groove_diameter" in f.dimensions:
        return _turned(shop, f)
    if not f.views or f.bottom_condition is None:
        return None
    d = f.views[0].direction
    planes = [ctx.faces[i].surface.axis for i in f.faces if ctx.faces[i].kind == "plane"]
    sides = [axis for axis in planes if abs(dot(axis, d)) < 0.95]
    if not sides:
        return None
    e = unit(cross(d, sides[0]))
    low, high = ctx.span(f.faces, e)
    plane = Plane2(e)
    flat = {i: dot(ctx.faces[i].surface.axis, d) for i in f.faces if ctx.faces[i].kind == "plane"}
    roofs = [i for i, c in flat.items() if c < -1 + 1e-6]
    if roofs and "foot_width" in f.dimensions and _ends_inside(shop, f, e):
        return _blind_tee(shop, f, roofs)
    flanks = [i for i, c in flat.items() if -0.95 < c < -0.1]
    if "foot_width" in f.dimensions:
        region = _tee(shop, f, shop.top_of_box(d))
    elif flanks and any(ctx.faces[i].kind == "cylinder" for i in f.faces):
        return _with_entry(shop, f, flanks, e)
    elif _beyond(shop, f, flanks, cross(e, d)):  # a floor that runs on into a slot that crosses it, or is that one's
        region = MultiPoint(points2(ctx, flanks, plane)).convex_hull
    else:
        region = enclosed(ctx, f.faces, plane)
    return Body(f.id, [shop.prism(e, region, low, high)]) if region is not None and region.area > 1e-9 else None


def _groove(shop: Shop, f: Feature) -> Body:
    """Ring between a groove's wall and the bore that it lies behind."""
    wall = next(shop.ctx.faces[i].surface for i in f.faces if shop.ctx.faces[i].kind == "cylinder")
    d = f.views[0].direction
    low, high = shop.ctx.span([i for i in f.faces if shop.ctx.faces[i].kind == "cylinder"], d)
    inner, outer = (f.dimensions[name] / 2 for name in ("neck_width", "width"))
    profile = Polygon([(low, inner), (low, outer), (high, outer), (high, inner)])
    return Body(f.id, shop.revolved(wall.origin, d, profile))


def _turned(shop: Shop, f: Feature) -> Body | None:
    """A turned groove's section about its axis, up to the round wall, the bore or the face that it lies in."""
    line, size = meridian(shop.ctx, f.faces), f.dimensions
    if line is None:
        return None
    if "outer_diameter" in size:
        section = line.inside(size["outer_diameter"] / 2)
    elif "bore_diameter" in size or "mouth_diameter" in size:
        section = line.beyond(size.get("bore_diameter", 0.0) / 2)
    else:
        section = line.between()
    parts = [p for p in getattr(section, "geoms", [section]) if p.geom_type == "Polygon"]
    return Body(f.id, [s for p in parts for s in shop.revolved(line.origin, line.axis, p)])


def _ends_inside(shop: Shop, f: Feature, e: Vector) -> bool:
    """Whether a tee slot has a wall at an end."""
    surfaces = [shop.ctx.faces[i].surface for i in f.faces]
    return any(s.kind == "cylinder" or abs(dot(s.axis, e)) > 0.5 for s in surfaces)


def _blind_tee(shop: Shop, f: Feature, roofs: list[int]) -> Body | None:
    """Foot and neck as two prisms over what their upright walls shut in."""
    ctx, d = shop.ctx, f.views[0].direction
    roof = ctx.span(roofs, d)[0]
    upright = [i for i in f.faces if i not in roofs and i not in f.bottom]
    solids: list[Solid] = []
    for walls, low, high in (
        ([i for i in upright if ctx.extent(i, d)[0] < roof - 0.01], ctx.span(f.bottom, d)[0], roof),
        ([i for i in upright if ctx.extent(i, d)[1] > roof + 0.01], roof, shop.top_of_box(d)),
    ):
        region = enclosed(ctx, walls, Plane2(d))
        if region is not None:
            solids.append(shop.prism(d, shop.fine(region, walls, d), low, high))
    return Body(f.id, solids, disjoint=True) if solids else None


def _with_entry(shop: Shop, f: Feature, flanks: list[int], e: Vector) -> Body:
    """A dovetail as long as its flanks, and the round holes on its floor by which the cutter enters."""
    ctx, d = shop.ctx, f.views[0].direction
    section = MultiPoint(points2(ctx, flanks, Plane2(e))).convex_hull
    solids: list[Solid] = [shop.prism(e, section, *ctx.span(flanks, e))]
    bores = {ctx.graph.group[i]: ctx.faces[i].surface for i in f.faces if ctx.faces[i].kind == "cylinder"}
    low = ctx.span(f.bottom, d)[0]
    return Body(
        f.id, [*solids, *(shop.cylinder(s.origin, d, s.radius, low, shop.top_of_box(d)) for s in bores.values())]
    )


def _beyond(shop: Shop, f: Feature, flanks: list[int], across: Vector) -> bool:
    """Whether a dovetail's floor is not what lies between the feet of its flanks."""
    if len(flanks) < 2 or not f.bottom:
        return len(flanks) >= 2
    (a, b), (c, d) = (shop.ctx.span(faces, across) for faces in (f.bottom, flanks))
    return a < c - 0.01 or b > d + 0.01


def _tee(shop: Shop, f: Feature, top: float) -> BaseGeometry:
    """Foot and neck as two rectangles seen along the slot, as far as their upright walls stand apart."""
    ctx, d = shop.ctx, f.views[0].direction
    upright = [i for i in f.faces if abs(dot(ctx.faces[i].surface.axis, d)) < 0.5]
    e = unit(cross(d, ctx.faces[upright[0]].surface.axis))
    across, plane = unit(cross(e, d)), Plane2(e)
    low = ctx.span(upright, d)[0]
    roof = low + f.dimensions["foot_height"]
    neck = [i for i in upright if ctx.extent(i, d)[0] > roof - 0.01]
    foot = [i for i in upright if i not in neck]
    out = []
    for faces, a, b in ((foot, low, roof), (neck, roof, top)):
        if faces:
            x0, x1 = ctx.span(faces, across)
            flat = box(x0, a, x1, b)
            corners = [add(scale(across, x), scale(d, y)) for x, y in flat.exterior.coords]
            out.append(MultiPoint([plane.at(c) for c in corners]).convex_hull)
    return out[0].union(out[1]) if len(out) > 1 else out[0]


def facing_body(shop: Shop, f: Feature) -> Body | None:
    """Columns over whatever faces freely along the main directions: free-form regions and leaning islands' walls."""
    solids: list[Solid] = []
    for d in free_ways(shop, f.faces) or [v.direction for v in f.views if v.reachable][:1]:
        solids += columns(shop, f.faces, d, shop.top_of_box(d))
    return Body(f.id, solids) if solids else None
