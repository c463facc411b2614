"""Pockets, islands, steps and ribs."""

from __future__ import annotations

from math import cos, pi, radians, sin

import cadquery as cq

from tests.random_parts.build import NX, NY, NZ, OVER, Block, X, Y, Z, only_solid
from tests.random_parts.truth import Expected


def pocket(depth: float, length: float, width: float, **more: float) -> Expected:
    """A closed pocket with a plane floor, open to +z; its own volume is checked."""
    sizes = {"depth": depth, "length": max(length, width), "width": min(length, width), **more}
    return Expected(("closed_pocket",), (Z,), bottom_condition="planar", dimensions=sizes, volume=0.0)


def rectangle(
    b: Block, length: float, width: float, depth: float, corner: float, top: float, x: float = 0, y: float = 0
) -> cq.Workplane:
    """A box with rounded upright edges under `top`, sticking out above it only at the block's top."""
    over = OVER if top == b.height else 0.0
    box = cq.Workplane().box(length, width, depth + over, centered=(True, True, False))
    return box.edges("|Z").fillet(corner).translate((x, y, top - depth))


def pocket_in_pocket(b: Block) -> None:
    d1, d2, r = b.pick(5, 9), b.pick(4, 8), b.pick(3, 5)
    length, width = b.pick(45, 60), b.pick(35, 45)
    b.cut(rectangle(b, length, width, d1, r, b.height), pocket(d1, length, width, corner_radius=r, inside=0))
    small, narrow = b.pick(20, 35), b.pick(15, 25)
    r2 = b.pick(2, 4)
    inner = pocket(d2, small, narrow, corner_radius=r2, inside=1)
    b.cut(rectangle(b, small, narrow, d2, r2, b.height - d1, b.pick(-4, 4), b.pick(-4, 4)), inner)


def _island(b: Block, lower: float) -> None:
    depth, r = b.pick(8, 14), b.pick(3, 6)
    length, width = b.pick(55, 65), b.pick(40, 50)
    post = cq.Workplane().circle(b.pick(5, 9)).extrude(depth + OVER)
    post = post.translate((b.pick(-8, 8), b.pick(-4, 4), b.height - depth))
    ring = rectangle(b, length, width, depth, r, b.height).cut(post)
    b.cut(ring, pocket(depth, length, width, corner_radius=r, islands=1))
    if lower:  # what lies over the island is its own top's, a planar_face
        over = cq.Workplane().box(*[3 * length] * 2, lower + OVER, centered=(True, True, False))
        b.cut(post.intersect(over.translate((0, 0, b.height - lower))))


def island_full(b: Block) -> None:
    _island(b, 0.0)


def island_low(b: Block) -> None:
    _island(b, b.pick(2, 5))


def pocket_radii(b: Block) -> None:
    depth, r, floor = b.pick(9, 15), b.pick(5, 8), b.pick(1, 3)
    length, width = b.pick(40, 60), b.pick(30, 45)
    box = cq.Workplane().box(length, width, depth + OVER, centered=(True, True, False))
    tool = box.edges("|Z").fillet(r).faces("<Z").edges().fillet(floor).translate((0, 0, b.height - depth))
    b.cut(tool, pocket(depth, length, width, corner_radius=r, floor_radius=floor))


def drafted_pocket(b: Block) -> None:
    depth, draft = b.pick(8, 14), b.pick(2, 8)
    sketch = cq.Workplane().rect(b.pick(35, 50), b.pick(28, 40))
    tool = sketch.extrude(-depth, taper=draft).translate((b.pick(-5, 5), 0, b.height))
    sizes = {"depth": depth, "draft": draft}
    b.cut(tool, Expected(("closed_pocket",), (Z,), (), "planar", sizes, volume=0.0, leaning=1.5 * draft))


def obround(b: Block) -> None:
    depth, width, length = b.pick(4, 12), b.pick(6, 14), b.pick(25, 45)
    turn = b.pick(0, 90)
    tool = b.prism(cq.Workplane().slot2D(length, width, turn), b.height + OVER, depth + OVER)
    b.cut(tool, pocket(depth, length, width, corner_radius=width / 2, narrowest_gap=width))
    x, small = b.length / 2 - 12, b.pick(5, 8)
    through = b.prism(cq.Workplane().slot2D(b.pick(18, 30), small, 90), b.height + OVER, b.height + 2 * OVER)
    sizes = {"depth": b.height, "corner_radius": small / 2, "narrowest_gap": small}
    b.cut(through.translate((x, 0, 0)), Expected(("closed_pocket",), (Z, NZ), (), "through", sizes, volume=0.0))


def _polar(radius: float, angle: float) -> tuple[float, float]:
    return radius * cos(angle), radius * sin(angle)


def _round_end(middle: float, angle: float, radius: float, side: int) -> tuple[float, float]:
    """Tip of the half circle that closes an arc slot: `radius` beyond its end, along the arc's tangent there."""
    x, y = _polar(middle, angle)
    return x - side * radius * sin(angle), y + side * radius * cos(angle)


