"""Faces of the part seen across a direction: images of floors, lines of upright walls, lower edges of slopes."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.plane import Plane
from planner.proof.rays import Array
from planner.proof.regions import around
from planner.proof.scene import LEVEL, Job, Scene
from planner.proof.sides import edge

UPRIGHT = 0.02
"""Cosine between a triangle's normal and the direction up to which it stands upright."""


def flat_image(scene: Scene, faces: list[int], plane: Plane) -> BaseGeometry:
    """All of the faces' triangles seen along the direction, as one region."""
    corners = scene.corners[scene.triangles(faces)]
    flat = plane.flat(corners)
    images = shapely.polygons(flat) if len(flat) else np.empty(0)
    return shapely.union_all(images[shapely.area(images) > 1e-9]).buffer(1e-4).buffer(-1e-4)


def wall_pieces(scene: Scene, faces: list[int], plane: Plane) -> Array:
    """(k, 4) start and end of lines on which faces stand upright, with the material on the left."""
    chosen = scene.triangles(faces)
    chosen = chosen[np.abs(plane.levels(scene.normals[chosen])) < UPRIGHT]
    flat = plane.flat(scene.corners[chosen])
    normal = plane.flat(scene.normals[chosen])
    along = np.column_stack([-normal[:, 1], normal[:, 0]])
    at = np.einsum("nij,nj->ni", flat, along)
    first, last = at.argmin(axis=1), at.argmax(axis=1)
    rows = np.arange(len(flat))
    pieces = np.hstack([flat[rows, first], flat[rows, last]])
    pieces = pieces[np.hypot(*(pieces[:, 2:] - pieces[:, :2]).T) > 1e-6]
    return pieces[np.sort(np.unique(np.round(pieces, 6), axis=0, return_index=True)[1])]


def wall_lines(scene: Scene, faces: list[int], plane: Plane) -> BaseGeometry:
    """Lines on which faces stand upright."""
    pieces = wall_pieces(scene, faces, plane)
    lines = shapely.linestrings(pieces.reshape(-1, 2, 2)) if len(pieces) else np.empty(0)
    return shapely.line_merge(shapely.union_all(np.atleast_1d(lines), grid_size=1e-5))


def enclosed(scene: Scene, faces: list[int], plane: Plane) -> BaseGeometry:
    """What upright faces enclose, seen along the direction; empty where they do not close."""
    lines = wall_lines(scene, faces, plane)
    if lines.is_empty:
        return shapely.Polygon()
    found = shapely.polygonize([shapely.node(lines)])
    return shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(found)])


def filled(image: BaseGeometry) -> BaseGeometry:
    """A region without its holes: all that stands on a leaning boss's foot."""
    pieces = [p for p in shapely.get_parts(image) if p.geom_type == "Polygon"]
    return shapely.union_all([shapely.Polygon(p.exterior) for p in pieces])


def lower_edges(scene: Scene, faces: list[int], plane: Plane, level: float) -> Array:
    """(k, 4) pieces of the faces' edges that lie at a level, with the material on the left of each."""
    chosen = scene.triangles(faces)
    corners = scene.corners[chosen]
    heights = plane.levels(corners)
    flat = plane.flat(corners)
    normal = plane.flat(scene.normals[chosen])
    out = []
    for i, j in ((0, 1), (1, 2), (2, 0)):
        low = (np.abs(heights[:, i] - level) < LEVEL) & (np.abs(heights[:, j] - level) < LEVEL)
        a, b = flat[low, i], flat[low, j]
        along = np.column_stack([-normal[low, 1], normal[low, 0]])
        turned = ((b - a) * along).sum(axis=1) < 0
        out.append(np.hstack([np.where(turned[:, None], b, a), np.where(turned[:, None], a, b)]))
    return np.vstack(out) if out else np.empty((0, 4))


