"""The plan document with what the simulation found: figures, lumps left and gouged, findings."""

from __future__ import annotations

import numpy as np

from planner.proof.cutting import Cut, Done, cut_plan, volume
from planner.proof.lumps import Lump as Found
from planner.proof.lumps import lumps
from planner.proof.material import Pieces
from planner.proof.scene import scene_of
from planner.proof.strokes.surfaces import HeightField
from shared.features import FeaturesDocument
from shared.findings import Finding
from shared.plan import Lump, PlanDocument, Simulation
from shared.shape import Shape

RESOLUTION = 0.1
"""Mm between rows of rays, on parts up to LARGE; larger ones are cut coarser in proportion."""
LARGE = 200.0
"""Mm: longest side up to which the resolution is RESOLUTION."""
TOLERANCE = 0.05
"""Mm: thinner skins count as none. Five times what the triangles may lie off their faces."""
BAD_RAYS = 0.01
"""Share of rays on which the triangles do not close, beyond which nothing is said."""
SHOWN = 40
"""Lumps that the document lists; all are in the sums."""
METHOD = (
    "every operation's sweep taken off exact intervals along three bundles of rays, one along each of the part's own "
    "axes; lengths along rays are exact but for the triangles' and arcs' chords (0.01 mm), areas across them are "
    "counted by rays; surfaces followed by a ball are known within the cells of a height field (0.2 mm or more) where "
    "they are steep"
)
NAMES_REST = ("sharp_corner", "corner_left", "gap_left", "partly_uncut", "overhanging_wall", "hole_step_hidden")
"""Codes of findings that say beforehand what stays."""


def prove(plan: PlanDocument, features: FeaturesDocument, shape: Shape, resolution: float | None = None) -> Cut | None:
    """Cuts the plan and writes what it finds into it: `proof`, every operation's `removed`, and findings.

    resolution: mm between rows of rays; by default RESOLUTION, coarser on parts longer than LARGE. None is returned,
    and a finding says so, where the part's triangles do not close.
    """
    scene = scene_of(plan, features, shape)
    longest = float((scene.raw_high - scene.raw_low).max())
    fine = resolution or RESOLUTION * max(1.0, longest / LARGE)
    cut = cut_plan(plan, scene, fine)
    bad = sum(int(m.pieces.bad.sum()) for m in cut.after)
    rays = sum(m.pieces.bundle.count for m in cut.after)
    if bad > BAD_RAYS * rays:
        plan.findings.append(_not_closed(bad / rays))
        return None
    _write(plan, features, cut, rays)
    return cut


def _write(plan: PlanDocument, features: FeaturesDocument, cut: Cut, rays: int) -> None:
    bundles = [m.pieces.bundle for m in cut.after]
    proof, cube = plan.proof, 10.0 * cut.resolution
    for done in cut.done:
        done.operation.removed = volume(bundles, done.taken)
    left = [m.there.take(~m.pieces.own[m.there.piece]) for m in cut.after]
    found = lumps(cut.after, left, TOLERANCE, cube)
    not_cut = {d.operation.id: "; ".join(d.reasons) for d in cut.done if d.reasons}
    followed = [d for d in cut.done if _cell(d) > 0.0]
    found = [f for f in found if f.thickness > _known_by(cut, followed, f)]
    rest = [_left(plan, features, cut, f, not_cut) for f in found]
    deep = [(d, f) for d in cut.done for f in _gouged(cut, d, cube) if f.thickness > _known_by(cut, [d], f)]
    gouges = [_gouge(features, cut, done, f) for done, f in deep]
    proof.left_uncut, proof.gouged = sum(x.volume for x in rest), sum(g.volume for g in gouges)
    proof.left, proof.gouges = rest[:SHOWN], gouges[:SHOWN]
    proof.simulation = Simulation(
        resolution=cut.resolution,
        ray_spacing=5.0 * cut.resolution,
        rays=rays,
        tolerance=TOLERANCE,
        workpiece=volume(bundles, [m.there for m in cut.after]),
        part=float(np.mean([_own(m.pieces) for m in cut.after])),
        removed=sum(d.operation.removed or 0.0 for d in cut.done),
        not_cut=not_cut,
        method=METHOD,
    )
    plan.findings += [_idle(done) for done in cut.done if _is_idle(done)]


