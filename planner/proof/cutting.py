"""The plan cut operation by operation on all three bundles of rays."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely

from planner.proof.collisions import Hit, collisions, jaw_hits, low_clearance
from planner.proof.fixtures import Jaw, ends_cut, extent_of, jaws_of
from planner.proof.grown import Grown
from planner.proof.material import Cuts, Intervals, Workpiece, all_cuts, united
from planner.proof.rays import Bundle, bundle
from planner.proof.scene import Job, Scene, jobs_of
from planner.proof.standing import through_setup
from planner.proof.strokes import Stroke, stroke_of
from planner.proof.sweeps import Slab
from planner.proof.target import patches_of, stock_on
from shared.plan import Operation, PlanDocument, Setup


@dataclass
class Done:
    """What one operation did. taken: on each bundle. reasons: why (some of) it was not swept."""

    setup: Setup
    operation: Operation
    strokes: list[Stroke]
    taken: list[Intervals]
    reasons: list[str] = field(default_factory=list)


@dataclass
class Cut:
    """The whole plan, cut. before: the workpiece before each setup; after: when all is done. hits: what meets
    that must not.
    """

    scene: Scene
    resolution: float
    done: list[Done]
    before: list[Workpiece]
    after: Workpiece
    hits: list[Hit] = field(default_factory=list)


Taken = tuple[Workpiece, list[list[Intervals]]]
"""The workpiece after a setup, and what each of its operations took, on each bundle."""


def raw_workpiece(scene: Scene, resolution: float) -> Workpiece:
    """The stock, cut up where the part lies in it."""
    return scene.once(("raw", resolution), lambda: _raw(scene, resolution))


def _raw(scene: Scene, resolution: float) -> Workpiece:
    bundles = [bundle(k, scene.raw_low, scene.raw_high, resolution) for k in range(3)]
    patches = patches_of(scene.corners, scene.index, scene.face_of)
    a, b, c = (stock_on(x, patches, scene.raw_low, scene.raw_high) for x in bundles)
    return a, b, c


def cut_plan(plan: PlanDocument, scene: Scene, resolution: float) -> Cut:
    """Every operation's sweep taken off the stock in order."""
    piece = raw_workpiece(scene, resolution)
    # The plan cut before this one, in the same scene: what is alike from the start on has been cut already.
    last: dict[float, dict[str, Taken]] = scene.once("cut before", dict)
    before_it, known, so_far = last.get(resolution, {}), dict[str, Taken](), ""
    last[resolution] = known
    done: list[Done] = []
    before: list[Workpiece] = []
    hits: list[Hit] = []
    clampings = {c.id: c for c in plan.clampings}
    jaws: dict[str, list[Jaw]] = {}
    for setup in plan.setups:
        before.append(piece)
        plane = scene.plane(setup.direction)
        if setup.clamping not in jaws:
            found = clampings.get(setup.clamping)
            jaws[setup.clamping] = jaws_of(found, extent_of(piece), ends_cut(scene, plan, found.id)) if found else []
        hits += low_clearance(setup, piece, jaws[setup.clamping], plane)
        every = [strokes_of(scene, setup, operation) for operation in setup.operations]
        so_far = _digest(so_far, setup)
        known[so_far] = before_it.get(so_far) or _take(piece, every)
        piece, taken = known[so_far]
        states = pairwise(through_setup(piece, taken, plane))
        for operation, strokes, gone, (there, left) in zip(setup.operations, every, taken, states, strict=True):
            reasons = sorted({s.reason for s in strokes if s.reason})
            done.append(Done(setup, operation, strokes, gone, reasons))
            hits += collisions(setup, operation, strokes, there, left)
            hits += jaw_hits(setup, operation, strokes, jaws[setup.clamping], plane)
    return Cut(scene, resolution, done, before, piece, hits)


def _digest(so_far: str, setup: Setup) -> str:
    """A name for all that was cut up to the end of a setup."""
    every = [so_far, repr(setup.direction), *(op.model_dump_json(exclude=NO_MATTER) for op in setup.operations)]
    return hashlib.sha256("\n".join(every).encode()).hexdigest()


def strokes_of(scene: Scene, setup: Setup, operation: Operation) -> list[Stroke]:
    """What an operation sweeps, feature by feature; found once for operations alike of several plans."""
    key = ("strokes", setup.direction, operation.model_dump_json(exclude=NO_MATTER))
    return scene.once(key, lambda: [_stroke(job) for job in jobs_of(scene, setup, operation)])


NO_MATTER = {"id", "after", "because", "minutes", "path_length", "rapid_length", "power", "removed"}
"""Fields of an operation that say nothing of where it cuts."""


def _stroke(job: Job) -> Stroke:
    """The sweep; one that odd geometry defeats is said, and does not cost the plan its other operations."""
    try:
        return stroke_of(job)
    except (ArithmeticError, IndexError, KeyError, TypeError, ValueError, shapely.errors.ShapelyError) as error:
        return Stroke.nothing(f"its geometry defeats the simulation ({type(error).__name__})")


def _take(piece: Workpiece, every: list[list[Stroke]]) -> Taken:
    """The workpiece after a setup, and what each of its operations took, on each bundle."""
    out, taken = [], []
    for material in piece:
        left, gone = material.cut([_swept(strokes, material.pieces.bundle) for strokes in every])
        out.append(left)
        taken.append(gone)
    return (out[0], out[1], out[2]), [list(gone) for gone in zip(*taken, strict=True)]


def _swept(strokes: list[Stroke], rays: Bundle) -> Cuts:
    """What one operation sweeps on a bundle, no stretch twice."""
    found = [(sweep, sweep.cuts(rays)) for stroke in strokes for sweep in stroke.sweeps]
    found = [(sweep, cuts) for sweep, cuts in found if len(cuts)]
    if len(found) == 1 and isinstance(found[0][0], Slab | Grown) and found[0][0].plane.axis == rays.axis:
        return found[0][1]  # along its direction a ray meets such a body once
    return united(all_cuts([cuts for _, cuts in found]))


def volume(bundles: list[Bundle], parts: list[Intervals]) -> float:
    """Mm3 of intervals: the mean of what the three bundles say."""
    return float(np.mean([b.cell * p.length.sum() for b, p in zip(bundles, parts, strict=True)]))
