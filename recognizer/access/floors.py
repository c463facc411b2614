"""Floors: faces square to the direction. A flat cutter touches what the opening of the free region by its disc covers.

The cutter's axis may stand wherever no obstacle above the floor is nearer than its radius; the floor is touched within its
radius of such places. All of it is touched exactly where the disc fits beside every wall that rises from the floor.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi, sin, sqrt

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from recognizer.access.material import Material
from recognizer.access.obstacles import Arcs, Nodes
from recognizer.access.overhead import Overhead
from recognizer.access.scene import FOOT_MM, LEVEL_MM, UPRIGHT, Scene
from recognizer.access.shadows import face_polygon
from recognizer.access.strips import ALONG, PULL_MM

Array = np.ndarray
QUARTER = 8
"""Chords of a quarter turn in buffers; radii are chosen so that the polygon has the circle's area."""
ROUND = 1 / sqrt(2 * QUARTER / pi * sin(pi / (2 * QUARTER)))
SLIVER_MM = 5e-4


@dataclass
class Floor:
    """A face square to the direction: its outline, what is seen of it, its level, which nodes stand at its walls."""

    face: int
    level: float
    outline: BaseGeometry
    seen: BaseGeometry
    hidden_by: list[int]
    walls: Array = field(default_factory=lambda: np.empty(0, int))
    shares: dict = field(default_factory=dict)
    alone: dict[float, bool] = field(default_factory=dict)
    feet: list[tuple[Array, Array, slice]] | None = field(default_factory=list)
    """Straight feet: ends, and which of `walls` are their nodes; None where a foot is no straight line or is partly hidden."""
    walled: BaseGeometry | None = None
    """Where a wall rises all round: the outline, with the holes filled that go down. No cutter comes from beyond."""

    @property
    def seen_share(self) -> float:
        """Share of the floor that is seen."""
        return min(1.0, self.seen.area / self.outline.area) if self.outline.area > 0 else 0.0


def floors_of(scene: Scene, overhead: Overhead) -> list[Floor]:
    """All floors of a direction."""
    pieces = scene.mesh.pieces
    chosen = np.flatnonzero((scene.cosine > 1 - UPRIGHT**2) & ~pieces.curved)
    first = np.searchsorted(pieces.side_piece, chosen)
    out = []
    for piece, level in zip(chosen, scene.side_a[first, 2], strict=True):
        outline = face_polygon(scene, int(pieces.face[piece]))
        seen, by = overhead.seen_part(outline, float(level))
        out.append(Floor(int(pieces.face[piece]), float(level), outline, seen, by))
    return out


def wall_nodes(scene: Scene, floors: list[Floor]) -> Nodes:
    """Nodes along the foot of every wall that rises from a floor, normals into the floor; sets `walls` of each floor."""
    p, n, level, count = [], [], [], 0
    for floor in floors:
        points, normals = _feet(scene, floor, count)
        floor.walls = np.arange(count, count + len(points))
        count += len(points)
        p.append(points)
        n.append(normals)
        level.append(np.full(len(points), floor.level + FOOT_MM))
    if not p:
        return Nodes(np.empty((0, 2)), np.empty((0, 2)), np.empty(0), np.empty(0))
    return Nodes(np.concatenate(p), np.concatenate(n), np.concatenate(level), np.zeros(count))


def foot_shares(floors: list[Floor], count: int) -> Array:
    """(count,) where along its straight foot each node stands, 0 to 1."""
    out = np.zeros(count)
    for floor in floors:
        for _, _, k in floor.feet or []:
            out[k] = ALONG
    return out


def _feet(scene: Scene, floor: Floor, count: int) -> tuple[Array, Array]:
    snapshot = scene.mesh.snapshot
    points, normals = [], []
    rising = {e for e in snapshot.face_edges[floor.face] if _rises(scene, e, floor)}
    floor.walled = _walled(scene, floor, rising)
    for e in snapshot.face_edges[floor.face]:
        if e in rising:
            p, n = _along(scene, e)
            points.append(p)
            normals.append(n)
            if snapshot.edges[e].curve != "line":
                floor.feet = None
            elif floor.feet is not None:
                ends = np.array(snapshot.edges[e].points)[[0, -1]] @ scene.axes[:, :2]
                floor.feet.append((ends[0], ends[1], slice(count, count + len(p))))
            count += len(p)
    if not points:
        return np.empty((0, 2)), np.empty((0, 2))
    p, n = np.concatenate(points), np.concatenate(normals)
    front = p + 0.01 * n
    inside = shapely.contains_xy(floor.outline, front[:, 0], front[:, 1])
    n = np.where(inside[:, None], n, -n)
    if floor.seen is floor.outline:
        return p, n
    front = p + 0.01 * n
    seen = shapely.contains_xy(floor.seen, front[:, 0], front[:, 1])
    floor.feet = None
    return p[seen], n[seen]


def _rises(scene: Scene, edge: int, floor: Floor) -> bool:
    """Whether the other face of an edge stands up from the floor."""
    e = scene.mesh.snapshot.edges[edge]
    if e.degenerate or len(e.faces) != 2:
        return False
    other = e.faces[0] if e.faces[1] == floor.face else e.faces[1]
    if e.bend < 0:
        return True
    return e.bend == 0 and scene.tops[other] > floor.level + LEVEL_MM


