"""Surfaces followed from above: where the tip of a cutter stands over faces, and what its passes leave of them.

Faces become a height field over the plane across the direction. The cutter's tip stands as high as the faces under its
profile let it (closing of the field by the cutter, the usual way to drop a cutter on a surface); what it sweeps is all
above the lowest place of its profile over each point. Passes run in rows `radial_depth` apart, so their cusps show;
roughing runs in levels `axial_depth` apart.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.cutter import Profile, profile_of
from planner.proof.fields import HeightField
from planner.proof.rays import Array, spread
from planner.proof.regions import Region, centres
from planner.proof.scene import Job
from planner.proof.strokes.faces import flat_image
from planner.proof.strokes.stroke import Stroke

CELLS = 60_000
"""Cells of a height field at most."""
FINEST = 0.2
"""Mm: edge of its cells at least; on a surface of radius r it lies within g^2 / (8 r) of it: 5e-4 mm at 10 mm."""
BANDS = 6
"""Bands of level in which the places of a cutter on a surface are told."""
STEEP = 0.5
"""Cosine between a triangle's normal and the direction below which a step between cells may be higher than one."""
ROWS = 3
"""Cells from one row of passes to the next, where the passes are wide enough apart for that."""


def surface(job: Job) -> Stroke:
    """A cutter over the operation's faces: roughing in levels, finishing in rows."""
    if job.plane.axis is None:
        return Stroke.nothing("surfaces are followed along the part's own axes only")
    profile, passes = profile_of(job.operation.tool), job.operation.passes
    image = flat_image(job.scene, job.own_faces, job.plane)
    if image.is_empty:
        return Stroke.nothing("its faces cover no area along this direction")
    by_levels = job.operation.strategy == "contour_parallel" and passes.axial_count > 1
    rough = by_levels and bool(passes.allowance_side or passes.allowance_bottom)
    rows = not by_levels  # levels a cusp apart leave less than a cell shows
    reach = profile.radius + 1.0
    low, high = np.array(image.bounds).reshape(2, 2)
    cell = max(FINEST, float(np.sqrt(np.prod(high - low + 2.0 * reach) / CELLS)))
    if rows and passes.radial_depth > ROWS * FINEST:
        cell = passes.radial_depth / max(ROWS, round(passes.radial_depth / cell))
    window = (low - reach, high + reach, cell)
    field = _field(job, job.scene.triangles(job.own_faces), *window)
    feature = _field(job, job.scene.triangles(job.feature.faces if job.feature else []), *window)
    whole = np.maximum(np.maximum(field, feature), _field(job, _seen(job, *window), *window, rims=False))
    tips = _dropped(whole, profile, cell)
    if rough:
        beside = _dropped(whole, _wider(profile, passes.allowance_side), cell)
        tips = np.maximum(tips + passes.allowance_bottom, beside)
    places = _places(field.shape, low - reach, cell)
    over = shapely.contains_xy(_over_open_sides(job, profile.radius, cell), *places)
    where = over | shapely.contains_xy(image, *places) | _beside(field, profile, cell)
    tips = np.where(over, np.maximum(tips, job.bottom), tips)
    if rough:
        top, step = job.operation.levels.top, passes.axial_depth
        tips = top - np.floor((top - tips) / step + 1e-9) * step
        where &= tips < top - 1e-6
    stations = _stations(where, tips, low - reach, cell)
    if rows and (skip := max(1, round(passes.radial_depth / cell))) > 1:
        edge = where & ~(np.roll(where, 1, axis=1) & np.roll(where, -1, axis=1))
        where = edge | where & (np.arange(field.shape[1]) % skip == 0)[None, :]
    lowest = _swept(np.where(where, tips, np.inf), profile, cell)
    tip = float(tips[where].min()) if where.any() else job.bottom
    return Stroke([HeightField(job.plane, low - reach, cell, lowest)], image, tip, stations=stations)


def _stations(where: Array, tips: Array, low: Array, cell: float) -> list[tuple[BaseGeometry, float]]:
    """Places of the cutter's centre in BANDS bands of its tip's level, each with the lowest level in it."""
    if not where.any():
        return []
    least, most = float(tips[where].min()), float(tips[where].max())
    band = np.clip(((tips - least) / max(most - least, 1e-9) * BANDS), 0, BANDS - 1)
    out = []
    for k in range(BANDS):
        own = where & (np.floor(band) == k)
        if own.any():
            i, start, end = runs(own)
            half = 0.5 * cell
            strips = shapely.box(
                low[0] + cell * i - half,
                low[1] + cell * start - half,
                low[0] + cell * i + half,
                low[1] + cell * end - half,
            )
            out.append((shapely.union_all(strips).simplify(2.0 * cell), float(tips[own].min())))
    return out


