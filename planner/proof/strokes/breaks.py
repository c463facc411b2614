"""Sharp edges broken: the bevel along each. The part as drawn has its edges sharp, so what this takes of it is wanted."""

from __future__ import annotations

import numpy as np
import shapely

from planner.proof.grown import Grown
from planner.proof.rays import Array
from planner.proof.scene import LEVEL, SAME, Job
from planner.proof.strokes.faces import lower_edges
from planner.proof.strokes.stroke import Stroke

SHARE = 0.02
"""Share that chords may be shorter than an edge; two faces that meet along more of them meet in several edges."""
PRIME = 1_000_003
"""Makes one number of several."""


def broken(job: Job) -> Stroke:
    """The bevels of an operation that breaks edges: at 45 degrees, as wide and as deep as its step."""
    size = job.operation.passes.axial_depth
    at_level: dict[float, list[Array]] = {}
    missing = 0
    for index in job.operation.edges:
        level, pieces = _edge(job, index)
        missing += not len(pieces)
        at_level.setdefault(level, []).extend(pieces)
    reason = f"{missing} of its edges are not found at a level of their own" if missing else ""
    sweeps = [_bevels(job, level, pieces, size) for level, pieces in sorted(at_level.items()) if pieces]
    return Stroke(list(sweeps), tip=job.operation.levels.bottom, reason=reason)


def _bevels(job: Job, level: float, pieces: list[Array], size: float) -> Grown:
    """The bevels along edges of one level, open upwards."""
    lines = shapely.line_merge(shapely.multilinestrings(pieces))
    return Grown(job.plane, lines, np.array([level - size, level]), np.array([0.0, size]), 4)


def _edge(job: Job, index: int) -> tuple[float, Array]:
    """An edge's level, and its pieces (k, 2, 2) across the direction: sides of triangles that its two faces share there."""
    edge = job.scene.edges.get(index)
    pairs = zip(edge.directions, edge.levels, strict=True) if edge else ()
    level = next((x for d, x in pairs if float(np.dot(d, job.setup.direction)) > SAME), None)
    if edge is None or level is None:
        return 0.0, np.empty((0, 2, 2))
    level = round(level, 6)
    (one, keys), (_, others) = sorted(
        (_sides(job, face, level) for face in edge.faces), key=lambda found: len(found[1])
    )
    at = np.minimum(np.searchsorted(others, keys), max(len(others) - 1, 0))
    shared = one[others[at] == keys].reshape(-1, 2, 2) if len(keys) else np.empty((0, 2, 2))
    if abs(float(np.hypot(*(shared[:, 1] - shared[:, 0]).T).sum()) - edge.length) > SHARE * edge.length:
        shared = _run(shared, job.plane.flat(np.array([edge.start, edge.end]) @ job.scene.frame.T))
    return level, shared


def _sides(job: Job, face: int, level: float) -> tuple[Array, Array]:
    """Sides of a face's triangles at a level, (k, 4), and one number for each, by which they are in order."""

    def make() -> tuple[Array, Array]:
        pieces = lower_edges(job.scene, [face], job.plane, level)
        keys = _keys(pieces)
        order = np.argsort(keys, kind="stable")
        return pieces[order], keys[order]

    return job.scene.once(("sides", face, job.setup.direction, level), make)


def _keys(pieces: Array) -> Array:
    """One number for each piece (k, 4), whichever way it runs: its middle and its length, to 0.001 mm."""
    a, b = pieces[:, :2], pieces[:, 2:]
    parts = np.rint(1e3 * np.column_stack([a + b, np.hypot(*(b - a).T)])).astype(np.int64)
    return (parts[:, 0] * PRIME + parts[:, 1]) * PRIME + parts[:, 2]


def _run(pieces: Array, ends: Array) -> Array:
    """Those that hang together with an edge's ends (2, 2): two faces may meet in several edges."""
    reached: list[Array] = []
    there = np.ones(len(pieces), dtype=bool)
    front = list(ends)
    while front and there.any():
        near = np.abs(pieces - front.pop()).max(axis=2).min(axis=1) < LEVEL
        for k in np.flatnonzero(near & there)[::-1]:
            reached.append(pieces[k])
            front += list(pieces[k])
        there &= ~near
    return np.array(reached).reshape(-1, 2, 2)
