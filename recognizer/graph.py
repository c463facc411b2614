"""The face-adjacency graph: a MultiGraph, since a notch makes two faces share two edges.

Nodes are face indices; each link is an edge of the solid with its `sign`: convex, concave, smooth or same (two faces
of one surface, as where an imprinted line or a seam splits a face).
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property

import networkx as nx
import numpy as np

from recognizer.snapshot import Snapshot, Surface
from recognizer.vector import along, canonical, cross, dot, length, sub
from shared.tolerances import DEFAULT, Tolerances

FILLET_SPAN_DEG = 150.0
"""A hollow arc between two planes is a corner's radius up to this span."""


def cluster(values: Iterable[float], gap: float) -> list[int]:
    """Group number of each value: sorted values nearer than `gap` to the next one share a group."""
    v = np.asarray(list(values), dtype=float)
    if not len(v):
        return []
    order = np.argsort(v, kind="stable")
    steps = np.concatenate(([0], np.cumsum(np.diff(v[order]) > gap)))
    out = np.empty(len(v), dtype=int)
    out[order] = steps
    return out.tolist()


def connected(nodes: Iterable[int], ties: Iterable[tuple[int, int]]) -> list[list[int]]:
    """Nodes that ties join, directly or over others: each piece sorted, in the order of their first nodes."""
    beside: dict[int, list[int]] = {n: [] for n in sorted(nodes)}
    for a, b in ties:
        beside[a].append(b)
        beside[b].append(a)
    out, seen = [], set()
    for first in beside:
        if first in seen:
            continue
        seen.add(first)
        piece = [first]
        for n in piece:  # grows while it is walked
            ahead = [m for m in beside[n] if m not in seen]
            seen.update(ahead)
            piece += dict.fromkeys(ahead)
        out.append(sorted(piece))
    return out


def surface_groups(surfaces: list[Surface], tol: Tolerances = DEFAULT) -> list[int]:
    """Group of each surface: equal numbers are one surface with the same outside (coplanar pieces, half cylinders)."""
    rows = [_signature(s) for s in surfaces]
    gaps = [tol.length_mm * 2] * 8
    gaps[0:3] = [tol.angle_deg * 0.0175] * 3
    columns = [cluster((r[1][k] for r in rows), gaps[k]) for k in range(8)]
    keys: dict[tuple[object, ...], int] = {}
    out = []
    for i, (name, _) in enumerate(rows):
        key = (name, *(c[i] for c in columns)) if name else ("free", i)
        out.append(keys.setdefault(key, len(keys)))
    return out


def _signature(s: Surface) -> tuple[str, tuple[float, ...]]:
    """Kind with sign, and eight numbers that are equal on equal surfaces; an empty kind is never equal to another."""
    if s.kind == "plane":
        return "plane", (*s.axis, s.offset, 0.0, 0.0, 0.0, 0.0)
    side = "-in" if s.hollow else "-out"
    if s.kind == "sphere":
        return "sphere" + side, (0.0, 0.0, 0.0, *s.origin, s.radius, 0.0)
    if s.kind in ("cylinder", "cone", "torus"):
        a = canonical(s.axis)
        foot = along(s.origin, a, -dot(s.origin, a))
        if s.kind == "cylinder":
            return "cylinder" + side, (*a, *foot, s.radius, 0.0)
        if s.kind == "torus":
            return "torus" + side, (*a, *s.origin, s.radius, s.major_radius)
        from math import radians, tan

        way = 1.0 if dot(a, s.axis) > 0 else -1.0
        slope = tan(radians(s.half_angle)) * way
        apex = dot(s.origin, a) - s.radius / slope
        return "cone" + side, (*a, *foot, slope, apex)
    return "", (0.0,) * 8