def free_strip(
    pieces: Array, near: float, far: float, lead: float = 0.0, over: BaseGeometry | None = None
) -> BaseGeometry:
    """Where a cutter's centre goes along wall pieces: from `near` to `far` mm off them on their free side.

    At ends of the line that lie on `over`, beyond which there is only raw stock, it runs `lead` mm on, straight; at
    others it stops where it has cut all of the line. Round convex bends the strip turns with them; nothing of it comes
    nearer to a piece than `near`.
    """
    if lead > 0 and over is not None:
        pieces = with_leads(pieces, lead, over)
    a, b = pieces[:, :2], pieces[:, 2:]
    along = b - a
    size = np.hypot(*along.T)
    a, b, along, size = a[size > 1e-9], b[size > 1e-9], along[size > 1e-9], size[size > 1e-9]
    out = np.column_stack([along[:, 1], -along[:, 0]]) / size[:, None]  # the free side lies on the right
    quads = shapely.polygons(np.stack([a, b, b + far * out, a + far * out], axis=1))
    strip = shapely.union_all(quads)
    turned = np.vstack([a, b])
    if len(turned):
        fans = _fans(a, b, out, far)
        strip = shapely.union_all([strip, *fans]) if fans else strip
    lines = shapely.multilinestrings(shapely.linestrings(np.stack([a, b], axis=1)))
    return strip.difference(around(lines, near - 1e-6, 48))


def block_edge(job: Job) -> BaseGeometry:
    """The outline of the part's box across the direction: beyond it there is nothing but raw stock."""
    return edge(job.scene.rectangle(job.plane, raw=False))


def _fans(a: Array, b: Array, out: Array, far: float) -> list[BaseGeometry]:
    """Sectors between neighbouring pieces that bend away from the free side."""
    start = {p: k for k, p in enumerate(map(tuple, np.round(a, 4).tolist()))}
    after = np.array([start.get(p, -1) for p in map(tuple, np.round(b, 4).tolist())])
    k = np.flatnonzero((after >= 0) & (after != np.arange(len(b))))
    p, q = out[k], out[after[k]]
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    opens = cross >= 1e-9  # the line turns left, towards the material: the outside opens
    k, p, cross, along = k[opens], p[opens], cross[opens], (p * q).sum(axis=1)[opens]
    first, turn = np.arctan2(p[:, 1], p[:, 0]), np.arctan2(cross, along)
    count = np.maximum(2, np.ceil(np.abs(turn) / 0.01).astype(int) + 1)
    fans: list[BaseGeometry] = []
    for n in np.unique(count):
        own = count == n
        at = first[own, None] + turn[own, None] * np.linspace(0.0, 1.0, n)
        rim = b[k[own], None] + far * np.stack([np.cos(at), np.sin(at)], axis=2)
        fans += list(shapely.polygons(np.concatenate([b[k[own], None], rim], axis=1)))
    return fans


def with_leads(pieces: Array, lead: float, over: BaseGeometry) -> Array:
    """Pieces, and straight runs on past ends of their lines that lie on `over`."""
    return np.vstack([pieces, _leads(pieces, lead, over)])


def _leads(pieces: Array, lead: float, over: BaseGeometry) -> Array:
    """Straight runs before pieces that nothing comes before, and after those that nothing follows, at `over`."""
    starts = {tuple(np.round(p, 3)) for p in pieces[:, :2]}
    ends = {tuple(np.round(p, 3)) for p in pieces[:, 2:]}
    out = []
    for row in pieces:
        a, b = row[:2], row[2:]
        size = float(np.hypot(*(b - a)))
        if size < 1e-9:
            continue
        step = (b - a) / size * lead
        if tuple(np.round(a, 3)) not in ends and not _inside(a, pieces) and over.distance(shapely.Point(a)) < LEVEL:
            out.append(np.concatenate([a - step, a]))
        if tuple(np.round(b, 3)) not in starts and not _inside(b, pieces) and over.distance(shapely.Point(b)) < LEVEL:
            out.append(np.concatenate([b, b + step]))
    return np.array(out).reshape(-1, 4)


def _inside(p: Array, pieces: Array) -> bool:
    """Whether a point lies within some piece, away from its ends."""
    a, b = pieces[:, :2], pieces[:, 2:]
    along = b - a
    size = np.hypot(*along.T)
    t = ((p - a) * along).sum(axis=1) / np.maximum(size, 1e-12)
    off = np.abs((p - a)[:, 0] * along[:, 1] - (p - a)[:, 1] * along[:, 0]) / np.maximum(size, 1e-12)
    return bool(((off < 1e-3) & (t > 1e-3) & (t < size - 1e-3)).any())
