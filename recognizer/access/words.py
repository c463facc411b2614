"""Reasons in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from recognizer.access.said import Said
from shared.fit import bending
from shared.reach import Blocker, ReachLimits, Verdict

FOR_LONG = " for long"
"""Added to a reason: thin cutters would fit, but none of them is long enough."""
SHOWN = 4
"""Faces named in one reason."""
TEXT = {
    "material_above": "material stands above it",
    "faces_away": "it faces away",
    "gap_too_narrow": "the gap is too narrow",
    "corner_too_tight": "the corner is too tight",
    "floor_radius_too_small": "the radius at the floor is smaller than the cutter's edge radius",
    f"gap_too_narrow{FOR_LONG}": "the gap is too narrow for a cutter that is long enough",
    f"corner_too_tight{FOR_LONG}": "the corner is too tight for a cutter that is long enough",
    "holder_collides": "the holder would collide: no cutter that fits is long enough",
    "too_long_for_its_diameter": "a cutter thin enough would be too long for its diameter",
    "too_short": "no cutter of the file is long enough",
    "undercut": "only an undercut cutter gets there",
    "sealed": "the hollow is sealed",
}
BORE = {
    "gap_too_narrow": "the bore is narrower than any cutter of the file that could make it",
    f"gap_too_narrow{FOR_LONG}": "the bore is too narrow for a cutter that is long enough",
}
"""The same where nothing but the face itself is in the way."""
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
        out.append(
            Blocker(
                reason=reason.removesuffix(FOR_LONG),
                faces=faces[:12],
                share=min(1.0, total),
                text=text_of(reason, faces, total),
            )
        )  # type: ignore[arg-type]
    return sorted(out, key=lambda b: (-round(b.share, 6), b.reason))


def text_of(reason: str, faces: Sequence[int], share: float) -> str:
    """'12.5 %: the corner is too tight (face 3)'."""
    text = TEXT[reason] if faces else BORE.get(reason, TEXT[reason])
    return f"{100 * share:.3g} %: {text}{_named(faces)}"


def _named(faces: Sequence[int]) -> str:
    if not faces:
        return ""
    more = ", ..." if len(faces) > SHOWN else ""
    return f" (face{'s' if len(faces) > 1 else ''} {', '.join(map(str, faces[:SHOWN]))}{more})"


def reasons_of(
    views: list[tuple[int, Said]],
    best: tuple[int, Said] | None,
    verdict: Verdict,
    limits: ReachLimits,
    names: Sequence[str],
) -> list[str]:
    """Why a face is not reached, or only just, from its best direction."""
    if best is None:
        texts = [f"from {names[k]} {text}" for k, one in views for text in _why(one)[:1]]
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
    return [f"from {names[k]} {text}" for text in _why(one)] or [f"from {names[k]} only in part"]


def _why(one: Said) -> list[str]:
    return [b.text.split(": ", 1)[1] for b in blockers_of(one)]