class PartGraph:
    """Faces, their links and the surfaces that they share.

    joints: (face, face, edge, sign) of every edge between two faces, in edge order.
    """

    def __init__(self, snapshot: Snapshot, tol: Tolerances = DEFAULT) -> None:
        self.snapshot = snapshot
        self.tol = tol
        self.group = surface_groups([f.surface for f in snapshot.faces], tol)
        self.joints = [
            (*e.faces, e.index, self._sign(e.bend, *e.faces))
            for e in snapshot.edges
            if len(e.faces) == 2 and not e.degenerate
        ]

    @cached_property
    def graph(self) -> nx.MultiGraph:
        """The same as a graph of networkx, for what asks for more than neighbours and pieces."""
        graph = nx.MultiGraph()
        graph.add_nodes_from(range(len(self.snapshot.faces)))
        for a, b, key, sign in self.joints:
            graph.add_edge(a, b, key=key, sign=sign)
        return graph

    def _sign(self, bend: float, a: int, b: int) -> str:
        if bend > 0:
            return "convex"
        if bend < 0:
            return "concave"
        return "same" if self.group[a] == self.group[b] else "smooth"

    def links(self, face: int) -> list[tuple[int, int, str]]:
        """(neighbour, edge index, sign) of every link of a face, in edge order. Not to be changed by the caller."""
        return self._links[face]

    @cached_property
    def _links(self) -> list[list[tuple[int, int, str]]]:
        out: list[list[tuple[int, int, str]]] = [[] for _ in self.snapshot.faces]
        for a, b, key, sign in self.joints:
            out[a].append((b, key, sign))
            out[b].append((a, key, sign))
        return out

    def signs(self, face: int) -> set[str]:
        """Signs that occur round a face."""
        return {sign for _, _, sign in self.links(face)}

    @cached_property
    def members(self) -> dict[int, list[int]]:
        """Faces of each surface group."""
        out: dict[int, list[int]] = {}
        for face, group in enumerate(self.group):
            out.setdefault(group, []).append(face)
        return out

    def hollow(self, face: int) -> bool:
        """The face curves round the outside, like a hole's wall or an inner corner."""
        s = self.snapshot.faces[face].surface
        return s.kind in ("cylinder", "cone", "sphere", "torus") and s.hollow

    def components(self, faces: Iterable[int]) -> list[list[int]]:
        """Faces joined over concave edges, hollow smooth edges and same-surface edges; each sorted, in face order."""
        chosen = set(faces)
        ties = (
            (a, b)
            for a, b, key, sign in self.joints
            if a in chosen and b in chosen and key not in self.fillet_ends and self.joins(a, b, sign)
        )
        return connected(chosen, ties)

    def pieces(self, faces: Iterable[int]) -> list[list[int]]:
        """Faces joined over any edges; each piece sorted, in face order."""
        chosen = set(faces)
        return connected(chosen, ((a, b) for a, b, _, _ in self.joints if a in chosen and b in chosen))

    @cached_property
    def fillet_ends(self) -> frozenset[int]:
        """Concave edges that are only there because an inner radius ends at another cut's wall.

        The radius fills the corner of two planes; where it ends, the wall that cuts it off shows beside each of them,
        as far as the sharp corner: the edge starts at the arc's end and reaches the other plane.
        """
        found = set()
        for f in self.snapshot.faces:
            if f.kind != "cylinder" or not self.hollow(f.index) or f.span > FILLET_SPAN_DEG:
                continue
            links = self.links(f.index)
            sides = [n for n, _, sign in links if sign == "smooth" and self.snapshot.faces[n].kind == "plane"]
            for end, arc, sign in links:
                if sign == "convex" and len(sides) == 2:
                    found |= self._beside_end(end, arc, sides)
        return frozenset(found)

    def _beside_end(self, end: int, arc: int, sides: list[int]) -> set[int]:
        ends = self.snapshot.edges[arc].start, self.snapshot.edges[arc].end
        found = set()
        for side, across in (sides, sides[::-1]):  # their links are few, where the end may be a face with thousands
            beyond = self.snapshot.faces[across].surface
            for e in (self.snapshot.edges[key] for n, key, sign in self.links(side) if n == end and sign == "concave"):
                for near, far in ((e.start, e.end), (e.end, e.start)):
                    touches = any(length(sub(near, p)) < 4 * self.tol.length_mm for p in ends)
                    if touches and abs(dot(far, beyond.axis) - beyond.offset) < 4 * self.tol.length_mm:
                        found.add(e.index)
        return found

    def joins(self, a: int, b: int, sign: str) -> bool:
        """Whether a link keeps two faces in one cut. Only one convex body's faces can meet in a concave edge."""
        if sign in ("concave", "same"):
            return True
        return sign == "smooth" and (self.hollow(a) or self.hollow(b))


def coaxial(a: Surface, b: Surface, tol: Tolerances = DEFAULT) -> bool:
    """Whether two axes lie on one line."""
    if length(cross(a.axis, b.axis)) > tol.angle_deg * 0.0175:
        return False
    rel = sub(b.origin, a.origin)
    return length(sub(rel, _scaled(a.axis, dot(rel, a.axis)))) < tol.length_mm * 2


def _scaled(v: tuple[float, float, float], k: float) -> tuple[float, float, float]:
    return (v[0] * k, v[1] * k, v[2] * k)
