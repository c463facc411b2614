"""Faces and edges of a plain solid as the records of a snapshot."""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, sin

import numpy as np

from recognizer.bend import signed_bend
from recognizer.facets import Facets
from recognizer.plainread.curves import TIP, Curve, curve_of, tip_of
from recognizer.plainread.part import faces_of_solid
from recognizer.plainread.patches import Patch, Walk, outer_first
from recognizer.plainread.records import Frame, NotPlain, Records, flag, real, reference, references
from recognizer.plainread.trimmed import patch_in
from recognizer.snapshot import Edge, Face, Snapshot, Surface
from recognizer.vector import cross, dot, neg, sub
from shared.tolerances import DEFAULT, Tolerances

Loop = list[tuple[int, bool]]
"""Edge indices, and whether the loop runs along their curves."""


@dataclass
class Drawn:
    """A face as drawn: its surface and that one's frame, its loops, the outer one first."""

    surface: Surface
    frame: Frame
    loops: list[Loop]


class Solid:
    """What a file draws: faces, and the edges in the order in which loops name them."""

    def __init__(self, records: Records) -> None:
        self.records = records
        self.curves: list[Curve] = []
        self.uses: list[list[tuple[int, bool]]] = []
        self._edge_of: dict[int, int] = {}
        self._tips: dict[int, int] = {}
        self.numbers = faces_of_solid(records)
        self.faces = [self._face(i, number) for i, number in enumerate(self.numbers)]

    def _face(self, index: int, number: int) -> Drawn:
        _, bounds, geometry, sense = self.records.fields(number, b"ADVANCED_FACE", 4)
        surface, frame = surface_of(self.records, reference(geometry), flag(sense))
        round_ = surface.kind != "plane"
        return Drawn(surface, frame, [self._loop(index, n, round_, flag(sense)) for n in references(bounds)])

    def _loop(self, face: int, bound: int, round_: bool, sense: bool) -> Loop:
        """A loop in its own direction; edges are numbered, and the loop begins, as the kernel has it."""
        records = self.records
        kind = records.kind(bound)
        if kind not in (b"FACE_BOUND", b"FACE_OUTER_BOUND"):
            raise NotPlain(f"#{bound} is no bound")
        _, loop, flagged = records.fields(bound, kind, 3)
        with_it = flag(flagged)
        backwards = round_ and with_it != sense
        drawn = [self._oriented(n) for n in references(records.fields(reference(loop), b"EDGE_LOOP", 2)[1])]
        if round_ and len(drawn) == 3:
            drawn = self._with_tip(face, drawn)
        for number, _ in reversed(drawn) if backwards else drawn:
            if number not in self._edge_of:
                self._number(number)
        ring = []
        for number, along in drawn:
            index = self._edge_of[number]
            ring.append((index, (along == self.curves[index].sense) == with_it))
        if not with_it:
            ring.reverse()
        if backwards == with_it:
            ring = ring[-1:] + ring[:-1]
        for index, forward in ring:
            self.uses[index].append((face, forward))
        return ring

    def _with_tip(self, face: int, drawn: list[tuple[int, bool]]) -> list[tuple[int, bool]]:
        """A loop that runs up its seam and down again, with an edge without length at the tip between."""
        for i, (edge, sense) in enumerate(drawn):
            if drawn[(i + 1) % 3] == (edge, not sense):
                top = reference(self.records.fields(edge, b"EDGE_CURVE", 5)[2 if sense else 1])
                tip = -1 - face  # no record has such a number
                self._tips[tip] = top
                k = (i + 1) % 3
                return [*drawn[:k], (tip, True), *drawn[k:]]
        return drawn

    def _oriented(self, number: int) -> tuple[int, bool]:
        _, _, _, edge, sense = self.records.fields(number, b"ORIENTED_EDGE", 5)
        return reference(edge), flag(sense)

    def _number(self, edge: int) -> None:
        self._edge_of[edge] = len(self.curves)
        tip = self._tips.get(edge)
        self.curves.append(curve_of(self.records, edge) if tip is None else tip_of(self.records, tip))
        self.uses.append([])


