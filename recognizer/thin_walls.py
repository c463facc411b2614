"""Thin walls: what little material stands between two faces, said with its thickness.

Between parallel plane faces that look away from each other, between a bore and a plane side along it, between two
parallel bores, and between a bore and the round outside about it. Leaning walls, and tips of drilled holes over a
face, are not measured.
"""

from __future__ import annotations

import numpy as np

from recognizer.crossings import CLEAR_MM, Interiors, face_boxes, near
from recognizer.rule import Context
from recognizer.snapshot import Face
from recognizer.vector import add, dot, length, scale, sub
from shared.findings import Finding
from shared.units import Vector

THIN_MM = 0.5
"""Walls below this are said: a finishing cut of some tenths bends or tears them. Common practice, no source."""
PARALLEL = 1e-6
FULL_TURN = 350.0
"""Degrees that a cylinder spans to be taken for a bore or a round outside."""
PLACES = (0.02, 0.25, 0.5, 0.75, 0.98)
"""Along the length that two faces have in common: where a bore's wall is looked for on a plane side."""


def thin_walls(ctx: Context) -> list[Finding]:
    """A finding for each wall thinner than THIN_MM, thinnest first."""
    boxes = face_boxes(ctx.snapshot)
    first, second = near(boxes + [[-THIN_MM], [THIN_MM]], boxes)
    ahead = first < second
    faces, interiors = ctx.faces, Interiors(ctx.snapshot)
    ruled = np.array([f.kind in ("plane", "cylinder") for f in faces])
    axes = np.array([f.surface.axis for f in faces])
    planes = np.array([f.kind == "plane" for f in faces])
    cosine = np.abs((axes[first] * axes[second]).sum(axis=1))
    wanted = np.where(planes[first] == planes[second], cosine > 1 - PARALLEL, cosine < PARALLEL)
    found = []
    for k in np.flatnonzero(ahead & wanted & ruled[first] & ruled[second]):
        a, b = sorted((faces[first[k]], faces[second[k]]), key=lambda f: f.kind != "cylinder")
        thickness = _between(ctx, interiors, a, b)
        if thickness is not None:
            found.append((thickness, sorted((a.index, b.index))))
    return [_finding(thickness, pair) for thickness, pair in sorted(found)]


def _between(ctx: Context, interiors: Interiors, a: Face, b: Face) -> float | None:
    """Thickness of the wall between two faces, a cylinder first; None where none is or where it is not thin."""
    if a.kind == "plane":
        thickness = a.surface.offset + b.surface.offset
        thin = dot(a.surface.axis, b.surface.axis) < 0 and 0 < thickness < THIN_MM
        return thickness if thin and interiors.overlap(a.index, b.index, max(CLEAR_MM, thickness)) else None
    if a.span < FULL_TURN or (b.kind == "cylinder" and b.span < FULL_TURN):
        return None
    thickness = _between_cylinders(a, b) if b.kind == "cylinder" else _beside(a, b)
    low, high = _in_common(ctx, a, b)
    if not 0 < thickness < THIN_MM or high - low < 2 * thickness:
        return None
    if b.kind == "cylinder":
        return thickness
    foot = add(a.surface.origin, scale(b.surface.axis, a.surface.radius + thickness))
    levels = (low + share * (high - low) for share in PLACES)
    return thickness if any(_on(interiors, b, foot, a.surface.axis, at, thickness) for at in levels) else None


def _beside(a: Face, b: Face) -> float:
    """Material between a bore and a plane side along it; negative where there is none."""
    return b.surface.offset - dot(a.surface.origin, b.surface.axis) - a.surface.radius if a.surface.hollow else -1.0


def _in_common(ctx: Context, a: Face, b: Face) -> tuple[float, float]:
    """Levels along a cylinder's axis between which both faces lie."""
    lows, highs = ctx.snapshot.levels(a.surface.axis)
    return max(lows[a.index], lows[b.index]), min(highs[a.index], highs[b.index])


def _between_cylinders(a: Face, b: Face) -> float:
    """Material between two bores, or between a bore and the round outside about it; negative where there is none."""
    rel = sub(b.surface.origin, a.surface.origin)
    apart = length(sub(rel, scale(a.surface.axis, dot(rel, a.surface.axis))))
    if a.surface.hollow and b.surface.hollow:
        return apart - a.surface.radius - b.surface.radius
    if a.surface.hollow == b.surface.hollow:
        return -1.0
    bore, outside = (a, b) if a.surface.hollow else (b, a)
    return outside.surface.radius - bore.surface.radius - apart


def _on(interiors: Interiors, plane: Face, foot: Vector, axis: Vector, level: float, clear: float) -> bool:
    at = add(foot, scale(axis, level - dot(foot, axis)))
    return interiors.holds(plane.index, np.array(at), clear)


def _finding(thickness: float, faces: list[int]) -> Finding:
    return Finding(
        code="thin_wall",
        severity="warning",
        message=f"a wall of {thickness:.3g} mm is left between face {faces[0]} and face {faces[1]}",
        hint="it bends or tears when it is cut: thicken it, leave it for another way of making it, or check the model",
        faces=faces,
    )
