"""Round holes of every kind."""

from __future__ import annotations

from math import cos, radians, sin, tan

import cadquery as cq

from shared.units import Vector
from tests.random_parts.build import NX, NZ, OVER, Block, X, Y, Z
from tests.random_parts.pockets import pocket, rectangle
from tests.random_parts.truth import Expected


def hole(
    diameters: tuple[float, ...], directions: tuple[Vector, ...], at: Vector, bottom: str = "through", **sizes: float
) -> Expected:
    """A round hole of one diameter, a counterbore of two, a stepped hole of more; diameters from the mouth inwards."""
    kind = {1: "round_hole", 2: "counterbore_hole"}.get(len(diameters), "stepped_hole")
    return Expected((kind,), directions, (), bottom, sizes, diameters, at=at, volume=0.0)


def hole_through_floor(b: Block) -> None:
    depth, length, width, r = b.pick(8, 14), b.pick(35, 50), b.pick(25, 40), b.pick(3, 5)
    b.cut(rectangle(b, length, width, depth, r, b.height), pocket(depth, length, width, corner_radius=r))
    d, x, y = b.pick(4, 9), b.pick(-8, 8), b.pick(-4, 4)
    rod = b.rod((x, y, -OVER), Z, d, b.height)
    b.cut(rod, hole((d,), (Z, NZ), (x, y, 0), depth=b.height - depth))


def hole_through_wall(b: Block) -> None:
    depth, length, width, r = b.pick(14, 18), b.pick(35, 45), b.pick(25, 40), b.pick(2, 3)
    b.cut(rectangle(b, length, width, depth, r, b.height), pocket(depth, length, width, corner_radius=r))
    d, z = b.pick(4, 7), b.height - depth / 2
    rod = b.rod((-b.length / 2 - OVER, 0, z), X, d, b.length / 2)
    b.cut(rod, hole((d,), (NX,), (0, 0, z), depth=(b.length - length) / 2))


def cross_holes(b: Block) -> None:
    big, small, z = b.pick(10, 14), b.pick(4, 8), b.height / 2
    b.cut(b.rod((0, 0, -OVER), Z, big, b.height + 2 * OVER), hole((big,), (Z, NZ), (0, 0, 0), depth=b.height))
    rod = b.rod((-b.length, 0, z), X, small, 2 * b.length)
    crossing = hole((small,), (X, NX), (0, 0, z), depth=b.length)
    b.cut(rod, crossing)
    b.truth[-1] = Expected(**{**vars(b.truth[-1]), "volume": None})  # the middle belongs to either


def coaxial_gap(b: Block) -> None:
    depth, gap, d = b.pick(14, 18), b.pick(20, 35), b.pick(5, 9)
    slot = cq.Workplane().box(gap, b.width + 2 * OVER, depth + OVER, centered=(True, True, False))
    sizes = {"depth": depth, "width": gap}
    slotted = Expected(("slot",), (Z,), (Y, (0.0, -1.0, 0.0)), "planar", sizes, profile="square_u", volume=0.0)
    b.cut(slot.translate((0, 0, b.height - depth)), slotted)
    z = b.height - depth / 2
    b.cut(b.rod((-b.length, 0, z), X, d, 2 * b.length), hole((d,), (X, NX), (0, 0, z)))


def counterbore_below(b: Block) -> None:
    d, x = b.pick(5, 9), b.pick(-20, 20)
    big, deep = d + b.pick(4, 8), b.pick(4, 9)
    rod = cq.Workplane(b.rod((x, 0, -OVER), Z, d, b.height + 2 * OVER))
    tool = rod.union(cq.Workplane(b.rod((x, 0, -OVER), Z, big, deep + OVER)))
    b.cut(tool, hole((big, d), (NZ,), (x, 0, 0), depth=b.height))


def countersink(b: Block) -> None:
    d, angle, x = b.pick(4, 8), float(b.rng.choice([82.0, 90.0, 100.0])), b.pick(-20, 20)
    big = 2 * d + b.pick(0, 3)
    deep = (big - d) / 2 / tan(radians(angle / 2))
    cone = cq.Solid.makeCone(d / 2, big / 2, deep, cq.Vector(x, 0, b.height - deep))
    tool = cq.Workplane(b.rod((x, 0, -OVER), Z, d, b.height + OVER - deep)).union(cq.Workplane(cone))
    sunk = Expected(("countersunk_hole",), (Z,), (), "through", {"angle": angle}, (big, d), at=(x, 0, 0), volume=0.0)
    b.cut(tool, sunk)


def stepped_hole(b: Block) -> None:
    count = int(b.rng.randint(3, 6))
    through = bool(b.rng.randint(2))
    diameters = [b.pick(3, 5)]
    for _ in range(count - 1):
        diameters.insert(0, round(diameters[0] + b.pick(2, 5), 1))
    step = (b.height - 4.0) / count
    tool = cq.Workplane()
    for n, d in enumerate(diameters):
        bottom = b.height - step * (n + 1) if n < count - 1 or not through else -OVER
        tool = tool.union(cq.Workplane(b.rod((5, 3, bottom), Z, d, b.height + OVER - bottom)))
    depth = b.height if through else b.height - 4.0
    b.cut(tool, hole(tuple(diameters), (Z,), (5, 3, 0), "through" if through else "flat", depth=depth))


def tilted_hole(b: Block) -> None:
    d, tilt, about = b.pick(5, 9), radians(b.pick(10, 35)), radians(b.pick(0, 360))
    axis = (sin(tilt) * cos(about), sin(tilt) * sin(about), cos(tilt))
    back = (-axis[0], -axis[1], -axis[2])
    middle = (0.0, 0.0, b.height / 2)
    start = (-60 * axis[0], -60 * axis[1], middle[2] - 60 * axis[2])
    b.cut(b.rod(start, axis, d, 120), hole((d,), (axis, back), middle))


def half_hole(b: Block) -> None:
    """Holes across a long edge of the face: the left one keeps less than half a turn, the right one more."""
    for x, inwards in ((-20.0, -b.pick(0.5, 2)), (20.0, b.pick(0.5, 2))):
        d = b.pick(10, 16)
        rod = b.rod((x, b.width / 2 - inwards, -OVER), Z, d, b.height + 2 * OVER)
        if inwards < 0:
            b.cut(rod, Expected(("slot", "open_pocket"), (Z, NZ), (Y,), volume=0.0))
        else:
            # More than half a turn: one would drill it, but a side is open; both names can be argued.
            b.cut(rod, Expected(("open_pocket", "round_hole"), (Z, NZ), (), "through", volume=0.0))


def round_outside(b: Block) -> None:
    """A disc with a bore and a circle of holes; its box is the stock."""
    radius, height, count = b.pick(30, 45), b.pick(10, 25), int(b.rng.randint(3, 7))
    b.shape = cq.Workplane().circle(radius).extrude(height).findSolid()
    corners = (2 * radius) ** 2 * height - b.shape.Volume()
    b.truth.append(Expected(("outside_profile",), (Z, NZ), volume=corners))
    bore, d = b.pick(8, 14), b.pick(4, 7)
    b.cut(b.rod((0, 0, -OVER), Z, bore, height + 2 * OVER), hole((bore,), (Z, NZ), (0, 0, 0), depth=height))
    for k in range(count):
        a = radians(360 * k / count)
        x, y = 0.7 * radius * cos(a), 0.7 * radius * sin(a)
        b.cut(b.rod((x, y, -OVER), Z, d, height + 2 * OVER), hole((d,), (Z, NZ), (x, y, 0), depth=height))
