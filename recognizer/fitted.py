"""Circles and tori through sampled points: what the kernel's own recognition of free forms does not find."""

from __future__ import annotations

from recognizer.snapshot import Surface
from recognizer.vector import along, cross, distance, dot, length, sub, unit
from shared.units import Vector

LARGEST_MM = 1e5
"""Fitted radii above this are straight lines or planes with noise."""


def circle_through(a: Vector, b: Vector, c: Vector) -> tuple[Vector, Vector, float] | None:
    """Centre, axis and radius of the circle through three points; None where they lie on a line."""
    u, v = sub(b, a), sub(c, a)
    n = cross(u, v)
    nn = dot(n, n)
    if nn < 1e-14:
        return None
    uu, vv = dot(u, u), dot(v, v)
    k = [(uu * cross(v, n)[i] + vv * cross(n, u)[i]) / (2 * nn) for i in range(3)]
    centre = (a[0] + k[0], a[1] + k[1], a[2] + k[2])
    return centre, unit(n), distance(centre, a)


def fit_torus(grid: list[list[Vector]], normal: Vector, point: Vector, eps: float) -> Surface | None:
    """The torus that all points of a face's parameter grid lie on to within eps mm, or None.

    grid: at least 5 x 5 points, rows along one parameter; normal: outward at `point`. On a torus one family of
    parameter lines are circles of the tube; their centres lie on the circle round the axis.
    """
    for rows in (grid, [list(column) for column in zip(*grid, strict=True)]):
        tubes = [circle_through(row[0], row[2], row[4]) for row in rows]
        if any(t is None for t in tubes):
            continue
        centres, radii = [t[0] for t in tubes if t], [t[2] for t in tubes if t]
        radius = radii[0]
        ring = circle_through(centres[0], centres[2], centres[4])
        if ring is None or max(radii) - min(radii) > eps or radius > LARGEST_MM or ring[2] > LARGEST_MM:
            continue
        made = Surface("torus", ring[0], ring[1], radius, major_radius=ring[2])
        if all(_off(made, p) < eps for row in rows for p in row):
            outward = made.normal_at(point)
            hollow = outward is not None and dot(outward, normal) < 0
            return Surface("torus", ring[0], ring[1], radius, major_radius=ring[2], hollow=hollow)
    return None


def _off(torus: Surface, p: Vector) -> float:
    """Distance of a point from a torus."""
    rel = sub(p, torus.origin)
    level = dot(rel, torus.axis)
    out = length(along(rel, torus.axis, -level)) - torus.major_radius
    return abs((out * out + level * level) ** 0.5 - torus.radius)