def _cell(done: Done) -> float:
    """Mm that a surface followed in a height field is known by sideways, 0 for other sweeps."""
    return max((s.cell for stroke in done.strokes for s in stroke.sweeps if isinstance(s, HeightField)), default=0.0)


def _known_by(cut: Cut, followed: list[Done], found: Found) -> float:
    """Mm that a lump's thickness is known by: a cell, where it lies on or close beside faces that were followed."""
    known = 0.0
    for done in followed:
        corners = cut.scene.corners[cut.scene.triangles(done.operation.faces)].reshape(-1, 3)
        cell = _cell(done)
        if len(corners) and ((found.at > corners.min(axis=0) - 1.0) & (found.at < corners.max(axis=0) + 1.0)).all():
            known = max(known, cell)
    return known


def _own(pieces: Pieces) -> float:
    return float(pieces.bundle.cell * (pieces.high - pieces.low)[pieces.own].sum())


def _gouged(cut: Cut, done: Done, cube: float) -> list[Found]:
    own = [t.take(m.pieces.own[t.piece]) for t, m in zip(done.taken, cut.after, strict=True)]
    return lumps(cut.after, own, TOLERANCE, cube)


def _at(cut: Cut, found: Found) -> tuple[float, float, float]:
    x, y, z = (float(v) for v in cut.scene.frame.T @ found.at)
    return x, y, z


def _owner(features: FeaturesDocument, face: int) -> str | None:
    return next((f.feature for f in features.faces if f.index == face), None)


def _gouge(features: FeaturesDocument, cut: Cut, done: Done, found: Found) -> Lump:
    face = found.face if found.face >= 0 else None
    return Lump(
        volume=found.volume,
        thickness=found.thickness,
        at=_at(cut, found),
        face=face,
        feature=_owner(features, found.face),
        operation=done.operation.id,
    )


def _left(plan: PlanDocument, features: FeaturesDocument, cut: Cut, found: Found, not_cut: dict[str, str]) -> Lump:
    face = found.face if found.face >= 0 else _nearest(cut, found)
    feature = _owner(features, face)
    operation = _responsible(plan, face, feature)
    return Lump(
        volume=found.volume,
        thickness=found.thickness,
        at=_at(cut, found),
        face=face,
        feature=feature,
        operation=operation,
        named=_named(plan, feature) or ("not_cut" if operation in not_cut else None),
    )


def _nearest(cut: Cut, found: Found) -> int:
    """Face of the triangle whose middle lies nearest: only a hint, for lumps that no ray finds lying on a face."""
    middles = cut.scene.corners.mean(axis=1)
    return int(cut.scene.face_of[int(np.argmin(((middles - found.at) ** 2).sum(axis=1)))])


def _responsible(plan: PlanDocument, face: int, feature: str | None) -> str | None:
    """The last operation that brings the face to size, else the last on its feature."""
    every = [op for setup in plan.setups for op in setup.operations]
    mine = [op for op in every if face in op.faces] or [op for op in every if feature in op.features]
    return mine[-1].id if mine else None


def _named(plan: PlanDocument, feature: str | None) -> str | None:
    """Code of what the plan says of this rest beforehand: a finding, or that the feature is not planned."""
    if any(u.feature == feature for u in plan.unplanned):
        return "unplanned"
    return next((f.code for f in plan.findings if f.code in NAMES_REST and feature in f.features), None)


def _is_idle(done: Done) -> bool:
    return not done.reasons and (done.operation.removed or 0.0) < 1e-3


def _idle(done: Done) -> Finding:
    op = done.operation
    return Finding(
        code="removes_nothing",
        severity="warning",
        message=f"{op.id}: {op.name} removes nothing in the simulation: what it would cut is gone before",
        hint="leave it out, or check the operations before it",
        features=list(op.features),
    )


def _not_closed(share: float) -> Finding:
    return Finding(
        code="not_simulated",
        severity="warning",
        message=f"the part's triangles do not close on {share:.0%} of the rays, so the plan was not cut in simulation",
        hint="repair the model; until then prove the plan by other means",
    )