def _walled(scene: Scene, floor: Floor, rising: set[int]) -> BaseGeometry | None:
    """The floor with the holes filled that go down, where all its outer edges rise and each hole rises or goes down."""
    if floor.seen is not floor.outline or floor.outline.geom_type != "Polygon":
        return None
    outer, *holes = ([e for e, _ in loop] for loop in scene.mesh.snapshot.faces[floor.face].loops)
    if not rising.issuperset(outer) or len(holes) != len(floor.outline.interiors):
        return None
    if any(0 < len(rising.intersection(hole)) < len(hole) for hole in holes):
        return None
    kept = [ring for ring, hole in zip(floor.outline.interiors, holes, strict=True) if rising.issuperset(hole)]
    return shapely.Polygon(floor.outline.exterior, kept) if len(kept) < len(holes) else floor.outline


def _along(scene: Scene, edge: int) -> tuple[Array, Array]:
    """Nodes along an edge and unit normals across it (either side)."""
    e = scene.mesh.snapshot.edges[edge]
    q = np.array(e.points) @ scene.axes[:, :2]
    if e.curve == "circle" and e.centre is not None:
        centre = np.array(e.centre) @ scene.axes[:, :2]
        mid = (q[:-1] + q[1:]) / 2 - centre
        out = np.concatenate([mid, q - centre])
        out = out / np.maximum(np.linalg.norm(out, axis=1), 1e-12)[:, None]
        return centre + out * e.radius, out
    if len(q) == 2:
        length = float(np.linalg.norm(q[1] - q[0]))
        pull = min(0.25, PULL_MM / max(length, 1e-9))
        t = np.clip(ALONG, pull, 1 - pull)[:, None]
        p = q[0] + t * (q[1] - q[0])
        way = (q[1] - q[0]) / max(length, 1e-12)
        return p, np.tile([-way[1], way[0]], (len(p), 1))
    way = q[1:] - q[:-1]
    way = way / np.maximum(np.linalg.norm(way, axis=1), 1e-12)[:, None]
    return (q[:-1] + q[1:]) / 2, np.stack([-way[:, 1], way[:, 0]], axis=1)


def arc_line(arcs: Arcs, i: int) -> BaseGeometry:
    """An arc as a line in chords of 2 degrees."""
    half = arcs.half[i]
    a = arcs.middle[i] + np.linspace(-half, half, max(3, int(np.ceil(half / 0.02)) + 1))
    return shapely.linestrings(arcs.centre[i] + arcs.radius[i] * np.stack([np.cos(a), np.sin(a)], axis=1))


Steps = tuple[tuple[float, float], ...]
"""Cylinders of a cutter above its tip: (radius, level of its lower end)."""


def touched_region(
    floor: Floor, material: Material, radius: float, flat: float | None = None, steps: Steps = ()
) -> BaseGeometry:
    """What of a floor a cutter touches: the opening of the free region by the cutter's disc.

    flat: radius of its flat bottom, if its edge is round. steps: what stands wider further up, round edge or holder.
    """
    grown = radius * ROUND
    spread = grown if flat is None or flat == radius else flat * ROUND
    if floor.walled is not None:
        free = _sound(floor.walled.buffer(SLIVER_MM - grown, quad_segs=QUARTER), floor.walled.boundary, radius)
        if flat is not None and flat < radius:
            free = floor.walled.buffer(SLIVER_MM - spread, quad_segs=QUARTER)
    else:
        above = _beside(floor, material, floor.level, 2.5 * radius)
        # Places farther away than a radius touch nothing of the floor: a box is as good as its outline grown.
        x0, y0, x1, y1 = floor.seen.bounds
        free = shapely.box(x0 - radius, y0 - radius, x1 + radius, y1 + radius)
        if not above.is_empty:
            blocked = above.buffer(spread - SLIVER_MM, quad_segs=QUARTER)
            free = _sound(free.difference(blocked), above, spread / ROUND)
        elif not steps:
            return floor.seen
    for wide, level in steps:
        above = _beside(floor, material, level, radius + wide)
        free = free.difference(above.buffer(wide * ROUND - STEP_MM, quad_segs=QUARTER))
    return free.buffer(spread + SLIVER_MM, quad_segs=QUARTER).intersection(floor.seen)


STEP_MM = 0.01
"""What stands wider above the tip may come so near: the tolerance of lengths."""


def _beside(floor: Floor, material: Material, level: float, reach: float) -> BaseGeometry:
    """What stands above a level within reach of a floor."""
    x0, y0, x1, y1 = floor.seen.bounds
    above = material.near((x0 - reach, y0 - reach, x1 + reach, y1 + reach), level)
    # Chords of curved faces above reach over the floor's edge by a hair.
    return above.difference(floor.seen)


def _sound(free: BaseGeometry, obstacles: BaseGeometry, radius: float) -> BaseGeometry:
    """Of a region of free places those parts that are free: growing a hollow arc by more than its own radius, the geometry
    library leaves specks."""
    parts = shapely.get_parts(free)
    if not len(parts):
        return free
    clear = shapely.distance(shapely.point_on_surface(parts), obstacles) >= 0.97 * radius - 2 * SLIVER_MM
    return free if clear.all() else shapely.multipolygons(parts[clear])


def touched_share(floor: Floor, material: Material, radius: float) -> float:
    """Share of a floor that a flat cutter touches."""
    if floor.seen.is_empty:
        return 0.0
    key = round(radius, 6)
    if key not in floor.shares:
        floor.shares[key] = touched_region(floor, material, radius).area / floor.outline.area
    return floor.shares[key]
