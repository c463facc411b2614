"""Removal bodies of undercut slots and of free-form regions."""

from __future__ import annotations

from shapely import MultiPoint, Polygon, box

from recognizer.outline import Plane2
from recognizer.removal.body import Body
from recognizer.removal.frames import Shop
from recognizer.removal.pockets import columns, free_ways
from recognizer.removal.solids import Solid
from recognizer.vector import add, cross, dot, scale, unit
from recognizer.wall_lines import enclosed
from shared.features import Feature


def undercut_body(shop: Shop, f: Feature) -> Body | None:
    """Prism along a tee or dovetail slot over its cross-section."""
    ctx = shop.ctx
    if f.views and ("neck_width" in f.dimensions or "groove_diameter" in f.dimensions):
        return _groove(shop, f)
    if not f.views or not f.bottom:
        return None
    d = f.views[0].direction
    planes = [ctx.faces[i].surface.axis for i in f.faces if ctx.faces[i].kind == "plane"]
    sides = [axis for axis in planes if abs(dot(axis, d)) < 0.95]
    if not sides:
        return None
    e = unit(cross(d, sides[0]))
    low, high = ctx.span(f.faces, e)
    plane = Plane2(e)
    roofs = [i for i in f.faces if dot(ctx.faces[i].surface.axis, d) < -1 + 1e-6]
    if roofs and "foot_width" in f.dimensions:
        region = _tee(shop, f, roofs, shop.top_of_box(d))
    else:
        region = enclosed(ctx, f.faces, plane)
    return Body(f.id, [shop.prism(e, region, low, high)]) if region is not None and region.area > 1e-9 else None


def _groove(shop: Shop, f: Feature) -> Body:
    """Ring between a groove's wall and the bore that it lies behind, or the round outside that it lies in."""
    wall = next(shop.ctx.faces[i].surface for i in f.faces if shop.ctx.faces[i].kind == "cylinder")
    d = f.views[0].direction
    low, high = shop.ctx.span([i for i in f.faces if shop.ctx.faces[i].kind == "cylinder"], d)
    names = ("neck_width", "width") if "neck_width" in f.dimensions else ("groove_diameter", "outer_diameter")
    inner, outer = (f.dimensions[name] / 2 for name in names)
    profile = Polygon([(low, inner), (low, outer), (high, outer), (high, inner)])
    return Body(f.id, shop.revolved(wall.origin, d, profile))


def _tee(shop: Shop, f: Feature, roofs: list[int], top: float):  # type: ignore[no-untyped-def]
    """Foot and neck as two rectangles seen along the slot."""
    ctx, d = shop.ctx, f.views[0].direction
    side = next(ctx.faces[i].surface.axis for i in f.faces if abs(dot(ctx.faces[i].surface.axis, d)) < 0.5)
    e = unit(cross(d, side))
    across, plane = unit(cross(e, d)), Plane2(e)
    roof = ctx.span(roofs, d)[1]
    neck = [i for i in f.faces if ctx.extent(i, d)[0] > roof - 0.01 and i not in roofs]
    foot = [i for i in f.faces if i not in neck]
    out = []
    for faces, a, b in ((foot, ctx.span(foot, d)[0], roof), (neck, roof, top)):
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
