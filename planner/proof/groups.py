"""Things that hang together."""

from __future__ import annotations

import numpy as np

from planner.proof.rays import Array

NEIGHBOURS = np.array([(i, j, k) for i in (-1, 0, 1) for j in (-1, 0, 1) for k in (-1, 0, 1) if (i, j, k) > (0, 0, 0)])
"""Steps to half of a cube's 26 neighbours; the other half is met from the other side."""


def groups(count: int, a: Array, b: Array) -> Array:
    """(count,) number of the connected group of each thing, where a[k] and b[k] are joined."""
    label = np.arange(count)
    while True:
        low = np.minimum(label[a], label[b])
        new = label.copy()
        np.minimum.at(new, a, low)
        np.minimum.at(new, b, low)
        new = new[new]
        if (new == label).all():
            return label
        label = new


def cube_groups(cubes: Array) -> Array:
    """(k,) group of each of k different cubes of a grid ((k, 3) integers from 1 on); neighbours touch, corners too."""
    size = cubes.max(axis=0) + 2 if len(cubes) else np.ones(3, dtype=np.int64)
    key = (cubes[:, 0] * size[1] + cubes[:, 1]) * size[2] + cubes[:, 2]
    order = np.argsort(key)
    ranked = key[order]
    pairs = []
    for step in NEIGHBOURS:
        other = key + (step[0] * size[1] + step[1]) * size[2] + step[2]
        at = np.minimum(np.searchsorted(ranked, other), max(len(key) - 1, 0))
        there = np.flatnonzero(ranked[at] == other)
        pairs.append(np.column_stack([there, order[at[there]]]))
    a, b = np.vstack(pairs).T
    return groups(len(cubes), a, b)
