"""The outside of a solid in the mesh form of the house: smooth surfaces apart from each other, sharp edges as lines."""

from __future__ import annotations

import math

import numpy as np
from manifold3d import Manifold

from planner.proof.groups import groups
from planner.proof.rays import Array
from shared.mesh import Mesh

SHARP = math.cos(math.radians(25.0))
"""Cosine of the turn between two triangles beyond which the edge between them is sharp."""
THIN = 0.2
"""Mm: a triangle lower than this over an edge is a stair of a round, and its edge is not drawn."""


def mesh_of(solid: Manifold, labels: dict[int, int], frame: Array) -> Mesh:
    """Triangles in the file's axes, labelled by the body that each lies on (0 where it is none of them).

    frame: (3, 3), rows are the part's own axes, in which the solid is given.
    """
    found = solid.to_mesh64()
    points, triangles = np.array(found.vert_properties)[:, :3], np.array(found.tri_verts).astype(np.int64)
    starts = np.array(found.run_index, dtype=np.int64) // 3
    owner = np.array([labels.get(i, 0) for i in found.run_original_id], dtype=np.int64)
    faces = np.repeat(owner, np.diff(starts))
    order = np.lexsort((*triangles.T, faces))
    triangles, faces = triangles[order], faces[order]
    a, b, lines, smooth, tall = _edges(points, triangles)
    sharp = ~smooth & tall
    group = groups(len(triangles), a[smooth], b[smooth])
    corners, index = np.unique(np.column_stack([np.repeat(group, 3), triangles.ravel()]), axis=0, return_inverse=True)
    ends = points[lines[sharp]].reshape(-1, 3)
    return Mesh(
        (points @ frame)[corners[:, 1]].astype(np.float32),
        index.reshape(-1, 3).astype(np.uint32),
        faces.astype(np.uint32),
        (ends @ frame).astype(np.float32),
        np.arange(0, len(ends) + 1, 2, dtype=np.uint32),
        np.arange(len(ends) // 2, dtype=np.uint32),
        0.0,
    )


def _edges(points: Array, triangles: Array) -> tuple[Array, Array, Array, Array, Array]:
    """The two triangles beside each edge, its ends (k, 2), whether it is smooth, and whether both sides are tall."""
    half = np.stack([triangles, np.roll(triangles, -1, axis=1)], axis=2).reshape(-1, 2)
    ends = np.sort(half, axis=1)
    order = np.lexsort((ends[:, 1], ends[:, 0]))
    a, b = order[0::2] // 3, order[1::2] // 3  # a closed mesh has each edge twice
    corners = points[triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(normal, axis=1)
    normal /= np.where(twice > 0, twice, 1.0)[:, None]
    lines = ends[order[0::2]]
    length = np.maximum(np.linalg.norm(points[lines[:, 0]] - points[lines[:, 1]], axis=1), 1e-12)
    tall = np.minimum(twice[a], twice[b]) / length > THIN
    return a, b, lines, (normal[a] * normal[b]).sum(axis=1) >= SHARP, tall
