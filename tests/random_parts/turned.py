"""Grooves and shoulders that turn about an axis, and what runs round it."""

from __future__ import annotations

from math import asin, cos, degrees, pi, radians, sin, tan

import cadquery as cq

from tests.random_parts.build import NX, NZ, OVER, Block, X, Y, Z
from tests.random_parts.holes import hole
from tests.random_parts.truth import Expected

Section = list[tuple[float, float]]
"""Corners of a section as (radius, level)."""


def _round(b: Block, radius: float, height: float) -> None:
    b.shape = cq.Workplane().circle(radius).extrude(height).findSolid()
    corners = (2 * radius) ** 2 * height - b.shape.Volume()
    b.truth.append(Expected(("outside_profile",), (Z, NZ), volume=corners))


def _ring(section: Section) -> cq.Workplane:
    """A section in radius and level, turned about z."""
    return cq.Workplane("XZ").polyline(section).close().revolve(360, (0, 0, 0), (0, 1, 0))


def _ball_ring(radius: float, level: float, tube: float) -> cq.Workplane:
    return cq.Workplane("XZ").center(radius, level).circle(tube).revolve(360, (-radius, 0, 0), (-radius, 1, 0))


def equal_grooves(b: Block) -> None:
    """Two ring grooves of one diameter round a shaft: the land between them is no part of either."""
    radius, deep, wide, apart = b.pick(15, 25), b.pick(2, 5), b.pick(2, 4), b.pick(4, 8)
    _round(b, radius, b.pick(40, 60))
    for k in range(2):
        z = 8.0 + k * (wide + apart)
        out, inner = radius + OVER, radius - deep
        sizes = {"groove_diameter": 2 * inner, "outer_diameter": 2 * radius, "height": wide, "side": deep}
        groove = Expected(("undercut",), (), (Z, NZ), dimensions=sizes, volume=0.0)
        b.cut(_ring([(out, z), (inner, z), (inner, z + wide), (out, z + wide)]), groove)


def belt_groove(b: Block) -> None:
    """A vee groove with a flat root round a disc."""
    radius, deep, root, angle = b.pick(35, 50), b.pick(6, 10), b.pick(3, 6), float(b.rng.choice([34.0, 38.0]))
    height = b.pick(22, 30)
    _round(b, radius, height)
    half, middle = root / 2 + deep * tan(radians(angle / 2)), height / 2
    over = OVER * tan(radians(angle / 2))
    out, inner = radius + OVER, radius - deep
    up = [(inner, middle + root / 2), (out, middle + half + over)]
    down = [(out, middle - half - over), (inner, middle - root / 2)]
    sizes = {"groove_diameter": 2 * inner, "outer_diameter": 2 * radius, "height": 2 * half, "side": deep}
    b.cut(_ring([*down, *up]), Expected(("undercut",), (), (Z, NZ), dimensions=sizes, volume=0.0))


def relief_groove(b: Block) -> None:
    """A spigot with a thread's relief at its shoulder: boss, shoulder and groove are three."""
    flange, spigot, deep, wide = b.pick(25, 35), b.pick(10, 16), b.pick(1, 2), b.pick(3, 5)
    foot, high = b.pick(10, 20), b.pick(20, 30)
    _round(b, flange, foot)
    b.shape = b.shape.fuse(cq.Workplane().circle(spigot).extrude(foot + high).findSolid()).clean()
    spigot_at = Expected(("boss",), (Z,), dimensions={"height": high, "diameter": 2 * spigot})
    b.truth = [Expected(("outside_profile",), (Z, NZ)), spigot_at]  # the corners are cut along the spigot too
    out, inner = spigot + 0.5 * OVER, spigot - deep
    sizes = {"groove_diameter": 2 * inner, "outer_diameter": 2 * spigot, "height": wide, "side": deep}
    groove = Expected(("undercut",), (), (Z, NZ), dimensions=sizes, volume=0.0)
    b.cut(_ring([(out, foot), (inner, foot), (inner, foot + wide), (out, foot + wide)]), groove)


def ball_race(b: Block) -> None:
    """A round groove in the wall of a bore, and one round the outside."""
    bore, wall, height, tube = b.pick(14, 20), b.pick(15, 20), b.pick(16, 24), b.pick(2, 4)
    outer = bore + wall
    _round(b, outer, height)
    b.cut(b.rod((0, 0, -OVER), Z, 2 * bore, height + 2 * OVER), hole((2 * bore,), (Z, NZ), (0, 0, 0), depth=height))
    inside = {"bore_diameter": 2 * bore, "groove_diameter": 2 * (bore + tube), "height": 2 * tube, "side": tube}
    b.cut(_ball_ring(bore, height / 2, tube), Expected(("undercut",), (), (Z, NZ), dimensions=inside, volume=0.0))
    outside = {"outer_diameter": 2 * outer, "groove_diameter": 2 * (outer - tube), "height": 2 * tube, "side": tube}
    around = Expected(("undercut",), (), (Z, NZ), dimensions=outside)  # its volume is short by the outline's chords
    b.cut(_ball_ring(outer, height / 2, tube), around)


