"""Jaws: lower than what is cut over them, within the vise's opening, high and large enough, on sides that lie across."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner.checks.index import LEVEL, Index, Placed, dot, fault, same
from shared.features import HOLE_KINDS, View
from shared.findings import Finding
from shared.plan import Clamping
from shared.units import Vector

SIDE = re.compile(r"[+-][xyz]")
SMALLEST_CONTACT = 25.0
"""Mm2 under which nothing is held, whatever the part's size: common practice, no source."""
THINNEST_LAYER = 3.0
"""Mm of raw layer that serrated jaws must grip at least: common practice, no source."""
INWARD = (*HOLE_KINDS, "closed_pocket", "outside_profile")
"""View kinds that run out over no side across, or only cut their own side whole."""


def _held(index: Index) -> Iterator[tuple[Clamping, str, list[str], list[Placed]]]:
    """Clampings that jaws or clamps hold: (clamping, rest side, clamped sides, operations in it)."""
    for clamping in index.plan.clampings:
        here = [p for p in index.placed if p.setup.clamping == clamping.id]
        if clamping.device in ("vise", "table_clamps", "chuck") and here and _named(clamping):
            yield clamping, str(clamping.rest_side), clamping.clamp_sides, here


def _named(clamping: Clamping) -> bool:
    return all(SIDE.fullmatch(s) for s in [clamping.rest_side or "", *clamping.clamp_sides])


def said(index: Index) -> Iterator[Finding]:
    """What is not a fixture says what it rests on, which pair it presses, how wide it opens and how high it stands."""
    for clamping in index.plan.clampings:
        if clamping.device == "fixture":
            continue
        pair = clamping.clamp_sides
        across = len(pair) == 2 and pair[0][1:] == pair[1][1:] and pair[0][:1] != pair[1][:1]
        if not (across and all(SIDE.fullmatch(s) for s in pair)):
            yield fault("clamps_no_pair", f"clamping {clamping.id} presses {pair}, which are not two sides across")
        if clamping.device == "between_ends":
            continue
        if not _named(clamping) or clamping.grip_height is None or clamping.opening is None:
            yield fault(
                "holding_not_said", f"clamping {clamping.id} does not say how it holds: rest, sides, height, opening"
            )
        elif any(s[1] == clamping.rest_side[1] for s in pair):  # type: ignore[index]
            yield fault(
                "clamps_rest", f"clamping {clamping.id} presses on the side that it rests on, or across from it"
            )


def lies_across(index: Index) -> Iterator[Finding]:
    """With three axes the workpiece rests on the side across from the tool; with more it is not cut from below."""
    for clamping, rest, _, here in _held(index):
        out = _direction(index, rest)
        for setup in {p.setup_number: p.setup for p in here}.values():
            wrong = (
                not same(out, _turned(setup.direction)) if index.plan.job.axes == 3 else dot(out, setup.direction) > 0.1
            )
            if wrong:
                yield fault("rest_not_across", f"{setup.id} is cut from where clamping {clamping.id} rests: {rest}")


def sides_stay(index: Index) -> Iterator[Finding]:
    """Nothing takes the rest side or, unless only the raw layer below is gripped, a clamped side to size meanwhile."""
    for clamping, rest, pair, here in _held(index):
        for side in [rest] if _layer(clamping) else [rest, *pair]:
            for p in here:
                if _cuts_side(index, p, side):
                    yield fault("held_side_cut", f"{p.op.id} cuts side {side}, which clamping {clamping.id} holds")


def jaws_clear(index: Index) -> Iterator[Finding]:
    """What runs out over a clamped side, or comes in across it, stays above the jaws."""
    for clamping, rest, pair, here in _held(index):
        if clamping.grip_height is None:
            continue
        up = _direction(index, _opposite(rest))
        top = _floor(index, rest, here[0].number) + clamping.grip_height
        for p in here:
            for name in p.op.features:
                view = index.view(name, p.setup.direction)
                low = _lowest(index, p, view, up) if view is not None else None
                beside = view is not None and abs(dot(p.setup.direction, up)) < 0.03 and _only_faces(index, p)
                beside = beside or (view is not None and _past_the_ends(index, view, clamping, name))
                sides = [s for s in pair if view is not None and _over(index, p, name, view, s) and not beside]
                if low is not None and sides and low < top - LEVEL:
                    text = f"{p.op.id} goes down to {low:.2f} over {sides[0]}, where the jaws stand up to {top:.2f}"
                    yield fault("jaw_collision", text, features=[name])


