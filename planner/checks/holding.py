"""Holding the workpiece: what it rests and is clamped on is there, is not cut meanwhile, and lies the right way."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

from planner.checks.index import Index, dot, fault, same
from shared.findings import Finding
from shared.plan import Clamping
from shared.units import Vector

SIDE = re.compile(r"[+-][xyz]\b")


def known(index: Index) -> Iterator[Finding]:
    """Each setup names a clamping that exists, clampings follow each other, and each serves a setup."""
    names = [c.id for c in index.plan.clampings]
    used = [s.clamping for s in index.plan.setups]
    for setup in index.plan.setups:
        if setup.clamping not in names:
            yield fault("unknown_clamping", f"{setup.id} is held in {setup.clamping}, which does not exist")
    for name in names:
        if name not in used:
            yield fault("empty_clamping", f"nothing is cut in clamping {name}")
    blocks = [c for i, c in enumerate(used) if i == 0 or used[i - 1] != c]
    if len(blocks) != len(set(blocks)):
        yield fault("clamping_taken_up_again", "a clamping goes on after another one was in between")


def not_cut(index: Index) -> Iterator[Finding]:
    """No face that is rested on or clamped is cut in that clamping or only later; a raw side is still raw."""
    for clamping in index.plan.clampings:
        here = [p for p in index.placed if p.setup.clamping == clamping.id]
        if not here:
            continue
        for face in sorted({*clamping.rest_faces, *clamping.clamp_faces}):
            cutter = next((p for p in index.placed if face in p.op.faces and p.number >= here[0].number), None)
            if cutter is not None:
                what = "is cut" if cutter.setup.clamping == clamping.id else "is not there yet: it is cut"
                text = f"clamping {clamping.id} holds face {face}, which {what} by {cutter.op.id}"
                yield fault("held_face_cut", text, faces=[face])
        yield from _raw_sides(index, clamping, here[0].number, here[-1].number)


def _raw_sides(index: Index, clamping: Clamping, first: int, last: int) -> Iterator[Finding]:
    grip = "below the part" in clamping.clamp_on
    for text in [clamping.rest_on] + ([] if grip else clamping.clamp_on.split(" and ")):
        if not text.startswith("raw side"):
            continue
        for name in SIDE.findall(text):
            owners = index.side_features(_direction(index, name))
            cutters = [p for f in owners for p in index.by_feature.get(f.id, []) if p.number <= last]
            if cutters:
                when = "in it" if cutters[0].number >= first else "before it"
                yield fault("raw_side_gone", f"clamping {clamping.id} holds raw side {name}, which is cut {when}")


def _direction(index: Index, name: str) -> Vector:
    axis = index.document.part.frame["xyz".index(name[1])]
    return axis if name[0] == "+" else (-axis[0], -axis[1], -axis[2])


def within_tilt(index: Index) -> Iterator[Finding]:
    """With five axes no setup comes from further round than the table leans away from the side that it rests on."""
    limit = float(index.plan.job.machine.get("tilt", 90.0)) + 1.2
    for setup in index.plan.setups if index.plan.job.axes == 5 else []:
        clamping = next((c for c in index.plan.clampings if c.id == setup.clamping), None)
        if clamping is None or clamping.rest_side is None:
            continue
        up = _turned(_direction(index, clamping.rest_side))
        lean = math.degrees(math.acos(max(-1.0, min(1.0, dot(up, setup.direction)))))
        if lean > limit:
            text = (
                f"{setup.id} leans {lean:.1f} degrees away from its clamping, the machine's table leans {limit - 1.2:g}"
            )
            yield fault("tilted_too_far", text)


def right_way(index: Index) -> Iterator[Finding]:
    """With three axes it rests on the side across from the tool and is clamped on a pair that is square to it."""
    for setup in index.plan.setups if index.plan.job.axes == 3 else []:
        clamping = next((c for c in index.plan.clampings if c.id == setup.clamping), None)
        for face in clamping.rest_faces if clamping else []:
            normal = _normal(index, face)
            if normal is not None and not same(normal, _turned(setup.direction)):
                yield fault(
                    "rest_not_across", f"{setup.id} rests on face {face}, not across from the tool", faces=[face]
                )
        for face in clamping.clamp_faces if clamping else []:
            normal = _normal(index, face)
            if normal is not None and abs(dot(normal, setup.direction)) > 0.01:
                yield fault(
                    "clamp_not_upright", f"{setup.id} is clamped on face {face}, in the tool's way", faces=[face]
                )


def pairs(index: Index) -> Iterator[Finding]:
    """Finished faces that are clamped look along one line."""
    for clamping in index.plan.clampings:
        normals = [n for n in (_normal(index, f) for f in clamping.clamp_faces) if n is not None]
        if any(abs(dot(normals[0], n)) < 0.999 for n in normals[1:]):
            yield fault("clamp_not_parallel", f"clamping {clamping.id} clamps faces that are not parallel")


def axes(index: Index) -> Iterator[Finding]:
    """Three axes: one setup a clamping. Four: directions round one axis. Five: none from below the table."""
    for clamping in index.plan.clampings:
        turned = [s.direction for s in index.plan.setups if s.clamping == clamping.id]
        if index.plan.job.axes == 3 and len(turned) > 1:
            yield fault("too_many_setups", f"clamping {clamping.id} has {len(turned)} setups: three axes allow one")
        if index.plan.job.axes == 4 and len(turned) > 1 and not _round_one_axis(index, turned):
            yield fault("too_many_setups", f"clamping {clamping.id}: its directions do not lie round one axis")
        rests = [n for n in (_normal(index, f) for f in clamping.rest_faces) if n is not None]
        if index.plan.job.axes == 5 and any(dot(n, d) > 0.1 for n in rests for d in turned):
            yield fault("rest_not_across", f"clamping {clamping.id} is cut from the side that it rests on")


def _round_one_axis(index: Index, turned: list[Vector]) -> bool:
    return any(all(abs(dot(axis, d)) < 0.03 for d in turned) for axis in index.document.part.frame)


def _normal(index: Index, face: int) -> Vector | None:
    """Outward normal of a face that a planar face feature owns."""
    for feature in index.document.features:
        if face in feature.faces and feature.kind == "planar_face":
            return next((v.direction for v in feature.views if v.kind == "planar_face"), None)
    return None


def _turned(v: Vector) -> Vector:
    return -v[0], -v[1], -v[2]


CHECKS = (known, not_cut, within_tilt, right_way, pairs, axes)