def runs(mask: Array) -> tuple[Array, Array, Array]:
    """Runs of true cells along the second axis: (row, first, one past the last) of each."""
    turn = np.diff(np.pad(mask, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    (row, start), (_, end) = np.nonzero(turn == 1), np.nonzero(turn == -1)
    return row, start, end


def _places(shape: tuple[int, ...], low: Array, cell: float) -> tuple[Array, Array]:
    u = low[0] + cell * np.arange(shape[0])
    v = low[1] + cell * np.arange(shape[1])
    grid = np.meshgrid(u, v, indexing="ij")
    return grid[0], grid[1]


def _over_open_sides(job: Job, radius: float, cell: float) -> BaseGeometry:
    """Places beyond the region's open sides, as far out as it takes to clear the region, and a cell more: a strip that
    is narrower has no place of its own. Leaning walls that are followed themselves keep nothing off.
    """
    if job.view is None or job.feature is None or not job.view.outline or not any(s.open for s in job.view.sides):
        return shapely.Polygon()
    region, off = job.region, radius + job.operation.passes.allowance_side
    leaning = [s for s in job.view.sides if not s.open and s.draft > 0.0]
    if all(set(s.faces) <= set(job.feature.faces) for s in leaning):
        upright = region.walls.difference(shapely.union_all([g for g, _ in region.leans]).buffer(1e-6))
        region = Region(region.area, upright)
    where = centres(region, radius, job.operation.passes.allowance_side)
    return where.buffer(cell).difference(region.kept_off(off)).difference(region.area)


def _wider(profile: Profile, by: float) -> Profile:
    """A cutter that is larger all round by an allowance."""
    return replace(profile, radii=profile.radii + by)


def _seen(job: Job, low: Array, high: Array, cell: float) -> Array:
    """Triangles of the whole part that look up and lie over a rectangle: a cutter that follows faces keeps off them too."""
    flat = job.plane.flat(job.scene.corners)
    near = (flat.max(axis=1) > low - cell).all(axis=1) & (flat.min(axis=1) < high + cell).all(axis=1)
    return np.flatnonzero(near & (job.plane.levels(job.scene.normals) > 1e-6))


def _field(job: Job, chosen: Array, low: Array, high: Array, cell: float, rims: bool = True) -> Array:
    """Highest level of chosen triangles over each place, -inf beside them. Upright faces, and with `rims` the upper
    rims of steep ones, stand on the places next to them.
    """
    size = np.ceil((high - low) / cell).astype(int) + 1
    field = np.full(size, -np.inf)
    corners = job.scene.corners[chosen]
    flat, level = job.plane.flat(corners), job.plane.levels(corners)
    at = (flat - low) / cell
    if rims:
        _raise_rims(field, at, level, np.abs(job.plane.levels(job.scene.normals[chosen])) < STEEP)
    e, f = at[:, 1] - at[:, 0], at[:, 2] - at[:, 0]
    twice = e[:, 0] * f[:, 1] - e[:, 1] * f[:, 0]
    keep = np.abs(twice) > 1e-9
    at, level, e, f, twice = at[keep], level[keep], e[keep], f[keep], twice[keep]
    first, last = np.ceil(at.min(axis=1) - 1e-9).astype(int), np.floor(at.max(axis=1) + 1e-9).astype(int)
    first, last = np.maximum(first, 0), np.minimum(last, size - 1)
    row, i = spread(first[:, 0], last[:, 0] + 1)
    which, j = spread(first[row, 1], last[row, 1] + 1)
    row, i = row[which], i[which]
    p = np.column_stack([i, j]) - at[row, 0]
    s = (p[:, 0] * f[row, 1] - p[:, 1] * f[row, 0]) / twice[row]
    t = (e[row, 0] * p[:, 1] - e[row, 1] * p[:, 0]) / twice[row]
    inside = (s >= -1e-9) & (t >= -1e-9) & (s + t <= 1.0 + 1e-9)
    row, i, j, s, t = row[inside], i[inside], j[inside], s[inside], t[inside]
    z = level[row, 0] + s * (level[row, 1] - level[row, 0]) + t * (level[row, 2] - level[row, 0])
    np.maximum.at(field, (i, j), z)
    return field


def _raise_rims(field: Array, at: Array, level: Array, steep: Array) -> None:
    """Lifts the field along the upper rims of steep faces, half a cell from point to point: no place need lie on them."""
    for a, b, low, high in _upper_rims(at, level, steep):
        count = math.ceil(2.0 * float(np.hypot(*(b - a)))) + 1
        share = np.arange(count + 1) / count
        x, y = np.rint(a[:, None] + np.outer(b - a, share)).astype(int)
        there = (x >= 0) & (y >= 0) & (x < field.shape[0]) & (y < field.shape[1])
        np.maximum.at(field, (x[there], y[there]), (low + share * (high - low))[there])


def _upper_rims(at: Array, level: Array, steep: Array) -> Iterator[tuple[Array, Array, float, float]]:
    """Edges of steep triangles that no other triangle shares and that lie above the rest of theirs: ends and levels."""
    corners = np.dstack([at, level[..., None]])
    pairs = ((0, 1, 2), (1, 2, 0), (2, 0, 1))
    ends = np.concatenate([corners[:, [i, j]] for i, j, _ in pairs])
    third = np.concatenate([level[:, k] for _, _, k in pairs])
    keys = np.round(ends, 4).reshape(len(ends), 6)
    turned = np.round(ends[:, ::-1], 4).reshape(len(ends), 6)
    first = np.array([tuple(a) <= tuple(b) for a, b in zip(keys, turned, strict=True)])
    _, which, count = np.unique(np.where(first[:, None], keys, turned), axis=0, return_inverse=True, return_counts=True)
    above = ends[:, :, 2].min(axis=1) > third + 1e-6
    for a, b in ends[(count[which.reshape(-1)] == 1) & above & np.tile(steep, 3)]:
        yield a[:2], b[:2], float(a[2]), float(b[2])


def _rings(profile: Profile, cell: float) -> Iterator[tuple[float, set[tuple[int, int]]]]:
    """Places under the cutter by distance from its axis: its height above the tip, and steps along u and v."""
    radii, place = np.unique(profile.radii, return_index=True)
    n = int(profile.radius / cell)
    for i in range(n + 1):
        for j in range(i + 1):
            if (off := cell * math.hypot(i, j)) <= profile.radius + 1e-9:
                height = float(np.interp(off, radii, profile.heights[place]))
                yield height, {(s * x, t * y) for x, y in ((i, j), (j, i)) for s in (-1, 1) for t in (-1, 1)}


def _dropped(field: Array, profile: Profile, cell: float) -> Array:
    """Level of the tip over each place when the cutter rests on the faces."""
    out = np.full(field.shape, -np.inf)
    there = np.isfinite(field)
    if not there.any():
        return out
    (a, b), (c, d) = ((int(k[0]), int(k[-1]) + 1) for k in (np.flatnonzero(there.any(axis=x)) for x in (1, 0)))
    core, n = field[a:b, c:d], int(profile.radius / cell)
    wide = np.full((b - a + 2 * n, d - c + 2 * n), -np.inf)
    lower = np.empty(core.shape)
    for height, steps in _rings(profile, cell):
        np.subtract(core, height, out=lower)
        for i, j in steps:
            mine = wide[n + i : n + i + b - a, n + j : n + j + d - c]
            np.maximum(mine, lower, out=mine)
    e, f, g, h = max(a - n, 0), min(b + n, len(out)), max(c - n, 0), min(d + n, len(out[0]))
    out[e:f, g:h] = wide[e - a + n : f - a + n, g - c + n : h - c + n]
    return out


def _beside(field: Array, profile: Profile, cell: float) -> Array:
    """Places from where the cutter still touches the faces within their edge: on a slope it stands downhill of what it cuts."""
    there = np.isfinite(field)
    inner = there.copy()
    for i, j in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        inner &= np.roll(there, (i, j), axis=(0, 1))
    rim = _dropped(np.where(there & ~inner, field, -np.inf), profile, cell)
    return _dropped(np.where(inner, field, -np.inf), profile, cell) > rim + 1e-6


def _swept(tips: Array, profile: Profile, cell: float) -> Array:
    """Lowest level that the cutter reaches over each place; inf where it never is."""
    return -_dropped(-tips, profile, cell)