def opening(index: Index) -> Iterator[Finding]:
    """The opening is the workpiece's width there, and a vise opens that far."""
    for clamping, _, pair, here in _held(index):
        if clamping.opening is None:
            continue
        want = sum(_reach(index, s, here[0].number, raw=_layer(clamping)) for s in pair)
        if abs(want - clamping.opening) > LEVEL:
            yield fault(
                "wrong_opening", f"clamping {clamping.id} says {clamping.opening:g} mm; the workpiece is {want:g} wide"
            )
        if clamping.device != "table_clamps" and clamping.opening > index.plan.job.vise.opening + LEVEL:
            text = f"clamping {clamping.id} opens {clamping.opening:g} mm, the vise {index.plan.job.vise.opening:g}"
            yield fault("opening_too_wide", text)


def enough(index: Index) -> Iterator[Finding]:
    """Jaws stand as high as the shop asks for, no higher than they are, and touch enough of what faces them."""
    vise = index.plan.job.vise
    for clamping, _, pair, _ in _held(index):
        height, area = clamping.grip_height, clamping.contact_area
        least = THINNEST_LAYER if _layer(clamping) else vise.least_grip
        if height is not None and height < least - 1e-6:
            yield fault("grip_too_low", f"clamping {clamping.id} grips {height:g} mm, less than {least:g}")
        if height is not None and height > vise.jaw_height + 1e-6:
            yield fault(
                "grip_too_high", f"clamping {clamping.id} grips {height:g} mm; the jaws are {vise.jaw_height:g} high"
            )
        if area is None and not _layer(clamping):
            yield fault("contact_not_said", f"clamping {clamping.id} does not say how much it touches")
        if area is not None and area < SMALLEST_CONTACT:
            yield fault("contact_too_small", f"clamping {clamping.id} touches {area:.1f} mm2 only")
        for side in pair if area is not None else ():
            there = [f for f in clamping.clamp_faces if _looks(index, f, side)]
            known = sum(f.area for f in index.document.faces if f.index in there)
            bought = index.allowance(_direction(index, side)) <= 0.0  # a side as bought is whole until cuts open on it
            if area is not None and there and not bought and area > 1.01 * known + 1.0:
                text = f"clamping {clamping.id} says {area:.0f} mm2; its faces on {side} have {known:.0f}"
                yield fault("contact_too_large", text, faces=there)


def ends_free(index: Index) -> Iterator[Finding]:
    """Where both ends beside the jaws are cut, the jaws are shorter than the finished part."""
    for clamping, rest, pair, here in _held(index):
        along = next(a for a in "xyz" if a not in (rest[1], pair[0][1]))
        ends = ("-" + along, "+" + along)
        if _layer(clamping) or clamping.device == "table_clamps":
            continue
        if all(any(_cuts_side(index, p, side) for p in here) for side in ends):
            size = sum(index.box_level(_direction(index, s)) or 0.0 for s in ends)
            if clamping.jaw_width is None or clamping.jaw_width > size - 1.0:
                yield fault(
                    "jaws_too_wide",
                    f"clamping {clamping.id}: {clamping.jaw_width} mm jaws, but both ends of {size:g} are cut",
                )


def raw_sides_whole(index: Index) -> Iterator[Finding]:
    """A raw side without a flat face below it, once something has run out over it, is no longer there to be rested on."""
    for clamping, rest, _, here in _held(index):
        out = _direction(index, rest)
        if not clamping.rest_on.startswith("raw side") or index.side_features(out) or clamping.rest_faces:
            continue
        for p in index.placed[: here[0].number]:
            for name in p.op.features if not _only_faces(index, p) else ():
                view = index.view(name, p.setup.direction)
                lean = dot(p.setup.direction, out)
                if (
                    view is not None
                    and view.kind not in INWARD
                    and (0.03 < lean < 0.9999 or _over(index, p, name, view, rest))
                ):
                    text = f"clamping {clamping.id} rests on raw side {rest}, which {p.op.id} has cut away"
                    yield fault("raw_side_gone", text, features=[name])


def _layer(clamping: Clamping) -> bool:
    return "below the part" in clamping.clamp_on


def _cuts_side(index: Index, p: Placed, side: str) -> bool:
    owned = {f.id for f in index.side_features(_direction(index, side))}
    if owned & set(p.op.features):
        return True
    level = index.box_level(_direction(index, side))
    faced = p.op.name == "face" and not p.op.features and same(p.setup.direction, _direction(index, side))
    return faced and level is not None and abs(p.op.levels.bottom - level) <= LEVEL


def _floor(index: Index, rest: str, number: int) -> float:
    """Level, pointing up from the rest side, of what the workpiece rests on."""
    return -_reach(index, rest, number)


