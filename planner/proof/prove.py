"""The plan document with what the simulation found: figures, lumps left and gouged, findings."""

from __future__ import annotations

import numpy as np

from planner.proof.air import share_in_material
from planner.proof.collisions import Hit
from planner.proof.cutting import Cut, Done, cut_plan, volume
from planner.proof.fields import HeightField
from planner.proof.lumps import Lump as Found
from planner.proof.lumps import lumps
from planner.proof.material import Intervals, Pieces
from planner.proof.rays import Bundle
from planner.proof.rests import falls_off, is_loose, owner_of, place_of, rests
from planner.proof.scene import Scenes
from shared.features import FeaturesDocument
from shared.findings import Finding
from shared.plan import Operation, PlanDocument
from shared.proof import Collision, Lump, Simulation
from shared.shape import Shape

RESOLUTION = 0.1
"""Mm between rows of rays, on parts up to LARGE; larger ones are cut coarser in proportion."""
LARGE = 200.0
"""Mm: longest side up to which the resolution is RESOLUTION."""
TOLERANCE = 0.05
"""Mm: thinner skins count as none. Five times what the triangles may lie off their faces."""
BAD_RAYS = 0.01
"""Share of rays on which the triangles do not close, beyond which nothing is said."""
NOT_PROVEN = ("simulation_off", "not_simulated")
"""Codes of findings that hold no more once a plan is cut."""
MOSTLY = 0.15
"""Share of an operation's way in material under which it is said to cut air. Rest cuts of sound plans, which go in and
out of corners, reach 0.2; other cuts 0.6 and more."""
SHOWN = 40
"""Lumps that the document lists; all are in the sums."""
METHOD = (
    "every operation's sweep taken off exact intervals along three bundles of rays, one along each of the part's own "
    "axes; lengths along rays are exact but for the triangles' and arcs' chords (0.01 mm), areas across them are "
    "counted by rays; surfaces followed by a ball are known within the cells of a height field (0.2 mm or more) where "
    "they are steep; of edges that are broken the bevel alone is swept, not the cutter's body beside it; cutters and "
    "holders are held against jaws in directions along the part's own axes only"
)


def prove(
    plan: PlanDocument,
    features: FeaturesDocument,
    shape: Shape,
    resolution: float | None = None,
    scenes: Scenes | None = None,
) -> Cut | None:
    """Cuts the plan and writes what it finds into it: `proof`, every operation's `removed`, and findings.

    resolution: mm between rows of rays; by default RESOLUTION, coarser on parts longer than LARGE. scenes: of the
    same part, where several plans are cut. None is returned, and a finding says so, where the part's triangles do not close.
    """
    scene = (scenes or Scenes(features, shape)).of(plan)
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
    plan.findings = [f for f in plan.findings if f.code not in NOT_PROVEN]
    for done in cut.done:
        done.operation.removed = volume(bundles, done.taken)
    left = [m.there.take(~m.pieces.own[m.there.piece]) for m in cut.after]
    not_cut = {d.operation.id: "; ".join(d.reasons) for d in cut.done if d.reasons}
    followed = [d for d in cut.done if _cell(d) > 0.0]
    found = [f for f in _left(cut, left, followed, cube) if f.thickness > _known_by(cut, followed, f)]
    off = [is_loose(cut.scene, f) for f in found]
    loose = [f for f, is_off in zip(found, off, strict=True) if is_off]
    held = [f for f, is_off in zip(found, off, strict=True) if not is_off]
    rest = rests(plan, features, cut.scene, held, set(not_cut))
    deep = [(d, f) for d in cut.done for f in _gouged(cut, d, cube) if f.thickness > _known_by(cut, [d], f)]
    gouges = [_gouge(features, cut, done, f) for done, f in deep]
    proof.left_uncut, proof.gouged = sum(x.volume for x in rest), sum(g.volume for g in gouges)
    proof.left, proof.gouges = rest[:SHOWN], gouges[:SHOWN]
    proof.collisions = [_collision(cut, hit) for hit in cut.hits]
    plan.findings += [_assumed(hit) for hit in cut.hits if hit.assumed]
    proof.simulation = Simulation(
        resolution=cut.resolution,
        ray_spacing=5.0 * cut.resolution,
        rays=rays,
        tolerance=TOLERANCE,
        workpiece=volume(bundles, [m.there for m in cut.after]),
        part=float(np.mean([_own(m.pieces) for m in cut.after])),
        edges_broken=sum(volume(bundles, _own_taken(cut, d)) for d in cut.done if breaks_edges(d.operation)),
        removed=sum(d.operation.removed or 0.0 for d in cut.done),
        not_cut=not_cut,
        method=METHOD,
    )
    plan.findings += [_idle(done) for done in cut.done if _is_idle(done)]
    plan.findings += [f for done in cut.done if not _is_idle(done) and (f := _in_air(cut, done, bundles))]
    plan.findings += [falls_off(loose)] if loose else []


