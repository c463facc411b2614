"""Swept bodies as closed triangle meshes: the second way to cut a plan, for pictures of the workpiece.

Volumes and depths come from the rays (cutting.py), where lengths are exact; here the same sweeps are solids, and the
workpiece is the block less all of them.
"""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import shapely
from manifold3d import CrossSection, FillRule, Manifold
from shapely.geometry.base import BaseGeometry

from planner.proof.fields import HeightField
from planner.proof.grown import Grown
from planner.proof.plane import Plane
from planner.proof.rays import Array
from planner.proof.scene import Scene
from planner.proof.strokes.surfaces import runs
from planner.proof.sweeps import Slab, Sweep, Turned

CHORD = 0.01
"""Mm that the corners of a region may lie off its arcs in a body."""
ABOVE = 1.0
"""Mm over the block's highest place where bodies that are open upwards end."""

STAIR = 0.12
"""Mm of radius from one stair of a round or slope to the next."""
LEAST_STAIRS = 4
"""Stairs of the smallest one at least."""


def block(low: Array, high: Array) -> Manifold:
    """A box between two corners, (3,) each."""
    return Manifold.cube((high - low).tolist()).translate(low.tolist())


def body_of(sweep: Sweep, scene: Scene) -> Manifold:
    """A sweep as one solid in the part's own frame, cut off above the block. Empty where it sweeps nothing."""
    if isinstance(sweep, Slab):
        return _prism(sweep.plane, sweep.region, sweep.bottom, min(sweep.top, _ceiling(sweep.plane, scene)))
    if isinstance(sweep, Grown):
        return _grown(sweep, _ceiling(sweep.plane, scene))
    if isinstance(sweep, Turned):
        return _turned(sweep, scene)
    if isinstance(sweep, HeightField):
        return _field(sweep, scene)
    raise TypeError(f"no body for {type(sweep).__name__}")


def _grown(sweep: Grown, top: float) -> Manifold:
    """Slabs one on the other, each up to where the profile begins to shrink, so that those of a widening one share no face."""
    stairs = list(sweep.stairs(min(STAIR, max(float(np.ptp(sweep.radii)) / LEAST_STAIRS, 1e-6))))
    widest = max(k for k, (_, _, r) in enumerate(stairs) if r >= max(x[2] for x in stairs) - 1e-9)
    ends = [min(top, stairs[max(k, widest)][1]) for k in range(len(stairs))]
    return _all([_prism(sweep.plane, sweep.at(r), a, b) for (a, _, r), b in zip(stairs, ends, strict=True)])


def _ceiling(plane: Plane, scene: Scene) -> float:
    corners = np.where(plane.d > 0, scene.raw_high, scene.raw_low)
    return float(corners @ plane.d) + ABOVE


def _all(bodies: list[Manifold]) -> Manifold:
    return Manifold.batch_boolean(bodies, manifold3d.OpType.Add) if bodies else Manifold()


def _prism(plane: Plane, region: BaseGeometry, bottom: float, top: float) -> Manifold:
    rings = rings_of(region)
    if top <= bottom or not rings:
        return Manifold()
    solid = Manifold.extrude(CrossSection(rings, FillRule.EvenOdd), top - bottom)
    return _placed(solid, plane, bottom)


def rings_of(region: BaseGeometry) -> list[Array]:
    """All rings of a region, (k, 2) each, with no more corners than CHORD asks for."""
    polygons = [p for p in shapely.get_parts(region) if p.geom_type == "Polygon" and p.area > 1e-9]
    plain = shapely.simplify(np.array(polygons, dtype=object), CHORD, preserve_topology=True)
    return [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(plain)]


def _placed(solid: Manifold, plane: Plane, level: float) -> Manifold:
    """From coordinates (u, v, height over `level`) to the frame's; a mirrored plane turns the triangles round too."""
    return solid.transform(np.column_stack([plane.u, plane.v, plane.d, plane.d * level]))


def _turned(sweep: Turned, scene: Scene) -> Manifold:
    top = min(sweep.top, _ceiling(sweep.plane, scene))
    levels, radii = sweep.tip + sweep.heights, sweep.radii
    inside = levels < top
    levels, radii = levels[inside], radii[inside]
    if not len(levels):
        return Manifold()
    outline = np.vstack(
        [[0.0, levels[0]], np.column_stack([radii, levels]), [radii[-1], top], [0.0, top]]
    )  # radii of zero double a corner: the outline is cleaned on the way in
    largest = float(radii.max())
    count = max(24, 4 * math.ceil(math.pi / (4 * math.acos(1.0 - min(CHORD / largest, 0.5)))))
    solid = Manifold.revolve(CrossSection([outline], FillRule.NonZero), count)
    return _placed(solid.translate([*sweep.centre, 0.0]), sweep.plane, 0.0)


def _field(sweep: HeightField, scene: Scene) -> Manifold:
    """A closed sheet over the whole grid, less what stands over places that the cutter never is at."""
    top = _ceiling(sweep.plane, scene)
    known = np.isfinite(sweep.lowest)
    cells = known[:-1, :-1] & known[1:, :-1] & known[:-1, 1:] & known[1:, 1:]
    i, start, end = runs(cells)
    if not len(i):
        return Manifold()
    low, g = sweep.low, sweep.cell
    strips = shapely.box(low[0] + g * i, low[1] + g * start, low[0] + g * (i + 1), low[1] + g * end)
    where = _prism(sweep.plane, shapely.union_all(strips), float(sweep.lowest[known].min()) - ABOVE, top)
    return where ^ _placed(
        _sheet(np.where(known, np.minimum(sweep.lowest, top), top), low, g, top + ABOVE), sweep.plane, 0
    )


def _sheet(heights: Array, low: Array, cell: float, top: float) -> Manifold:
    """All between a height field (n, m) and a level above it."""
    n, m = heights.shape
    at = np.arange(n * m).reshape(n, m)
    u, v = np.meshgrid(low[0] + cell * np.arange(n), low[1] + cell * np.arange(m), indexing="ij")
    under = np.column_stack([u.ravel(), v.ravel(), heights.ravel()])
    over = np.column_stack([u.ravel(), v.ravel(), np.full(n * m, top)])
    a, b, c, d = (q.ravel() for q in (at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]))
    floor = np.vstack([np.column_stack([a, c, b]), np.column_stack([a, d, c])])
    rim = np.concatenate([at[:, 0], at[-1, 1:], at[-2::-1, -1], at[0, -2:0:-1]])  # anticlockwise seen from above
    p, q = rim, np.roll(rim, -1)
    sides = np.vstack([np.column_stack([p, q, q + n * m]), np.column_stack([p, q + n * m, p + n * m])])
    triangles = np.vstack([floor, floor[:, ::-1] + n * m, sides]).astype(np.uint64)
    return Manifold(manifold3d.Mesh64(np.vstack([under, over]), triangles)).simplify(CHORD)


def beyond(body: Manifold, other: Manifold, by: float) -> Manifold:
    """What of a body lies more than `by` off another one.

    The other is moved along the eight diagonals of a cube: whichever way a face looks, one of them moves it outwards
    by `by` or more, so that skins between the two are gone and solid lumps stay.
    """
    moves: Array = by * np.array([[x, y, z] for x in (-1.0, 1.0) for y in (-1.0, 1.0) for z in (-1.0, 1.0)])
    moved = [other.translate(move.tolist()) for move in moves]
    return Manifold.batch_boolean([body, other, *moved], manifold3d.OpType.Subtract)
