"""Jaws and side clamps as boxes, where they stand against the workpiece."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from planner.proof.material import Workpiece
from planner.proof.rays import Array
from planner.proof.scene import LEVEL, Scene
from planner.setups.contact import JAW_THICK
from shared.plan import Clamping, PlanDocument

END_GAP = 1.0
"""Mm that jaws stand away from an end that is cut, at least."""
AXES = "xyz"
Extent = Callable[[int, int, float, float], tuple[float, float] | None]
"""(axis, other axis, low, high) -> least and largest coordinate along `axis` of the material that lies between two levels
along `other`; None where there is none."""


@dataclass(frozen=True)
class Jaw:
    """A box in the part's own frame. side: the stock side that it presses on, -x, ..."""

    side: str
    low: Array
    high: Array


def jaws_of(clamping: Clamping, extent: Extent, ends: dict[str, float] | None = None) -> list[Jaw]:
    """The two jaws of a clamping on the workpiece as it is then; none where the plan does not say how it is held.

    ends: sides beside the jaws that are cut meanwhile, with the coordinate that they are cut to; the jaws stand clear of
    them. They stand in the middle where neither is.
    """
    said = clamping.rest_side and clamping.grip_height and len(clamping.clamp_sides) == 2
    if clamping.device not in ("vise", "table_clamps") or not said:
        return []
    rest = AXES.index(str(clamping.rest_side)[1])
    pair = AXES.index(clamping.clamp_sides[0][1])
    along = 3 - rest - pair
    whole = [extent(k, k, -np.inf, np.inf) for k in range(3)]
    if rest == pair or any(w is None for w in whole):
        return []
    base, end = whole[rest], whole[along]
    assert base is not None and end is not None and clamping.grip_height is not None
    up = str(clamping.rest_side)[0] == "-"
    levels = (base[0], base[0] + clamping.grip_height) if up else (base[1] - clamping.grip_height, base[1])
    pressed = extent(pair, rest, *levels)
    if pressed is None:
        return []
    span = _span(end, clamping.jaw_width, [(ends or {}).get(sign + AXES[along]) for sign in "-+"])
    jaws = []
    for side in clamping.clamp_sides:
        low, high = np.empty(3), np.empty(3)
        low[rest], high[rest] = levels
        low[along], high[along] = span
        near = pressed[0] if side[0] == "-" else pressed[1]
        low[pair], high[pair] = (near - JAW_THICK, near) if side[0] == "-" else (near, near + JAW_THICK)
        jaws.append(Jaw(side, low, high))
    return jaws


def _span(end: tuple[float, float], width: float | None, cut: list[float | None]) -> tuple[float, float]:
    """Where jaws stand along the part. end: its ends; cut: levels that these are cut to, None where they are not."""
    low = cut[0] + END_GAP if cut[0] is not None else -np.inf
    high = cut[1] - END_GAP if cut[1] is not None else np.inf
    wide = min(width or np.inf, high - low, end[1] - end[0] + 2.0 * JAW_THICK)
    start = min(max(0.5 * (end[0] + end[1] - wide), low), high - wide)
    return start, start + wide


def ends_cut(scene: Scene, plan: PlanDocument, clamping: str) -> dict[str, float]:
    """Sides of the part's box that are finished while it is held so, with their coordinates."""
    faces = {f for s in plan.setups if s.clamping == clamping for op in s.operations for f in op.faces}
    low, high = scene.once("face boxes", scene.face_boxes)
    out = {}
    for face in sorted(faces & low.keys()):
        for k in range(3):
            for sign, level in (("-", scene.low[k]), ("+", scene.high[k])):
                if max(abs(low[face][k] - level), abs(high[face][k] - level)) < LEVEL:
                    out[sign + AXES[k]] = float(level)
    return out


def extent_of(piece: Workpiece) -> Extent:
    """How far the material reaches along an axis, between two levels along another."""

    def extent(axis: int, other: int, low: float, high: float) -> tuple[float, float] | None:
        material = piece[axis]
        there, bundle = material.there, material.pieces.bundle
        if other != axis:
            at = (bundle.u if other == (axis + 1) % 3 else bundle.v)[there.ray]
            there = there.take((at >= low) & (at <= high))
        return (float(there.low.min()), float(there.high.max())) if len(there.ray) else None

    return extent