def face_rings(b: Block) -> None:
    """A vee groove and a round groove in a flat face, each round an island."""
    tube, inner, half, deep = b.pick(2, 4), b.pick(6, 9), b.pick(2, 3), b.pick(3, 6)
    outer = 26.0 - tube
    round_ = {"depth": tube, "length": 2 * (outer + tube), "islands": 1}
    top = b.height
    b.cut(_ball_ring(outer, top, tube), Expected(("closed_pocket",), (Z,), (), "radiused", round_, volume=0.0))
    vee = {
        "depth": deep,
        "length": 2 * (inner + 2 * half),
        "islands": 1,
        "draft": degrees(asin(half / (half**2 + deep**2) ** 0.5)),
    }
    section = [(inner, top), (inner + half, top - deep), (inner + 2 * half, top)]
    b.cut(_ring(section), Expected(("closed_pocket",), (Z,), (), "general", vee, volume=0.0))


def dovetail_ring(b: Block) -> None:
    """An O-ring's groove that is wider below than at its mouth."""
    inner, mouth, more, deep = b.pick(14, 20), b.pick(3, 5), b.pick(0.5, 1), b.pick(2, 4)
    section = [
        (inner, b.height),
        (inner - more, b.height - deep),
        (inner + mouth + more, b.height - deep),
        (inner + mouth, b.height),
    ]
    sizes = {"mouth_width": mouth, "floor_width": mouth + 2 * more, "groove_depth": deep}
    b.cut(_ring(section), Expected(("undercut",), (), (Z,), dimensions=sizes, volume=0.0))


def ball_sockets(b: Block) -> None:
    """Half a ball, which a plain cutter makes, and more than half of one, which none does."""
    r, sunk = b.pick(8, 12), b.pick(2, 4)
    half = Expected(("closed_pocket",), (Z,), (), "radiused", {"depth": r, "length": 2 * r}, volume=2 / 3 * pi * r**3)
    b.cut(cq.Workplane().sphere(r).translate((-20, 0, b.height)), half)
    mouth = 2 * (r**2 - sunk**2) ** 0.5
    sizes = {"mouth_diameter": mouth, "groove_diameter": 2 * r, "height": r + sunk}
    deep = Expected(("undercut",), (), (Z,), dimensions=sizes, volume=pi * (r + sunk) ** 2 * (2 * r - sunk) / 3)
    b.cut(cq.Workplane().sphere(r).translate((20, 0, b.height - sunk)), deep)


def arc_slots(b: Block) -> None:
    """Three slots on one circle round a bore, right through: no hole has their outer diameter."""
    radius, height, wide, sweep = b.pick(40, 50), b.pick(10, 20), b.pick(5, 9), b.pick(40, 70)
    _round(b, radius, height)
    bore = b.pick(14, 24)
    b.cut(b.rod((0, 0, -OVER), Z, bore, height + 2 * OVER), hole((bore,), (Z, NZ), (0, 0, 0), depth=height))
    at, half = 0.72 * radius, radians(sweep / 2)
    inner, outer = at - wide / 2, at + wide / 2
    for k in range(3):
        ends = [(r * cos(a), r * sin(a)) for r in (inner, outer) for a in (-half, half)]
        path = cq.Workplane().moveTo(*ends[0]).threePointArc((inner, 0), ends[1])
        path = path.threePointArc(
            (at * cos(half) - wide / 2 * sin(half), at * sin(half) + wide / 2 * cos(half)), ends[3]
        )
        path = path.threePointArc((outer, 0), ends[2])
        path = path.threePointArc(
            (at * cos(half) - wide / 2 * sin(half), -at * sin(half) - wide / 2 * cos(half)), ends[0]
        )
        tool = (
            path.close().extrude(height + 2 * OVER).translate((0, 0, -OVER)).rotate((0, 0, 0), (0, 0, 1), 120 * k + 20)
        )
        sizes = {"depth": height, "corner_radius": wide / 2, "narrowest_gap": wide}
        b.cut(tool, Expected(("closed_pocket",), (Z, NZ), (), "through", sizes, volume=0.0))


def woodruff_key(b: Block) -> None:
    """A disc-shaped keyway along a shaft: its flat sides are no part of the shaft's outline."""
    radius, length, key, wide = b.pick(14, 20), b.pick(60, 90), b.pick(8, 11), b.pick(4, 7)
    b.shape = b.rod((0, 0, 0), X, 2 * radius, length)
    b.truth.append(Expected(("outside_profile",), (X, NX)))
    tool = b.rod((length / 2, -wide / 2, radius), Y, 2 * key, wide)
    sizes = {"depth": key, "length": 2 * key, "width": wide}
    b.cut(tool, Expected(("closed_pocket",), (Z,), (), "radiused", sizes, volume=0.0))
