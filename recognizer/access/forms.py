"""Bores and cones: the drill, reamer or countersink of the face's own shape, where a mill does not do or is slender."""

from __future__ import annotations

import numpy as np

from recognizer.access.losses import BORE_DEG
from recognizer.access.measure import FIT_MM, Measures
from recognizer.access.roles import UPRIGHT
from recognizer.access.said import Said
from recognizer.snapshot import Surface

Array = np.ndarray


def by_form(said: dict[int, Said], m: Measures) -> None:
    """Adds to what is said of each bore and cone that stands along the direction what its own cutter touches."""
    for face, one in said.items():
        f = m.scene.face(face)
        standing = {"cylinder": "wall", "cone": "round"}.get(f.surface.kind)
        if one.seen <= 0 or not f.surface.hollow or one.lies != standing or f.span < BORE_DEG:
            continue
        along = abs(sum(a * b for a, b in zip(f.surface.axis, m.scene.directions[m.scene.tile(face)], strict=True)))
        if along >= 1 - UPRIGHT**2:
            _judge(face, f.surface, one, m)


def _judge(face: int, surface: Surface, one: Said, m: Measures) -> None:
    s, fit = m.strips, m.look.fit
    nodes = m.look.nodes_of(face)
    lit = ~m.dark[nodes]
    # A cutter of the face's own form is not stopped by the face itself.
    free = ((fit.radius[nodes] >= s.cap[nodes] - 2 * FIT_MM) | (fit.face[nodes] == face))[lit]
    if not free.any():
        return
    if surface.kind == "cylinder":
        one.form = m.shop.bore_cutter(2 * surface.radius, one.depth)
    else:
        small, large = _ends(m.scene.mesh.snapshot.facet_arrays[face % m.scene.part_faces], surface)
        one.form = m.shop.cone_cutter(2 * abs(surface.half_angle), 2 * small, 2 * large, one.depth)
    if one.form is None:
        return
    share = one.seen * float(free.mean())
    one.touched = max(one.touched, share)
    slender = one.largest is None or one.depth > m.shop.limits.warn * one.largest.DC
    if slender and share > 1 - m.shop.limits.share:
        one.largest = one.form


def _ends(facets: Array, surface: Surface) -> tuple[float, float]:
    """Smallest and largest radius of a cone face."""
    t = facets.reshape(-1, 3) - np.array(surface.origin)
    axis = np.array(surface.axis)
    r = np.linalg.norm(t - np.outer(t @ axis, axis), axis=1)
    return float(r.min()), float(r.max())
