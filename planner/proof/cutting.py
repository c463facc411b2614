"""The plan cut operation by operation on all three bundles of rays."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely

from planner.proof.collisions import Hit, collisions, jaw_hits, low_clearance
from planner.proof.fixtures import Jaw, ends_cut, jaws_of
from planner.proof.material import Intervals, Workpiece, all_cuts, extent_of
from planner.proof.rays import Bundle, bundle
from planner.proof.scene import Job, Scene, jobs_of
from planner.proof.standing import heights
from planner.proof.strokes import Stroke, stroke_of
from planner.proof.target import stock_on
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


def raw_workpiece(scene: Scene, resolution: float) -> Workpiece:
    """The stock, cut up where the part lies in it."""
    bundles = [bundle(k, scene.raw_low, scene.raw_high, resolution) for k in range(3)]
    a, b, c = (stock_on(x, scene.corners, scene.face_of, scene.raw_low, scene.raw_high) for x in bundles)
    return a, b, c


def cut_plan(plan: PlanDocument, scene: Scene, resolution: float) -> Cut:
    """Every operation's sweep taken off the stock in order."""
    piece = raw_workpiece(scene, resolution)
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
        there = heights(piece, plane)
        for operation in setup.operations:
            strokes = strokes_of(scene, setup, operation)
            piece, taken = _take(piece, strokes)
            reasons = sorted({s.reason for s in strokes if s.reason})
            done.append(Done(setup, operation, strokes, taken, reasons))
            left = heights(piece, plane)
            hits += collisions(setup, operation, strokes, there, left)
            there = left
            hits += jaw_hits(setup, operation, strokes, jaws[setup.clamping], plane)
    return Cut(scene, resolution, done, before, piece, hits)


def strokes_of(scene: Scene, setup: Setup, operation: Operation) -> list[Stroke]:
    """What an operation sweeps, feature by feature."""
    return [_stroke(job) for job in jobs_of(scene, setup, operation)]


def _stroke(job: Job) -> Stroke:
    """The sweep; one that odd geometry defeats is said, and does not cost the plan its other operations."""
    try:
        return stroke_of(job)
    except (ArithmeticError, IndexError, KeyError, TypeError, ValueError, shapely.errors.ShapelyError) as error:
        return Stroke.nothing(f"its geometry defeats the simulation ({type(error).__name__})")


def _take(piece: Workpiece, strokes: list[Stroke]) -> tuple[Workpiece, list[Intervals]]:
    out, taken = [], []
    for material in piece:
        swept = all_cuts([sweep.cuts(material.pieces.bundle) for s in strokes for sweep in s.sweeps])
        left, gone = material.cut(swept)
        out.append(left)
        taken.append(gone)
    return (out[0], out[1], out[2]), taken


def volume(bundles: list[Bundle], parts: list[Intervals]) -> float:
    """Mm3 of intervals: the mean of what the three bundles say."""
    return float(np.mean([b.cell * p.length.sum() for b, p in zip(bundles, parts, strict=True)]))
