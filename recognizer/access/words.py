"""Reasons in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from recognizer.access.said import Said
from shared.fit import bending
from shared.reach import Blocker, ReachLimits, Verdict

SHOWN = 4
"""Faces named in one reason."""
TEXT = {
    "material_above": "material stands above it",
    "faces_away": "it faces away",
    "gap_too_narrow": "the gap is too narrow",
    "corner_too_tight": "the corner is too tight",
    "floor_radius_too_small": "the radius at the floor is smaller than the cutter's edge radius",
    "holder_collides": "the holder would collide: no cutter that fits is long enough",
    "too_long_for_its_diameter": "a cutter thin enough would be too long for its diameter",
    "too_short": "no cutter of the file is long enough",
    "undercut": "only an undercut cutter gets there",
    "sealed": "the hollow is sealed",
}
LEAST = 5e-4
"""Shares below this are not worth a line."""


def blockers_of(one: Said) -> list[Blocker]:
    """What blocks a face from one direction: by reason, the largest loss first."""
    groups: dict[str, list[tuple[float, int]]] = {}
    for (reason, face), share in one.lost.items():
        groups.setdefault(reason, []).append((share, face))
    out = []
    for reason, rows in groups.items():
        total = sum(s for s, _ in rows)
        if total < LEAST:
            continue
        faces = [f for s, f in sorted(rows, key=lambda r: (-round(r[0], 6), r[1])) if f >= 0]
        out.append(Blocker(reason=reason, faces=faces[:12], share=min(1.0, total), text=text_of(reason, faces, total)))  # type: ignore[arg-type]
    return sorted(out, key=lambda b: (-round(b.share, 6), b.reason))


def text_of(reason: str, faces: Sequence[int], share: float) -> str:
    """'12.5 %: the corner is too tight (face 3)'."""
    return f"{100 * share:.3g} %: {TEXT[reason]}{_named(faces)}"


def _named(faces: Sequence[int]) -> str:
    if not faces:
        return ""
    more = ", ..." if len(faces) > SHOWN else ""
    return f" (face{'s' if len(faces) > 1 else ''} {', '.join(map(str, faces[:SHOWN]))}{more})"


def reasons_of(
    index: int,
    views: list[tuple[int, Said]],
    best: tuple[int, Said] | None,
    verdict: Verdict,
    limits: ReachLimits,
    names: Sequence[str],
) -> list[str]:
    """Why a face is not reached, or only just, from its best direction."""
    if best is None:
        texts = [f"from {names[k]} {TEXT[r]}{_named(faces)}" for k, one in views for r, faces in _why(one)[:1]]
        return texts or [f"it faces away from all {len(names)} directions"]
    k, one = best
    if verdict == "warning" and one.largest is not None:
        size = one.largest.DC
        ratio = one.depth / size
        more = bending(1, one.depth, size) / bending(1, limits.warn * size, size)
        bends = f", and bends {more:.1f} times as far as at {limits.warn:g} x" if ratio > limits.warn else ""
        return [
            f"from {names[k]} a {size:g} mm cutter stands out {one.depth:.1f} mm, {ratio:.1f} x its diameter{bends}"
        ]
    return [f"from {names[k]} {TEXT[r]}{_named(faces)}" for r, faces in _why(one)] or [f"from {names[k]} only in part"]


def _why(one: Said) -> list[tuple[str, list[int]]]:
    return [(b.reason, b.faces) for b in blockers_of(one)]
