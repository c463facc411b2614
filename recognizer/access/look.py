"""Several directions at once: what of every face is seen, how large a cutter fits, and what is in the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from recognizer.access.ahead import Walls
from recognizer.access.beside import Beside
from recognizer.access.feet import Feet
from recognizer.access.floors import Floor, floors_of
from recognizer.access.material import Material
from recognizer.access.mesh import Mesh
from recognizer.access.near import counting
from recognizer.access.obstacles import Nodes, Segments
from recognizer.access.overhead import FRONT_MM, Overhead
from recognizer.access.roles import UPRIGHT
from recognizer.access.scene import Scene
from recognizer.access.strips import Strips, strips_of
from recognizer.access.tangent import Fit, discs_along, largest_discs
from shared.units import Vector

Array = np.ndarray
INSIDE_MM = 2 * FRONT_MM
"""Nodes at the ends of strips are looked at from this far inside: in front of a wall that leans in over its foot lies the floor."""


@dataclass
class Crests:
    """Facets of curved faces that lie square to the direction: face, area, middle (n, 2), level, largest radius, what hides them."""

    face: Array
    area: Array
    middle: Array
    level: Array
    radius: Array
    hidden: Array
    by: Array


@dataclass
class Look:
    """All that is known from some directions."""

    scene: Scene
    strips: Strips
    fit: Fit
    hidden: Array
    floors: list[Floor]
    feet: Feet
    foot_fit: Fit
    crests: Crests
    limit: float
    segments: Segments

    @cached_property
    def material(self) -> Material:
        """What stands above levels."""
        return Material(self.scene)

    @cached_property
    def beside(self) -> Beside:
        """How near to floors what stands beside them comes."""
        return Beside(self)

    @cached_property
    def floor_by_face(self) -> dict[int, Floor]:
        """The floors by their faces."""
        return {f.face: f for f in self.floors}

    @cached_property
    def by_face(self) -> tuple[Array, Array]:
        """(first strip, first node) of each face, and the ends: strips and nodes stand in order of their faces."""
        strips = np.searchsorted(self.strips.face, np.arange(self.scene.faces + 1))
        return strips, np.searchsorted(self.strips.strip, strips)

    def strips_of(self, face: int) -> slice:
        """The strips of a face."""
        first, _ = self.by_face
        return slice(int(first[face]), int(first[face + 1]))

    def nodes_of(self, face: int) -> slice:
        """The nodes of a face."""
        _, first = self.by_face
        return slice(int(first[face]), int(first[face + 1]))


def look(mesh: Mesh, directions: Sequence[Vector], limit: float, reach: float) -> Look:
    """Everything along some directions; discs larger than radius `limit` are not told apart.

    reach: mm beside the part within which something will be asked: of cutters and their holders.
    """
    scene = Scene(mesh, directions, reach)
    overhead = Overhead(scene)
    strips = strips_of(scene)
    hidden = _hidden(strips, overhead)
    floors = floors_of(scene, overhead)
    feet = Feet(scene, floors)
    crests, crest_nodes = _crests(scene)
    crests.hidden = overhead.over(crest_nodes.p[::4], crests.level)
    segments = _open(scene.segments, overhead)
    fit, foot_fit, crest_fit = _fits(strips, hidden, feet, crest_nodes, segments, scene, limit)
    _best_side(crests, crest_fit)
    return Look(scene, strips, fit, hidden, floors, feet, foot_fit, crests, limit, segments)


def _fits(
    strips: Strips, hidden: Array, feet: Feet, crests: Nodes, segments: Segments, scene: Scene, limit: float
) -> tuple[Fit, Fit, Fit]:
    """The largest discs at the nodes of strips, at the feet of walls on floors, and at crests."""
    plane = ~scene.pieces.curved[strips.piece]
    lit = hidden < 0
    lead, count = strips.runs
    # A plane face's strip is asked as a whole while any of it is seen.
    walls = np.flatnonzero(plane[strips.strip[lead]] & np.logical_or.reduceat(lit, lead)) if len(lead) else lead
    first, count = lead[walls], count[walls]
    straight = np.repeat(first, count) + counting(count)
    nodes = _joined(strips.nodes.some(straight), feet.nodes.some(np.arange(feet.straight_nodes)))
    ends = [np.concatenate([x, y]) for x, y in zip(strips.walls(first, count), feet.walls, strict=True)]
    found = discs_along(Walls(*ends), nodes, segments, scene.arcs, scene.cut_tops, limit)
    bent = np.flatnonzero(lit & ~plane[strips.strip])
    others = feet.nodes.some(np.arange(feet.straight_nodes, len(feet.nodes)))
    cap = np.concatenate([strips.cap[bent], np.full(len(others) + len(crests), np.inf)])
    nodes = _joined(strips.nodes.some(bent), others, crests)
    rest = largest_discs(nodes, segments, scene.arcs, scene.cut_tops, limit, cap)
    fit, foot = Fit.free(len(lit)), Fit.free(len(feet.nodes))
    fit.take(straight, found.some(slice(len(straight))))
    fit.take(bent, rest.some(slice(len(bent))))
    fit.take(np.flatnonzero(~lit), Fit(0.0, -1, 0.0))  # type: ignore[arg-type]
    foot.take(np.arange(feet.straight_nodes), found.some(slice(len(straight), None)))
    foot.take(np.arange(feet.straight_nodes, len(foot.radius)), rest.some(slice(len(bent), len(bent) + len(others))))
    return fit, foot, rest.some(slice(len(bent) + len(others), None))


def _hidden(strips: Strips, overhead: Overhead) -> Array:
    """The face that hides each node, -1 where none does: asked strip by strip, then node by node where need be."""
    nodes = strips.nodes
    out = np.full(len(nodes), -1)
    if not len(nodes):
        return out
    front = nodes.p + strips.inside(INSIDE_MM) + nodes.n * (FRONT_MM + nodes.slack[:, None])
    lead, count = strips.runs
    # On facets nodes stand on the true face, not on the line between the first and the last.
    plane = np.flatnonzero(~overhead.scene.pieces.curved[strips.piece[strips.strip[lead]]])
    whole, free = np.full(len(lead), -1), np.zeros(len(lead), bool)
    first = lead[plane]
    whole[plane], free[plane] = overhead.over_lines(front[first], front[first + count[plane] - 1], nodes.level[first])
    out = np.repeat(whole, count)
    rest = np.flatnonzero((out < 0) & ~np.repeat(free, count))
    out[rest] = overhead.over(front[rest], nodes.level[rest])
    return out


def _open(segments: Segments, overhead: Overhead) -> Segments:
    """Obstacles that are not under more material: a growing disc meets that material's own edge first."""
    hidden = overhead.over((segments.a + segments.b) / 2, segments.top)
    return segments.some(np.flatnonzero(hidden < 0))