def _left(cut: Cut, left: list[Intervals], followed: list[Done], cube: float) -> list[Found]:
    """Lumps left. On faces that were followed, what is thinner than a cell of the height field is no part of them."""
    cells = {
        face: _cell(done)
        for done in followed
        for face in [*done.operation.faces, *(x for f in done.operation.features for x in cut.scene.features[f].faces)]
    }
    out = []
    for cell in sorted({0.0, *cells.values()}):
        every = lumps(cut.after, left, max(TOLERANCE, cell), cube)
        out += [f for f in every if cells.get(f.face, 0.0) == cell]
    return out


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
    own = _own_taken(cut, done)
    if breaks_edges(done.operation) or not any((t.length > TOLERANCE).any() for t in own):
        return []
    return lumps(cut.after, own, TOLERANCE, cube)


def _own_taken(cut: Cut, done: Done) -> list[Intervals]:
    """What an operation took of the finished part, on each bundle."""
    return [t.take(m.pieces.own[t.piece]) for t, m in zip(done.taken, cut.after, strict=True)]


def breaks_edges(operation: Operation) -> bool:
    """Whether it takes the part's sharp edges off, and is to."""
    return bool(operation.edges) and not operation.features


def _gouge(features: FeaturesDocument, cut: Cut, done: Done, found: Found) -> Lump:
    face = found.face if found.face >= 0 else None
    return Lump(
        volume=found.volume,
        thickness=found.thickness,
        at=place_of(cut.scene, found),
        face=face,
        feature=owner_of(features, found.face),
        operation=done.operation.id,
    )


def _collision(cut: Cut, hit: Hit) -> Collision:
    x, y, z = (float(v) for v in cut.scene.frame.T @ hit.at)
    operation = hit.operation.id if hit.operation else None
    return Collision(
        kind=hit.kind, setup=hit.setup.id, operation=operation, amount=hit.over, at=(x, y, z), assumed=hit.assumed,
        message=hit.text,
    )  # fmt: skip


def _assumed(hit: Hit) -> Finding:
    return Finding(
        code="holder_close",
        severity="warning",
        message=hit.text,
        hint="give the cutter's holder in the cutter file, or take a slim or longer one",
        features=list(hit.operation.features) if hit.operation else [],
    )


def _is_idle(done: Done) -> bool:
    return not done.reasons and (done.operation.removed or 0.0) < 1e-3


def _idle(done: Done) -> Finding:
    why = "removes nothing in the simulation: what it would cut is gone before"
    return _said_of(done.operation, "removes_nothing", why, "leave it out, or check the operations before it")


def _in_air(cut: Cut, done: Done, bundles: list[Bundle]) -> Finding | None:
    """What is said of an operation that moves through air for most of its way; None for others."""
    share = share_in_material(done, bundles, cut.scene.plane(done.setup.direction))
    if done.reasons or share is None or share >= MOSTLY:
        return None
    why = f"meets material on about {share:.0%} of its way only; the rest of it is cut in air"
    hint = "keep it to where something stands, or let the operation before it take this too"
    return _said_of(done.operation, "cuts_air", why, hint)


def _said_of(op: Operation, code: str, why: str, hint: str) -> Finding:
    """A warning about one operation."""
    message = f"{op.id}: {op.name} {why}"
    return Finding(code=code, severity="warning", message=message, hint=hint, features=list(op.features))


def _not_closed(share: float) -> Finding:
    return Finding(
        code="not_simulated",
        severity="warning",
        message=f"the part's triangles do not close on {share:.0%} of the rays, so the plan was not cut in simulation",
        hint="repair the model; until then prove the plan by other means",
    )