def _reach(index: Index, side: str, number: int, raw: bool = False) -> float:
    """Level of a side when operation `number` starts: raw until something has cut it."""
    out = _direction(index, side)
    cut = any(_cuts_side(index, p, side) or _profiled(index, p, side) for p in index.placed[:number])
    return (index.box_level(out) or 0.0) + (0.0 if cut and not raw else index.allowance(out))


def _profiled(index: Index, p: Placed, side: str) -> bool:
    """Whether the operation cuts an outside profile that reaches the side."""
    out = _direction(index, side)
    for name in p.op.features:
        view = index.view(name, p.setup.direction)
        profile = name in index.features and index.features[name].kind == "outside_profile"
        if view is not None and profile and abs(dot(view.direction, out)) < 1e-3:
            points = _points(view)
            level = index.box_level(out) or 0.0
            boxed = [
                f.index for f in index.document.faces if f.box is not None and f.index in index.features[name].faces
            ]
            if any(_lies_on(index, f, side) for f in boxed):
                return True
            far = level + (index.box_level(_turned(out)) or 0.0)
            if not points or max(dot(q, out) for q in points) >= level - 0.02 * far:
                return True
    return False


def _lies_on(index: Index, face: int, side: str) -> bool:
    """Whether a face reaches the part's box on a side, as far as its own box tells; yes where it has none."""
    axis, whole = "xyz".index(side[1]), index.document.part.frame_box
    box = next((f.box for f in index.document.faces if f.index == face), None)
    if box is None:
        return True
    off = whole.max[axis] - box.max[axis] if side[0] == "+" else box.min[axis] - whole.min[axis]
    return off <= LEVEL


def _over(index: Index, p: Placed, name: str, view: View, side: str) -> bool:
    """Whether the cut runs out over a side, or the cutter comes in across it."""
    out = _direction(index, side)
    if dot(p.setup.direction, out) > 0.1:
        return True
    if view.kind in INWARD or abs(dot(view.direction, out)) > 0.03:
        return False
    level = (index.box_level(out) or 0.0) - LEVEL
    if view.kind in ("step", "slot", "open_pocket"):
        return any(s.open and dot(s.start, out) >= level and dot(s.end, out) >= level for s in view.sides)
    points = _points(view)
    if not points and name in index.features:  # a view without an outline: as far as its faces' boxes tell
        return any(_lies_on(index, f, side) for f in index.features[name].faces)
    return not points or max(dot(q, out) for q in points) >= level


def _only_faces(index: Index, p: Placed) -> bool:
    """Whether the operation stays at or above the finished side that it comes from: past the jaws' ends."""
    level = index.box_level(p.setup.direction)
    return level is not None and p.deepest >= level - LEVEL


def _past_the_ends(index: Index, view: View, clamping: Clamping, feature: str) -> bool:
    """Whether a strip across a corner of the part, upright as the cutter sees it, lies beyond the jaws' ends."""
    known = index.features.get(feature)
    if known is None or known.kind not in ("chamfer", "edge_round") or not view.through or clamping.jaw_width is None:
        return False
    along = "xyz".index(next(a for a in "xyz" if a not in (str(clamping.rest_side)[1], clamping.clamp_sides[0][1])))
    boxes = [f.box for f in index.document.faces if f.index in known.faces]
    whole, half = index.document.part.frame_box, clamping.jaw_width / 2.0 + 1.0
    middle = (whole.min[along] + whole.max[along]) / 2.0
    return bool(boxes) and all(
        b is not None and (b.min[along] > middle + half or b.max[along] < middle - half) for b in boxes
    )


def _lowest(index: Index, p: Placed, view: View, up: Vector) -> float:
    """Lowest level along `up` that the operation reaches."""
    if dot(p.setup.direction, up) > 1.0 - 1e-4:
        return p.deepest
    points = _points(view)
    return min((dot(q, up) for q in points), default=float("inf"))


def _points(view: View) -> list[Vector]:
    return [q for ring in view.outline for q in ring] + [q for s in view.sides for q in (s.start, s.end)]


def _looks(index: Index, face: int, side: str) -> bool:
    return any(face in f.faces for f in index.side_features(_direction(index, side)))


def _direction(index: Index, name: str) -> Vector:
    axis = index.document.part.frame["xyz".index(name[1])]
    return axis if name[0] == "+" else _turned(axis)


def _opposite(side: str) -> str:
    return ("-" if side[0] == "+" else "+") + side[1]


def _turned(v: Vector) -> Vector:
    return -v[0], -v[1], -v[2]


CHECKS = (said, lies_across, sides_stay, jaws_clear, opening, enough, ends_free, raw_sides_whole)
