"""Removal bodies of holes: cylinders and cones from the mouth inwards, and what lies at the bottom."""

from __future__ import annotations

from shapely import Polygon

from recognizer.removal.body import Body
from recognizer.removal.frames import Shop
from recognizer.removal.solids import Solid
from recognizer.vector import dot, neg
from shared.features import Feature, HoleStep
from shared.units import Vector


def hole_body(shop: Shop, f: Feature) -> Body | None:
    """Stack of a hole's steps, carried on to the stock's surface at its free ends."""
    if f.axis is None or not f.steps:
        return None
    o, a = f.axis.origin, f.axis.direction
    ways = [v.direction for v in f.views if v.reachable]
    own = next((v for v in f.views if dot(v.direction, a) > 0), f.views[0])
    mouth = max(dot(o, a), f.steps[0].top)
    high = shop.top_of_box(a) if any(dot(w, a) > 0 for w in ways) else mouth
    through = own.through
    end = min(own.bottom, f.steps[-1].bottom) if through else f.steps[-1].bottom
    low = -shop.top_of_box(neg(a)) if through and any(dot(w, a) < 0 for w in ways) else end
    solids: list[Solid] = []
    first, last = f.steps[0], f.steps[-1]
    for i, s in enumerate(f.steps):
        top = (first.top if s.surface == "cone" else high) if i == 0 else f.steps[i - 1].bottom
        bottom = (
            max(s.bottom, f.steps[i + 1].top) if i + 1 < len(f.steps) and f.steps[i + 1].top > s.bottom else s.bottom
        )
        solids += _step(shop, f.steps, i, o, a, top, bottom)
    if first.surface == "cone" and high > first.top + 1e-6:
        solids.append(shop.cylinder(o, a, first.diameter / 2, first.top, high))
    if through and low < last.bottom - 1e-6:
        solids.append(shop.cylinder(o, a, last.end_diameter / 2, low, last.bottom))
    if not through:
        solids += _bottom(shop, f, a)
    return Body(f.id, solids, disjoint=True)


def _step(shop: Shop, steps: list[HoleStep], i: int, o: Vector, a: Vector, top: float, bottom: float) -> list[Solid]:
    s = steps[i]
    if s.surface != "cone":
        return [shop.cylinder(o, a, s.diameter / 2, bottom, top)]
    at_top, at_low = s.diameter / 2, s.end_diameter / 2
    if widens_inwards(shop, s, a):
        at_top, at_low = at_low, at_top
    profile = Polygon([(s.top, 0.0), (s.top, at_top), (s.bottom, at_low), (s.bottom, 0.0)])
    out = shop.revolved(o, a, profile)
    if top > s.top + 1e-6:  # a groove or radius between this cone and the step before it
        out.append(shop.cylinder(o, a, at_top, s.top, top))
    return out


def widens_inwards(shop: Shop, s: HoleStep, a: Vector) -> bool:
    """Whether a cone's wider end is the one away from the mouth."""
    surface = shop.ctx.faces[s.faces[0]].surface
    return surface.half_angle * dot(surface.axis, a) < 0


def _bottom(shop: Shop, f: Feature, a: Vector) -> list[Solid]:
    """What lies under the last step of a blind hole: a drill's point, a ball, a radius or bevel and the flat."""
    last = f.steps[-1]
    line: list[tuple[float, float]] = []
    for i in (*f.blends, *f.bottom):
        s = shop.ctx.faces[i].surface
        if s.kind in ("cone", "torus", "sphere") and shop.ctx.extent(i, a)[1] < last.bottom + 0.01:
            line += shop.meridian(i, a)
    if not line:
        return []
    line.sort(key=lambda q: (-q[0], -q[1]))
    low = line[-1][0]
    ring = [(last.bottom, 0.0), (last.bottom, last.end_diameter / 2), *line, (low, 0.0)]
    o = f.axis.origin if f.axis else (0.0, 0.0, 0.0)
    return shop.revolved(o, a, Polygon(ring).buffer(0))
