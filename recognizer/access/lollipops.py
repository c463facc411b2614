"""Round hollows behind a narrower mouth, in a bore: what a lollipop cutter (a ball on a neck) for them must measure.

A groove of section radius r whose bottom lies `side` behind a mouth of diameter m: the ball D must pass the mouth and fit the
section, D <= min(m, 2 r); while it touches the bottom its neck must stay inside the mouth, so neck <= D - 2 side. Geometry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from recognizer.access.undercuts import SLACK_MM, done, goes_in, is_long_enough
from recognizer.snapshot import Snapshot
from recognizer.vector import dot
from shared.cutters import CutterTable
from shared.features import FeaturesDocument
from shared.plan import Tool
from shared.reach import Direction, FaceReach, ReachLimits, Undercut
from shared.units import Vector

ALONG = 1 - 1e-6


@dataclass(frozen=True)
class Round:
    """A round hollow seen through its mouth, mm."""

    mouth: float
    side: float
    largest: float
    depth: float
    neck_length: float

    @property
    def neck(self) -> float:
        """Largest neck of the largest ball."""
        return max(0.0, self.largest - 2 * self.side)


def lollipops_of(
    snapshot: Snapshot,
    features: FeaturesDocument,
    faces: list[FaceReach],
    directions: Sequence[Direction],
    table: CutterTable,
    limits: ReachLimits,
) -> tuple[list[Undercut], list[FaceReach]]:
    """Undercuts of torus and sphere faces that nothing else touches whole, and the faces with those done counted as reached."""
    found: list[Undercut] = []
    faces = list(faces)
    owner = {i: f.id for f in features.features for i in f.faces}
    for face in [f for f in faces if f.verdict == "not_reached" and f.surface in ("torus", "sphere")]:
        for k, d in enumerate(directions):
            hollow = _hollow(snapshot, face.index, d.vector)
            if hollow is None:
                continue
            tool = next((t for t in table.of("lollipop_mill") if _does(t, hollow, limits)), None)
            found.append(_undercut(face, owner.get(face.index), hollow, k, tool))
            if tool is not None:
                faces[face.index] = done(face, k, tool, "lollipop cutter")
            break
    return found, faces


def _hollow(snapshot: Snapshot, face: int, d: Vector) -> Round | None:
    """The hollow of a face that turns about an axis along d, behind a narrower circle higher up; None where it is none."""
    s = snapshot.faces[face].surface
    if not s.hollow or (s.kind == "torus" and abs(dot(s.axis, d)) < ALONG):
        return None
    at, way = np.array(s.origin), np.array(d)
    levels = snapshot.facet_arrays[face].reshape(-1, 3) @ way
    middle = float(np.clip(at @ way, levels.min(), levels.max()))  # where it goes in deepest
    above = []
    for e in snapshot.edges:
        if e.curve != "circle" or e.centre is None or e.axis is None or abs(dot(e.axis, d)) < ALONG:
            continue
        rel = np.array(e.centre) - at
        if np.linalg.norm(rel - way * (rel @ way)) < SLACK_MM and np.array(e.centre) @ way > middle:
            above.append((e.radius, float(np.array(e.centre) @ way)))
    if not above:
        return None
    mouth = 2 * min(r for r, _ in above)
    widest = s.major_radius + s.radius if s.kind == "torus" else s.radius
    side = widest - mouth / 2
    if side <= SLACK_MM:
        return None
    top = max(level for _, level in above)
    return Round(mouth, side, min(mouth, 2 * s.radius), float(top - levels.min()), float(max(0.0, top - middle)))


def _does(tool: Tool, hollow: Round, limits: ReachLimits) -> bool:
    fits = hollow.largest + SLACK_MM >= tool.DC and goes_in(tool, hollow.side)
    return fits and is_long_enough(tool, hollow.depth, limits)


def _undercut(face: FaceReach, feature: str | None, hollow: Round, k: int, tool: Tool | None) -> Undercut:
    does = f"{tool.id} does it" if tool else "no cutter of the file does it"
    if hollow.neck <= 0:
        measures = f"a ball of at most {hollow.largest:.2f} mm leaves no neck: it goes {hollow.side:.2f} mm in behind the mouth"
    else:
        measures = (
            f"ball over {2 * hollow.side:.2f} and at most {hollow.largest:.2f} mm, its neck thinner than the ball by "
            f"{2 * hollow.side:.2f} mm and at least {hollow.neck_length:.2f} mm long"
        )
    return Undercut(
        faces=[face.index],
        feature=feature,
        direction=k,
        family="lollipop",
        neck=hollow.neck,
        neck_length=hollow.neck_length,
        head=2 * hollow.side,
        head_height=hollow.largest,
        cutter=tool.id if tool else None,
        text=f"{feature or f'face {face.index}'}: a lollipop cutter: {measures}; {does}",
    )
