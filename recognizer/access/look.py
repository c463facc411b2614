"""Several directions at once: what of every face is seen, how large a cutter fits, and what is in the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from recognizer.access.beside import Beside
from recognizer.access.feet import Feet
from recognizer.access.floors import Floor, floors_of
from recognizer.access.material import Material
from recognizer.access.mesh import Mesh
from recognizer.access.obstacles import Nodes, Segments
from recognizer.access.overhead import FRONT_MM, Overhead
from recognizer.access.roles import UPRIGHT
from recognizer.access.scene import Scene
from recognizer.access.strips import Strips, free_strips, strips_of
from recognizer.access.tangent import Fit, largest_discs
from shared.units import Vector

Array = np.ndarray


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
    free = free_strips(scene, strips, segments, scene.arcs, 2 * limit)
    seen = np.flatnonzero((hidden < 0) & ~free[strips.strip])
    nodes = _joined(strips.nodes.some(seen), feet.nodes, crest_nodes)
    many = len(feet.nodes)
    cap = np.concatenate([strips.cap[seen], np.full(many + len(crest_nodes), np.inf)])
    found = largest_discs(nodes, segments, scene.arcs, scene.cut_tops, limit, cap)
    parts = np.split(np.arange(len(nodes)), [len(seen), len(seen) + many])
    seen_fit, foot_fit, crest_fit = (Fit(found.radius[k], found.face[k], found.across[k]) for k in parts)
    count = len(hidden)
    fit = Fit(np.where(hidden < 0, np.inf, 0.0), np.full(count, -1), np.zeros(count))
    fit.radius[seen], fit.face[seen], fit.across[seen] = seen_fit.radius, seen_fit.face, seen_fit.across
    _best_side(crests, crest_fit)
    return Look(scene, strips, fit, hidden, floors, feet, foot_fit, crests, limit, segments)


def _hidden(strips: Strips, overhead: Overhead) -> Array:
    """The face that hides each node, -1 where none does: asked strip by strip on plane faces, then node by node."""
    nodes = strips.nodes
    front = nodes.p + nodes.n * (FRONT_MM + nodes.slack[:, None])
    lead = (
        np.flatnonzero(np.concatenate([[True], strips.strip[1:] != strips.strip[:-1]])) if len(nodes) else nodes.level
    )
    count = np.diff(np.append(lead, len(nodes)))
    long = np.flatnonzero(count > 1)
    first, last = lead[long], lead[long] + count[long] - 1
    out = np.full(len(nodes), -1)
    whole = overhead.over_lines(front[first], front[last], nodes.level[first]) if len(long) else np.empty(0, int)
    for k, f in zip(long[whole >= 0].tolist(), whole[whole >= 0].tolist(), strict=True):
        out[lead[k] : lead[k] + count[k]] = f
    rest = np.flatnonzero(out < 0)
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
    k = np.flatnonzero(pieces.curved & (scene.cosine >= 1 - UPRIGHT**2))
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
