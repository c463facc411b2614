"""Broken and rounded edges."""

from __future__ import annotations

from math import atan2, degrees

import cadquery as cq

from tests.random_parts.build import NX, NY, NZ, OVER, Block, X, Y, Z
from tests.random_parts.truth import Expected


def chamfered_edge(b: Block) -> None:
    """One long top edge, not at 45 degrees."""
    down, inwards = b.pick(1, 3), b.pick(1, 3)
    before = b.shape.Volume()
    b.shape = cq.Workplane(b.shape).faces(">Z").edges(">Y").chamfer(down, inwards).findSolid()
    norm = (down**2 + inwards**2) ** 0.5
    either = ((0.0, down / norm, inwards / norm), (0.0, inwards / norm, down / norm))
    b.truth.append(Expected(("chamfer",), (Z, Y), (X, NX, *either), volume=before - b.shape.Volume()))
    assert 15 < degrees(atan2(down, inwards)) < 75


def rounded_edges(b: Block) -> None:
    """One upright edge and one long top edge that does not meet it."""
    for radius, select, ways in ((b.pick(3, 8), ("|Z", ">X and >Y"), (Z, NZ)), (b.pick(1, 3), (">Z", "<X"), ())):
        edges = cq.Workplane(b.shape).edges(select[0]).edges(select[1])
        before = b.shape.Volume()
        b.shape = edges.fillet(radius).findSolid()
        also = (X, Y) if ways else (Z, NX, Y, NY)
        taken = before - b.shape.Volume()
        b.truth.append(Expected(("edge_round",), ways, also, dimensions={"radius": radius}, volume=taken))


def chamfered_hole(b: Block) -> None:
    """A mouth chamfer that widens the hole by less than a quarter: no countersink; the chamfer may stand on its own."""
    d = b.pick(8, 14)
    c = round(0.08 * d, 2)
    cone = cq.Solid.makeCone(d / 2, d / 2 + c, c, cq.Vector(4, 2, b.height - c))
    rod = b.rod((4, 2, -OVER), Z, d, b.height + OVER - c)
    whole = Expected(("round_hole",), (Z,), (NZ,), "through", {"diameter": d}, at=(4, 2, 0))
    b.cut(cq.Workplane(rod).union(cq.Workplane(cone)), whole, Expected(("chamfer",), (Z,), optional=True))


def chamfered_mouth(b: Block) -> None:
    """All edges of a sharp-cornered pocket's mouth broken: four chamfers that meet in mitres, and one pocket."""
    length, width, depth, c = b.pick(30, 45), b.pick(20, 30), b.pick(8, 14), b.pick(0.5, 2)
    box = cq.Workplane().box(length, width, depth + OVER, centered=(True, True, False))
    pocket = {"depth": depth, "length": length, "width": width, "corner_radius": 0.0}
    taken = Expected(("closed_pocket",), (Z,), (), "planar", pocket, volume=0.0)
    b.cut(box.translate((0, 0, b.height - depth)), taken)
    before = b.shape.Volume()
    rim = cq.Workplane(b.shape).faces(">Z").edges().vals()
    inner = [e for e in rim if abs(e.Center().x) < length / 2 + 0.1 and abs(e.Center().y) < width / 2 + 0.1]
    b.shape = b.shape.chamfer(c, None, inner)  # type: ignore[attr-defined, arg-type]
    left = before - b.shape.Volume()
    assert abs(left - (c * c * (length + width) + 4 / 3 * c**3)) < 1e-3 * left
    every = (
        X,
        NX,
        Y,
        NY,
        *((s * 0.7071068, 0.0, 0.7071068) for s in (-1, 1)),
        *((0.0, s * 0.7071068, 0.7071068) for s in (-1, 1)),
    )
    for _ in range(4):
        b.truth.append(Expected(("chamfer",), (Z,), every))