def arc_slot(b: Block) -> None:
    """A banana: two arcs of one centre, closed by two half circles."""
    depth, width, middle = b.pick(4, 10), b.pick(6, 10), b.pick(16, 22)
    half = radians(b.pick(30, 70))
    outer, inner, end = middle + width / 2, middle - width / 2, width / 2
    sketch = cq.Workplane().moveTo(*_polar(outer, -half)).threePointArc((outer, 0), _polar(outer, half))
    sketch = sketch.threePointArc(_round_end(middle, half, end, 1), _polar(inner, half))
    sketch = sketch.threePointArc((inner, 0), _polar(inner, -half))
    sketch = sketch.threePointArc(_round_end(middle, -half, end, -1), _polar(outer, -half)).close()
    area = half * (outer**2 - inner**2) + pi * end**2
    sizes = {"depth": depth, "narrowest_gap": width}
    tool = b.prism(sketch, b.height + OVER, depth + OVER)
    b.cut(tool, Expected(("closed_pocket",), (Z,), bottom_condition="planar", dimensions=sizes, volume=0.0))
    assert abs((b.truth[-1].volume or 0.0) / (area * depth) - 1) < 1e-6


def ring_groove(b: Block) -> None:
    depth, outer, inner = b.pick(2, 6), b.pick(14, 20), b.pick(8, 12)
    tool = b.prism(cq.Workplane().circle(outer).circle(inner), b.height + OVER, depth + OVER)
    sizes = {"depth": depth, "islands": 1, "narrowest_gap": outer - inner}
    tool = tool.translate((b.pick(-10, 10), b.pick(-5, 5), 0))
    b.cut(tool, Expected(("closed_pocket",), (Z,), bottom_condition="planar", dimensions=sizes, volume=0.0))


def open_sides(b: Block) -> None:
    """An open pocket on one edge and a step on the opposite one."""
    depth, width, inwards, r = b.pick(6, 12), b.pick(20, 30), b.pick(15, 22), b.pick(3, 5)
    box = cq.Workplane().box(2 * inwards, width, depth + OVER, centered=(True, True, False)).edges("|Z").fillet(r)
    tool = box.translate((b.length / 2, 0, b.height - depth))
    sizes = {"depth": depth, "open_sides": 1, "corner_radius": r}
    b.cut(tool, Expected(("open_pocket",), (Z,), (X,), "planar", sizes, volume=0.0))
    low, wide = b.pick(5, 12), b.pick(8, 15)
    step = cq.Workplane().box(wide, b.width + 2 * OVER, low + OVER, centered=(False, True, False))
    step = step.translate((-b.length / 2, 0, b.height - low)).union(
        cq.Workplane()
        .box(OVER, b.width + 2 * OVER, low + OVER, centered=(False, True, False))
        .translate((-b.length / 2 - OVER, 0, b.height - low))
    )
    b.cut(step, Expected(("step",), (Z, NX), (Y, NY), "planar", volume=0.0))


def slanted_step(b: Block) -> None:
    depth = b.pick(6, 12)
    near, far = b.pick(8, 14), b.pick(18, 28)
    right, half = b.length / 2, b.width / 2
    slope = (far - near) / b.width
    edge = [(right - near + slope * OVER, -half - OVER), (right - far - slope * OVER, half + OVER)]
    outline = [*edge, (right + OVER, half + OVER), (right + OVER, -half - OVER)]
    norm = (1 + slope**2) ** 0.5
    away, along, back = (1 / norm, slope / norm, 0.0), (-slope / norm, 1 / norm, 0.0), (slope / norm, -1 / norm, 0.0)
    tool = b.prism(cq.Workplane().polyline(outline).close(), b.height + OVER, depth + OVER)
    expected = Expected(("step",), (Z,), (X, Y, NY, away, along, back), "planar", {}, volume=0.0)
    b.cut(tool, expected)


def thin_rib(b: Block) -> None:
    depth, rib, r = b.pick(12, 18), b.pick(0.6, 1.5), b.pick(2, 4)
    width = b.pick(35, 50)
    for side in (-1, 1):
        length = b.pick(20, 30)
        x = side * (rib + length) / 2
        b.cut(rectangle(b, length, width, depth, r, b.height, x), pocket(depth, length, width, corner_radius=r))


def sealed_void(b: Block) -> None:
    size = b.pick(6, 12)
    void = cq.Workplane().box(size, size + 3, size - 2).translate((b.pick(-10, 10), 0, b.height / 2))
    ball = cq.Workplane().sphere(b.pick(3, 5)).translate((30, 10, b.height / 2))
    for tool in (void, ball):
        b.cut(tool, Expected(("enclosed_void",), volume=None))  # no tool takes anything out of it


def boss_on_face(b: Block) -> None:
    """A cylinder on top of the block: the floor round it is open on all sides."""
    height, radius = b.pick(5, 12), b.pick(6, 14)
    post = cq.Workplane().circle(radius).extrude(height).translate((b.pick(-10, 10), b.pick(-5, 5), b.height))
    b.shape = only_solid(b.shape.fuse(post.findSolid()))
    b.truth.append(Expected(("boss",), (Z,), dimensions={"depth": height}))
