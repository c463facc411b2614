"""Why strips are not seen or not touched, by the face in the way: every lost node counts the same within its strip."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from recognizer.access.measure import FIT_MM, Measures
from recognizer.access.scene import Scene
from recognizer.access.words import FOR_LONG

Array = np.ndarray
BORE_DEG = 300
"""A hollow face that goes so far round is a bore."""
OPPOSITE = 0.87
"""Obstacles farther across the disc than this stand opposite (a gap), nearer ones beside (a corner)."""
REASONS = (
    "material_above", "gap_too_narrow", "corner_too_tight", "holder_collides", "too_long_for_its_diameter",
    f"gap_too_narrow{FOR_LONG}", f"corner_too_tight{FOR_LONG}", "floor_radius_too_small",
)  # fmt: skip
ABOVE, GAP, CORNER, HOLDER, SLENDER, GAP_FOR_LONG, CORNER_FOR_LONG, EDGE = range(8)
BESIDE = (GAP, CORNER, GAP_FOR_LONG, CORNER_FOR_LONG)


def losses(m: Measures, weight: Array) -> Iterator[tuple[int, str, int, float]]:
    """(face, reason, face in the way or -1, share of the face) of all losses; weight: share of its face of each strip."""
    s, fit = m.strips, m.look.fit
    reason = _reasons(m)
    dark = reason == ABOVE
    beside = np.isin(reason, BESIDE) & ~_in_bores(m)
    blocker = np.where(dark, m.look.hidden, np.where(beside, fit.face, -1))
    lost = np.where(dark, (weight * (1 - m.seen))[s.strip], (weight * (m.seen - m.touched))[s.strip])
    count = len(m.seen)
    same = np.where(
        dark, np.bincount(s.strip, dark, count)[s.strip], np.bincount(s.strip, (reason > 0), count)[s.strip]
    )
    k = np.flatnonzero((reason >= 0) & (lost > 1e-9))
    names = (s.face[s.strip[k]] * len(REASONS) + reason[k]) * (int(blocker.max(initial=0)) + 2) + blocker[k] + 1
    keys, at = np.unique(names, return_inverse=True)
    shares = np.bincount(at, lost[k] / same[k], len(keys))
    for key, share in zip(keys.tolist(), shares.tolist(), strict=True):
        rest, face = divmod(key, int(blocker.max(initial=0)) + 2)
        yield rest // len(REASONS), REASONS[rest % len(REASONS)], face - 1, share


def _reasons(m: Measures) -> Array:
    """(k,) index of the reason of each node that is not seen or not touched; -1: touched."""
    fit, shop = m.look.fit, m.shop
    bad = ~m.dark & (m.margin < 0)
    smallest = shop.all.diameter.min(initial=np.inf) / 2
    fits = bad & (m.room >= smallest - FIT_MM)
    out = np.where(m.dark, ABOVE, -1)
    out[bad] = np.where((fit.across[bad] > OPPOSITE) | _in_bores(m)[bad], GAP, CORNER)
    if fits.any():
        # Where a thicker cutter would be long enough, it is the corner or the gap that keeps that one off.
        need = np.min([m.need(group) for group in shop.groups], axis=0)[m.strips.strip]
        none = fits & (need > shop.all.length.max(initial=0.0) + 1e-6) | fits & ~np.isfinite(fit.radius)
        out[fits] += GAP_FOR_LONG - GAP
        slender = need > shop.limits.fail * np.minimum(2 * m.room, 2 * shop.largest)
        out[none] = np.where(slender[none], SLENDER, HOLDER)
    for tool, share in zip(shop.bulls, m.by_bulls, strict=True):
        # A mill that touches the upper part of a strip is kept from its foot by the radius of its edge.
        out[bad & (share > 0)[m.strips.strip] & (m.room >= tool.DC / 2 - FIT_MM)] = EDGE
    return out


def bores_of(scene: Scene) -> Array:
    """(faces of the part,) which of them are bores: hollow and round nearly all the way."""
    return np.array([f.surface.hollow and f.span >= BORE_DEG for f in scene.mesh.snapshot.faces])


def _in_bores(m: Measures) -> Array:
    """(k,) nodes in a bore where nothing but its own size keeps cutters out."""
    scene, s = m.scene, m.strips
    bore = bores_of(scene)
    face, by = s.face[s.strip], m.look.fit.face
    return ((by < 0) | (by == face)) & np.isfinite(m.look.fit.radius) & bore[face % scene.part_faces]
