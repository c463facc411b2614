"""One direction: what of every face is seen, how large a cutter fits, and what is in the way."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely

from recognizer.access.corners import Foot, corner_loss
from recognizer.access.floors import (
    SLIVER_MM,
    Floor,
    Steps,
    arc_line,
    floors_of,
    foot_shares,
    touched_region,
    touched_share,
    wall_nodes,
)
from recognizer.access.material import Material
from recognizer.access.mesh import Mesh
from recognizer.access.obstacles import Nodes, Segments
from recognizer.access.overhead import FRONT_MM, Overhead
from recognizer.access.scene import FOOT_MM, UPRIGHT, Scene
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
    """All that is known from one direction."""

    scene: Scene
    strips: Strips
    fit: Fit
    hidden: Array
    floors: list[Floor]
    foot_fit: Fit
    crests: Crests
    limit: float
    segments: Segments
    foot_share: Array
    _material: Material | None = field(default=None, repr=False)

    @property
    def material(self) -> Material:
        """What stands above levels, made when first asked for."""
        if self._material is None:
            self._material = Material(self.scene)
        return self._material

    def floor_fits(self, floor: Floor) -> float:
        """Radius up to which a flat cutter touches all of a floor that is seen, by the walls that rise from it."""
        return float(self.foot_fit.radius[floor.walls].min()) if len(floor.walls) else np.inf

    def floor_share(self, floor: Floor, radius: float) -> float:
        """Share of a floor that a flat cutter touches."""
        if radius <= self.floor_fits(floor) + SLIVER_MM and radius <= self._beside(floor, radius) + SLIVER_MM:
            return floor.seen_share
        lost = self._in_corners(floor, radius)
        if lost is not None:
            return max(0.0, 1 - lost / floor.outline.area)
        return touched_share(floor, self.material, radius)

    def _in_corners(self, floor: Floor, radius: float) -> float | None:
        """Area lost in sharp corners, where these are all that is in a cutter's way."""
        if not floor.feet or not self._only_feet(floor, radius):
            return None
        fit = self.foot_fit.radius
        feet = []
        for a, b, k in floor.feet:
            along = self.foot_share[k] * float(np.linalg.norm(b - a))
            feet.append(Foot(a, b, along, fit[k]))
        return corner_loss(feet, radius)

    def _only_feet(self, floor: Floor, radius: float) -> bool:
        """Whether nothing but the walls that rise from a floor stands within the cutter's reach of it."""
        if floor.walled is not None and len(floor.walled.interiors) == 0:
            return True
        key = round(radius, 4)
        if key not in floor.alone:
            ends = np.array([[a, b] for a, b, _ in floor.feet or []])
            edge = shapely.union_all(shapely.linestrings(ends)) if len(ends) else shapely.Point()
            floor.alone[key] = not (shapely.distance(self._near(floor, radius), edge) > 1e-3).any()
        return floor.alone[key]

    def _near(self, floor: Floor, radius: float) -> Array:
        """Outlines of what rises within a radius of a floor."""
        s, arcs = self.segments, self.scene.arcs
        x0, y0, x1, y1 = floor.seen.bounds
        low, high = np.array([x0, y0]) - radius, np.array([x1, y1]) + radius
        level = floor.level + FOOT_MM
        k = (np.minimum(s.a, s.b) < high).all(axis=1) & (np.maximum(s.a, s.b) > low).all(axis=1) & (s.top > level)
        lines = shapely.linestrings(np.stack([s.a[k], s.b[k]], axis=1))
        j = (np.abs(arcs.centre - (low + high) / 2) < (high - low) / 2 + arcs.radius[:, None]).all(axis=1)
        j &= arcs.top > level
        shapes = np.concatenate([lines, [arc_line(arcs, i) for i in np.flatnonzero(j).tolist()]])
        return shapes[shapely.dwithin(shapes, floor.seen, radius)]

    def _beside(self, floor: Floor, radius: float) -> float:
        """Least disc at the walls that stand near a floor at its level, whether or not they rise from it."""
        x0, y0, x1, y1 = floor.seen.bounds
        s = self.strips
        level = floor.level + FOOT_MM
        band = s.band[s.strip]
        p = s.nodes.p
        near = (band[:, 0] <= level) & (band[:, 1] > level) & (self.hidden < 0)
        near &= (p[:, 0] > x0 - radius) & (p[:, 0] < x1 + radius) & (p[:, 1] > y0 - radius) & (p[:, 1] < y1 + radius)
        return float(self.fit.radius[near].min(initial=np.inf))

    def floor_region(self, floor: Floor, radius: float):  # type: ignore[no-untyped-def]
        """The region of a floor that a flat cutter touches."""
        return touched_region(floor, self.material, radius)

    def floor_share_beside(self, floor: Floor, radius: float, flat: float, steps: Steps) -> float:
        """Share of a floor that a cutter touches whose bottom is flat up to a radius; steps: (radius, level) of what stands wider above."""
        key = (round(radius, 6), round(flat, 6), steps)
        if floor.seen.is_empty:
            return 0.0
        if key not in floor.shares:
            region = touched_region(floor, self.material, radius, flat, steps)
            floor.shares[key] = region.area / floor.outline.area
        return floor.shares[key]


def look(mesh: Mesh, d: Vector, limit: float) -> Look:
    """Everything along one direction; discs larger than radius `limit` are not told apart."""
    scene = Scene(mesh, d)
    overhead = Overhead(scene)
    strips = strips_of(scene)
    hidden = _hidden(strips, overhead)
    floors = floors_of(scene, overhead)
    feet = wall_nodes(scene, floors)
    crests, crest_nodes = _crests(scene)
    crests.hidden = overhead.over(crest_nodes.p[::4], crests.level)
    segments = _open(scene.segments, overhead)
    free = free_strips(scene, strips, segments, scene.arcs, 2 * limit)
    seen = np.flatnonzero((hidden < 0) & ~free[strips.strip])
    nodes = _joined(strips.nodes.some(seen), feet, crest_nodes)
    cap = np.concatenate([strips.cap[seen], np.full(len(feet) + len(crest_nodes), np.inf)])
    found = largest_discs(nodes, segments, scene.arcs, scene.cut_tops, limit, cap)
    parts = np.split(np.arange(len(nodes)), [len(seen), len(seen) + len(feet)])
    seen_fit, foot_fit, crest_fit = (Fit(found.radius[k], found.face[k], found.across[k]) for k in parts)
    count = len(hidden)
    fit = Fit(np.where(hidden < 0, np.inf, 0.0), np.full(count, -1), np.zeros(count))
    fit.radius[seen], fit.face[seen], fit.across[seen] = seen_fit.radius, seen_fit.face, seen_fit.across
    _best_side(crests, crest_fit)
    return Look(scene, strips, fit, hidden, floors, foot_fit, crests, limit, segments, foot_shares(floors, len(feet)))


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
    pieces = scene.mesh.pieces
    k = np.flatnonzero(pieces.curved & (scene.cosine >= 1 - UPRIGHT**2))
    first = np.searchsorted(pieces.side_piece, k)
    middle = scene.side_a[first[:, None] + np.arange(3)].mean(axis=1) if len(k) else np.empty((0, 3))
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
