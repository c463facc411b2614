"""Where walls rise from floors: nodes along their feet, at which a disc on the floor is asked for."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from recognizer.access.floors import Floor
from recognizer.access.levels import FOOT_MM, LEVEL_MM
from recognizer.access.obstacles import Nodes
from recognizer.access.scene import Scene
from recognizer.access.strips import ALONG, PULL_MM

Array = np.ndarray


class Feet:
    """Nodes at the walls that rise from floors, normals into the floors; sets `walls`, `feet` and `walled` of each floor."""

    def __init__(self, scene: Scene, floors: list[Floor]) -> None:
        self.scene = scene
        self.straight: list[tuple[Floor, int, bool]] = []
        self.bent: list[tuple[Floor, int, bool]] = []
        for floor in floors:
            self._gather(floor)
        parts = [self._lines(), *(self._along(*one) for one in self.bent)]
        p, n = (np.concatenate(column) for column in zip(*parts, strict=True))
        owner = [f for f, _, _ in self.straight for _ in ALONG]
        owner += [f for (f, _, _), (q, _) in zip(self.bent, parts[1:], strict=True) for _ in range(len(q))]
        self._own(floors, owner, p, n)
        level = np.array([f.level + FOOT_MM for f in owner]).reshape(-1)
        self.nodes = Nodes(p, n, level, np.zeros(len(p)))
        self.straight_nodes = len(self.straight) * len(ALONG)
        """So many nodes, the first of all, stand along straight feet."""
        count = np.full(len(self.straight), len(ALONG))
        self.walls = (
            *self._ends,
            n[: self.straight_nodes : len(ALONG)],
            level[: self.straight_nodes : len(ALONG)],
            count,
        )
        """(ends a, b, normal, level, how many nodes) of the straight feet."""
        self.share = np.zeros(len(p))
        """Where along its straight foot each node stands, 0 to 1."""
        self.share[: self.straight_nodes] = np.tile(ALONG, len(self.straight))

    def _gather(self, floor: Floor) -> None:
        snapshot = self.scene.mesh.snapshot
        rising = set()
        for loop in self.scene.face(floor.face).loops:
            for e, forward in loop:
                if e not in rising and self._rises(e, floor):
                    rising.add(e)
                    edge = snapshot.edges[e]
                    line = edge.curve == "line" and len(edge.points) == 2
                    (self.straight if line else self.bent).append((floor, e, forward))
                    if not line:
                        floor.feet = None
        floor.walled = _walled(self.scene, floor, rising)

    def _rises(self, edge: int, floor: Floor) -> bool:
        """Whether the other face of an edge stands up from the floor."""
        e = self.scene.mesh.snapshot.edges[edge]
        if e.degenerate or len(e.faces) != 2:
            return False
        if e.bend < 0:
            return True
        n = self.scene.part_faces
        other = e.faces[0] if e.faces[1] == floor.face % n else e.faces[1]
        return e.bend == 0 and bool(self.scene.tops[floor.face // n * n + other] > floor.level + LEVEL_MM)

    def _flat(self, floor: Floor, points: Array) -> Array:
        k = self.scene.tile(floor.face)
        return points @ self.scene.axes[k][:, :2] + self.scene.shift[k, :2]

    def _lines(self) -> tuple[Array, Array]:
        """Places (n, 2) and normals of nodes along all straight feet."""
        self._ends = np.empty((0, 2)), np.empty((0, 2))
        if not self.straight:
            return self._ends
        edges = self.scene.mesh.snapshot.edges
        ends = np.array([edges[e].points if forward else edges[e].points[::-1] for _, e, forward in self.straight])
        k = np.array([self.scene.tile(f.face) for f, _, _ in self.straight])
        axes = self.scene.axes[k][:, None, :, :2]
        flat = ends[..., :1] * axes[..., 0, :] + ends[..., 1:2] * axes[..., 1, :] + ends[..., 2:] * axes[..., 2, :]
        flat = flat + self.scene.shift[k][:, None, :2]
        self._ends = flat[:, 0], flat[:, 1]
        way = flat[:, 1] - flat[:, 0]
        length = np.sqrt((way**2).sum(axis=1))
        for i, (floor, _, _) in enumerate(self.straight):
            if floor.feet is not None:
                floor.feet.append((flat[i, 0], flat[i, 1], slice(i * len(ALONG), (i + 1) * len(ALONG))))
        pull = np.minimum(0.25, PULL_MM / np.maximum(length, 1e-9))[:, None]
        share = np.clip(ALONG, pull, 1 - pull)[..., None]
        inward = np.stack([-way[:, 1], way[:, 0]], axis=1) / np.maximum(length, 1e-12)[:, None]
        return (flat[:, :1] + share * way[:, None]).reshape(-1, 2), np.repeat(inward, len(ALONG), axis=0)

    def _along(self, floor: Floor, edge: int, forward: bool) -> tuple[Array, Array]:
        """The same along one foot that is no straight line."""
        e = self.scene.mesh.snapshot.edges[edge]
        q = self._flat(floor, np.array(e.points if forward else e.points[::-1]))
        way = q[1:] - q[:-1]
        inward = np.stack([-way[:, 1], way[:, 0]], axis=1)
        if e.curve != "circle" or e.centre is None:
            return (q[:-1] + q[1:]) / 2, inward / np.maximum(np.linalg.norm(inward, axis=1), 1e-12)[:, None]
        centre = self._flat(floor, np.array(e.centre))
        mid = (q[:-1] + q[1:]) / 2 - centre
        out = np.concatenate([mid, q - centre])
        out = out / np.maximum(np.linalg.norm(out, axis=1), 1e-12)[:, None]
        sign = 1.0 if (mid * inward).sum() > 0 else -1.0
        return centre + out * e.radius, sign * out

    def _own(self, floors: list[Floor], owner: list[Floor], p: Array, n: Array) -> None:
        """Sets each floor's nodes: those that are seen."""
        name = np.array([f.face for f in owner], int)
        order = np.argsort(name, kind="stable")
        faces = np.array([f.face for f in floors], int)
        first, last = (np.searchsorted(name[order], faces, side) for side in ("left", "right"))
        for floor, one, two in zip(floors, first.tolist(), last.tolist(), strict=True):
            floor.walls = order[one:two]
            if floor.seen is not floor.outline and two > one:
                front = p[floor.walls] + 0.01 * n[floor.walls]
                floor.walls = floor.walls[shapely.contains_xy(floor.seen, front[:, 0], front[:, 1])]
                floor.feet = None


def _walled(scene: Scene, floor: Floor, rising: set[int]) -> BaseGeometry | None:
    """The floor with the holes filled that go down, where all its outer edges rise and each hole rises or goes down."""
    if floor.seen is not floor.outline or floor.outline.geom_type != "Polygon":
        return None
    outer, *holes = ([e for e, _ in loop] for loop in scene.face(floor.face).loops)
    if not rising.issuperset(outer) or len(holes) != len(floor.outline.interiors):
        return None
    if any(0 < len(rising.intersection(hole)) < len(hole) for hole in holes):
        return None
    kept = [ring for ring, hole in zip(floor.outline.interiors, holes, strict=True) if rising.issuperset(hole)]
    return shapely.Polygon(floor.outline.exterior, kept) if len(kept) < len(holes) else floor.outline
