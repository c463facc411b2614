"""How the figures were found and how far they may be off, in the document's words."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi

import numpy as np

from recognizer.access.floors import QUARTER
from recognizer.access.judge import Judge
from shared.reach import Accuracy, FaceReach

Array = np.ndarray

METHOD = (
    "floors by the opening of the free region with the cutter's disc, standing and leaning faces by the largest disc that "
    "touches each point of a strip and nothing else (closed forms against the part's edges, arcs and cuts), sight by the "
    "projections of faces that look away; curved faces that do not stand along the direction by facets"
)


FLOOR_SHARE = 0.005
"""Floors: circles as polygons of the same area and slivers of 0.0005 mm; tested against closed forms."""
SAME_WAY = 0.1
"""Between two nodes before the same face the room runs nearly straight: so much of their distance may be off."""


@dataclass(frozen=True)
class Rough:
    """How rough one look is: errors of faces' shares by (direction, face), faces taken by their facets, mm."""

    errors: Array
    inexact: set[int]
    spacing: float
    deviation: float
    limit: float


def rough_of(judge: Judge) -> Rough:
    """The figures of a judge's look."""
    scene = judge.scene
    errors = share_errors(judge).reshape(scene.count, -1)
    return Rough(errors, scene.inexact, scene.spacing, scene.deviation, judge.look.limit)


def accuracy_of(rough: list[Rough], faces: list[FaceReach]) -> Accuracy:
    """Resolution and errors over all directions."""
    spacing = max((one.spacing for one in rough), default=0.0)
    error = max((one.deviation for one in rough), default=0.0)
    radius = max((one.limit for one in rough), default=0.0)
    buffers = radius * (1 - cos(pi / 4 / QUARTER))
    return Accuracy(
        method=METHOD,
        resolution_mm=spacing,
        error_mm=max(error, buffers),
        share_error=max((f.share_error for f in faces), default=0.0),
    )


def with_errors(faces: list[FaceReach], rough: list[Rough]) -> list[FaceReach]:
    """The faces with the error of their best view; of all views where several directions count together."""
    errors = np.concatenate([one.errors for one in rough])
    out = []
    for face in faces:
        best = [v for v in face.views if v.direction == face.best]
        alone = bool(best) and best[0].touched >= face.touched - 1e-6
        chosen = best if alone else face.views
        error = max((float(errors[v.direction, face.index]) for v in chosen), default=0.0)
        out.append(face.model_copy(update={"share_error": error}))
    return out


def share_errors(judge: Judge) -> Array:
    """(faces,) how far a face's shares may be off from here, for each boundary of what is touched that crosses it.

    A strip is decided at its middle, so where anything leans a boundary that runs along the strips is off by half of what
    lies on one level; one that runs along the facets of a curved face by half a facet's part; one across a strip by half the distance of the two
    nodes between which it passes, or little where both have the same face before them.
    """
    s = judge.look.strips
    out = np.full(len(judge.area), FLOOR_SHARE)
    if not len(s.face):
        return out
    weight = judge.weight
    changing = judge.scene.merged.fine.any(axis=1) | (np.bincount(s.face, judge.scene.leaning[s.piece], len(out)) > 0)
    rough = np.maximum(np.where(changing, _level_share(judge, weight), 0.0), _piece_share(judge)) / 2
    rough = np.where(_partly(judge, weight), rough, 0.0)
    along = np.bincount(s.face, weight * _between_nodes(judge), len(out))
    return np.minimum(np.maximum(out, rough + along), 1.0)


def _partly(judge: Judge, weight: Array) -> Array:
    """(faces,) faces of which some strips are seen and touched and others are not."""
    m, s = judge.measures, judge.look.strips
    count = len(judge.area)
    shares = [np.bincount(s.face, weight * v, count) for v in (m.seen, m.touched, *m.by)]
    return np.any([(v > 1e-6) & (v < 1 - 1e-6) for v in shares], axis=0)


def _level_share(judge: Judge, weight: Array) -> Array:
    """(faces,) largest share of a face that is decided on one level."""
    s = judge.look.strips
    level = np.round(s.level / 1e-3).astype(np.int64)
    key = s.face * (int(level.max()) - int(level.min()) + 1) + level - level.min()
    order = np.argsort(key, kind="stable")
    first = np.flatnonzero(np.concatenate([[True], np.diff(key[order]) != 0]))
    out = np.zeros(len(judge.area))
    np.maximum.at(out, s.face[order[first]], np.add.reduceat(weight[order], first))
    return out


def _piece_share(judge: Judge) -> Array:
    """(faces,) largest facet of each curved face, as a share of it."""
    pieces = judge.scene.pieces
    out = np.zeros(len(judge.area))
    k = pieces.curved
    np.maximum.at(out, pieces.face[k], pieces.area[k] / judge.area[pieces.face[k]])
    return out


def _between_nodes(judge: Judge) -> Array:
    """(strips,) share of each strip that lies in doubt between nodes of which one is touched, or seen, and one is not."""
    m, s, fit = judge.measures, judge.look.strips, judge.look.fit
    same = s.strip[1:] == s.strip[:-1]
    change = same & (((m.margin[1:] >= 0) != (m.margin[:-1] >= 0)) | (m.dark[1:] != m.dark[:-1]))
    smooth = (fit.face[1:] == fit.face[:-1]) & ~m.dark[1:] & ~m.dark[:-1]
    doubt = np.where(smooth, SAME_WAY, 0.5) * (s.share[1:] - s.share[:-1])
    return np.bincount(s.strip[1:][change], doubt[change], len(s.face))


__all__ = ["Rough", "accuracy_of", "rough_of", "share_errors", "with_errors"]