def surface_of(records: Records, number: int, sense: bool) -> tuple[Surface, Frame]:
    """Surface of a face that has its normal (sense) or looks the other way, and the frame that it is written in."""
    kind = records.kind(number)
    counts = {b"PLANE": 2, b"CYLINDRICAL_SURFACE": 3, b"CONICAL_SURFACE": 4, b"TOROIDAL_SURFACE": 4}
    if kind not in counts:
        raise NotPlain(f"#{number} is a {kind.decode()}")
    _, placement, *sizes = records.fields(number, kind, counts[kind])
    frame = records.placement(reference(placement))
    values = [real(v) for v in sizes]
    origin, axis = frame[0], frame[1]
    if kind == b"PLANE":
        return Surface("plane", origin, axis if sense else neg(axis)), frame
    if kind == b"CYLINDRICAL_SURFACE" and values[0] > 0:
        return Surface("cylinder", origin, axis, values[0], hollow=not sense), frame
    if kind == b"CONICAL_SURFACE" and values[0] >= 0 and 1e-3 < values[1] < 1.57:
        return Surface("cone", origin, axis, values[0], half_angle=degrees(values[1]), hollow=not sense), frame
    if kind == b"TOROIDAL_SURFACE" and min(values) > 0:
        return Surface("torus", origin, axis, values[1], major_radius=values[0], hollow=not sense), frame
    raise NotPlain(f"#{number} has odd sizes")


def snapshot_of(solid: Solid, tol: Tolerances = DEFAULT) -> Snapshot:
    """Snapshot of a plain solid; volume by the divergence theorem. Raises NotPlain where a face is not plain."""
    faces, facets, nodes, volume = [], {}, {}, 0.0
    for i, (drawn, number) in enumerate(zip(solid.faces, solid.numbers, strict=True)):
        surface, loops = drawn.surface, drawn.loops
        if surface.kind == "plane":
            loops = _outer_first(surface, loops, solid.curves)
            area = abs(signed_area(surface, loops, solid.curves))
            span, flux = 0.0, surface.offset * area
        else:
            patch = _patch(solid, drawn)
            area, span, flux = patch.area, patch.span, patch.flux
            loops = outer_first(loops, patch.outer)
            facets[i] = patch.facets
            if surface.kind == "torus":
                nodes[i] = patch.nodes
        faces.append(Face(i, surface, tuple(tuple(loop) for loop in loops), area, number, span))
        volume += flux / 3
    edges = tuple(_edge(solid, k, tol) for k in range(len(solid.curves)))
    return Snapshot(tuple(faces), edges, volume, facets=Facets(facets, nodes))


def _patch(solid: Solid, drawn: Drawn) -> Patch:
    walks: list[Walk] = [[(e, solid.curves[e], forward) for e, forward in loop] for loop in drawn.loops]
    return patch_in(drawn.surface, drawn.frame, walks)


def signed_area(surface: Surface, loops: list[Loop], curves: list[Curve]) -> float:
    """Area inside loops on a plane, positive where they run anticlockwise seen from outside."""
    n, o = surface.axis, surface.origin
    total = 0.0
    for index, forward in (item for loop in loops for item in loop):
        c = curves[index]
        a, b = sub(c.points[0], o), sub(c.points[-1], o)
        twice = dot(cross(a, b), n)
        if c.free is not None:
            points, slopes, weights = c.free.nodes
            twice = float((np.cross(points - np.array(o), slopes) @ np.array(n) * weights).sum())
        elif c.frame is not None:
            # Chord plus segment: the whole sector's sweep without the chord triangle about the centre.
            sweep = c.length / c.radius
            twice += (1.0 if dot(c.frame[1], n) > 0 else -1.0) * c.radius * c.radius * (sweep - sin(sweep))
        total += twice if forward else -twice
    return total / 2


def _outer_first(surface: Surface, loops: list[Loop], curves: list[Curve]) -> list[Loop]:
    if len(loops) < 2:
        return loops
    areas = [signed_area(surface, [loop], curves) for loop in loops]
    k = areas.index(max(areas))
    return [loops[k], *loops[:k], *loops[k + 1 :]]


def _edge(solid: Solid, index: int, tol: Tolerances) -> Edge:
    c, uses = solid.curves[index], solid.uses[index]
    owners = tuple(dict.fromkeys(f for f, _ in uses))
    if c.name == TIP:
        return Edge(index, TIP, c.points, 0.0, owners, 0.0, degenerate=True)
    bend = 0.0
    if len(uses) == 2 and len(owners) == 2:
        na, nb = (solid.faces[f].surface.normal_at(c.middle) for f in owners)
        if na is None or nb is None:
            raise NotPlain("a face has no normal on its edge")
        bend = signed_bend(na, nb, c.tangent, uses[0][1], tol)
    seam = len(uses) == 2 and len(owners) == 1
    centre, axis = (c.frame[0], c.frame[1]) if c.frame else (c.centre, c.axis)
    return Edge(index, c.name, c.points, c.length, owners, bend, seam, False, centre, axis, c.radius, c.tangent)
