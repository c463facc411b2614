"""The stages from features document and job to plan document, read top to bottom."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any, Literal

from pydantic import ValidationError

from planner.amends import Limits, amended
from planner.arrival import FEATURES_HINT, check_document
from planner.assemble import assemble
from planner.checker import check
from planner.document import document_of
from planner.kitchen import Kitchen, KitchenMaker, kitchen_for
from planner.more_stock import more_stock
from planner.ordering import sequence
from planner.problem import problem_of
from planner.proof.prove import prove
from planner.proof.scene import Scenes
from planner.reached import proof_of, reasons, unreached, without_unreached
from planner.setups import solve
from planner.setups.goals import Prices, prices_of
from planner.stock import stock_of
from planner.units import setup_problem
from shared.cutters import load_cutters
from shared.errors import UsageError
from shared.features import FeaturesDocument
from shared.findings import Finding
from shared.plan import GOALS, Job, PlanDocument
from shared.proof import ReachProof
from shared.reach import ReachDocument


def plan(
    features: FeaturesDocument | Mapping[str, Any],
    job: Job | Mapping[str, Any] | None = None,
    *,
    kitchen: KitchenMaker = kitchen_for,
    reach: ReachDocument | None = None,
) -> PlanDocument:
    """Setups and operations for a part: fewest setups, then tool changes, then minutes; every decision with its reason.

    `features`: a features document, or one as a mapping. `job`: stock, axes, material, cutters; None for the defaults.
    `reach`: the part's reach document, if it is at hand; else it is made where `features` came from the part itself.
    Nothing is planned from a side that it refutes, and the checker asks it too; `job.reach` switches this off.
    Raises UsageError for documents or values that cannot be used, DataFileError for a bad cutter file.
    """
    document, order = _read(features, job)
    reach, unchecked = _reach(document, order, reach)
    proof, refuted = ReachProof(checked=False, because=unchecked), list[Finding]()
    if reach is not None:
        left, refuted = without_unreached(document, reach)
        document, proof = left, proof_of(reach, document, left)
    stock = stock_of(order, document.part)
    scenes = Scenes(document, document.shape) if order.simulate and document.shape is not None else None
    attempt = partial(_attempt, document, order, kitchen(order, document, stock), refuted, scenes)
    result = attempt(Limits())
    if result.proof.simulation is not None:
        result = amended(result, document, attempt)
    if result.proof.setups.held:
        hint = more_stock(document, order, kitchen, stock, len(result.setups))
        result.findings += [hint] if hint else []
    result.job.reach, result.proof.reach = reach is not None, proof
    result.proof.checker = check(result, document) + (list(unreached(result, reach)) if reach is not None else [])
    return result


def _attempt(
    document: FeaturesDocument,
    order: Job,
    recipes: Kitchen,
    refuted: list[Finding],
    scenes: Scenes | None,
    limits: Limits,
) -> PlanDocument:
    """A plan within limits, cut in simulation where the part's shape is at hand; not yet checked."""
    recipes = replace(recipes, limits=limits)
    problem = problem_of(document, recipes.stock, order.axes, recipes.feature, recipes.edge_reach)
    problem.findings += [*refuted, *limits.findings()]
    problem.unplanned = [u.model_copy(update={"reason": reasons(u, refuted)}) for u in problem.unplanned]
    grouped = setup_problem(problem, order.vise, recipes.job.machine.tilt)
    solution = solve(grouped.setups, order.time_limit, _prices(order))
    ordered = sequence(assemble(problem, grouped, solution, recipes))
    result = document_of(order, problem, grouped, solution, ordered, recipes)
    if not order.simulate:
        result.findings.append(_unproven("simulation_off", "the job switched the simulation off", "note"))
    elif document.shape is None:
        why = "the features come without the part's shape, as a features document alone does"
        result.findings.append(_unproven("not_simulated", why, "warning"))
    else:
        prove(result, document, document.shape, scenes=scenes)
    return result


def _unproven(code: str, why: str, severity: Literal["note", "warning"]) -> Finding:
    """What is not known of a plan that was not cut in simulation."""
    return Finding(
        code=code,
        severity=severity,
        message=f"not cut in simulation: {why}; whether anything is gouged, left uncut or collides is not known",
        hint="plan from the part's STEP file, or prove the plan by other means",
    )


def _reach(document: FeaturesDocument, job: Job, given: ReachDocument | None) -> tuple[ReachDocument | None, str]:
    """(the part's reach document, or None; why it was not asked)."""
    if not job.reach:
        return None, "the job switched it off"
    return (given, "") if given is not None else document.reach_by(load_cutters(job.tools))


def _prices(job: Job) -> Prices:
    try:
        return prices_of(job.goals, job.weights)
    except ValueError as error:
        raise UsageError(f"the goals cannot be used: {error}", f"goals: {', '.join(GOALS)}", "goals") from error


def _read(
    features: FeaturesDocument | Mapping[str, Any], job: Job | Mapping[str, Any] | None
) -> tuple[FeaturesDocument, Job]:
    """Both documents, checked; a copy is not made of one that is typed already."""
    try:
        document = features if isinstance(features, FeaturesDocument) else FeaturesDocument.model_validate(features)
    except ValidationError as error:
        raise UsageError(_wrong("features document", error), FEATURES_HINT, "features") from error
    try:
        order = job if isinstance(job, Job) else Job.model_validate({} if job is None else job)
    except ValidationError as error:
        where = str(next(iter(error.errors()[0]["loc"]), "job"))
        raise UsageError(_wrong("job", error), f"known fields: {', '.join(Job.model_fields)}", where) from error
    if not math.isfinite(order.time_limit) or order.time_limit < 0:
        raise UsageError(f"the time limit is {order.time_limit:g} seconds", "give seconds, zero or more", "time_limit")
    check_document(document)
    return document, order


def _wrong(what: str, error: ValidationError) -> str:
    rows = [f"{'.'.join(map(str, e['loc'])) or 'all of it'}: {e['msg']}" for e in error.errors()[:5]]
    return f"the {what} cannot be used: " + "; ".join(rows)