def _best_side(crests: Crests, fit: Fit) -> None:
    if len(crests.face):
        four = fit.radius.reshape(-1, 4)
        best = four.argmax(axis=1)
        crests.radius = four.max(axis=1)
        crests.by = fit.face.reshape(-1, 4)[np.arange(len(best)), best]


def _joined(*groups: Nodes) -> Nodes:
    return Nodes(*(np.concatenate([getattr(g, name) for g in groups]) for name in ("p", "n", "level", "slack")))


def _crests(scene: Scene) -> tuple[Crests, Nodes]:
    """Facets square to the direction; a cutter may come to them from four sides."""
    pieces = scene.pieces
    k = np.flatnonzero(pieces.curved & (scene.cosine >= 1 - UPRIGHT**2) & ~scene.buried_piece)
    first = np.searchsorted(pieces.side_piece, k)
    middle = pieces.side_a[first[:, None] + np.arange(3)].mean(axis=1) if len(k) else np.empty((0, 3))
    sides = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    empty = np.full(len(k), -1)
    crests = Crests(pieces.face[k], pieces.area[k], middle[:, :2], middle[:, 2], np.full(len(k), np.inf), empty, empty)
    nodes = Nodes(
        np.repeat(middle[:, :2], 4, axis=0),
        np.tile(sides, (len(k), 1)),
        np.repeat(middle[:, 2], 4),
        np.repeat(pieces.deviation[k], 4),
    )
    return crests, nodes
