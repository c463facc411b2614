"""The plan document: setups with work planes and final operation ids, clampings, proof, totals."""

from __future__ import annotations

from collections.abc import Sequence

from planner.clampings import clamping_of, work_plane
from planner.clearances import clearances
from planner.drafts import Draft
from planner.edgebreaks import unbroken
from planner.kitchen import Kitchen
from planner.limits import machine_limits
from planner.merging import merged
from planner.ordering import Sequenced
from planner.problem import Problem
from planner.recipes.practice import CLEARANCE
from planner.recipes.tapping import unused_threads
from planner.setups import SetupSolution, Slot
from planner.travel import add_travel, places_of
from planner.units import Grouped, sides_after
from planner.uprightbreaks import break_upright
from planner.witness import witness_of
from shared.findings import Finding
from shared.plan import (
    GOALS,
    Clamping,
    Job,
    Operation,
    PlanDocument,
    PlanJob,
    Setup,
    Tool,
    Totals,
    Unplanned,
)
from shared.proof import ClampingProof, Proof, SetupProof
from shared.shop.notes import Notes


def document_of(
    job: Job, problem: Problem, grouped: Grouped, solution: SetupSolution, ordered: Sequenced, recipes: Kitchen
) -> PlanDocument:
    """The plan document without the checker's list."""
    clampings, held = _clampings(problem, grouped, solution)
    setups = _setups(problem, grouped, solution, ordered, recipes, held)
    names = [grouped.setups.directions[slot.direction] for slot in solution.slots]
    problem.findings += unbroken(problem, names, break_upright(problem, setups, clampings, problem.unbroken))
    problem.findings += clearances(problem, solution.slots, setups, _cut_before(problem, grouped, solution.slots))
    proof = SetupProof(
        count=len(setups),
        lower_bound=solution.lower_bound,
        status=solution.status,  # type: ignore[arg-type]
        witness=witness_of(problem, grouped, solution),
        held=solution.clamping_forces,
    )
    operations = [op for setup in setups for op in setup.operations]
    tools = {op.tool.id: op.tool for op in operations}
    problem.findings += machine_limits(recipes.job.machine, problem.stock, setups, list(tools.values()))
    _say_sequence(problem, ordered)
    _say_threads(problem, recipes.job.threads)
    _say_notes(problem, recipes.job.notes)
    return PlanDocument(
        part=problem.document.part.model_dump(mode="json"),
        job=_plan_job(job, problem, recipes),
        clampings=clampings,
        setups=setups,
        tools=[tools[i] for i in sorted(tools)],
        proof=Proof(setups=proof, clampings=_clamping_proof(solution)),  # type: ignore[call-arg]
        totals=_totals(problem, setups, clampings, ordered, tools),
        unplanned=_in_order(problem),
        findings=merged(problem.findings),
    )


def _clamping_proof(solution: SetupSolution) -> ClampingProof | None:
    """What is proven of the number of clampings; None where it was not searched for."""
    if not solution.clampings:
        return None
    proven = solution.clampings <= solution.least_clampings
    return ClampingProof(
        count=solution.clampings,
        lower_bound=solution.least_clampings,
        status="optimal" if proven else "feasible",
    )


def _cut_before(problem: Problem, grouped: Grouped, slots: Sequence[Slot]) -> list[frozenset[str]]:
    """For each setup the stock sides that are at size when it starts."""
    cut, out = frozenset[str](), []
    for slot in slots:
        out.append(cut)
        cut |= sides_after(problem, grouped, slot.units, grouped.setups.directions[slot.direction])
    return out


def _clampings(problem: Problem, grouped: Grouped, solution: SetupSolution) -> tuple[list[Clamping], list[str]]:
    """Clampings in order, and for each setup the id of its clamping."""
    before = _cut_before(problem, grouped, solution.slots)
    clampings: list[Clamping] = []
    held: list[str] = []
    for k, slot in enumerate(solution.slots):
        if not slot.same_clamping:
            run = [slot]
            for after in solution.slots[k + 1 :]:
                if not after.same_clamping:
                    break
                run.append(after)
            clamping, findings = clamping_of(problem, grouped, f"c{len(clampings) + 1}", run, before[k])
            clampings.append(clamping)
            problem.findings += findings
        held.append(clampings[-1].id)
    return clampings, held


def _setups(
    problem: Problem, grouped: Grouped, solution: SetupSolution, ordered: Sequenced, recipes: Kitchen, held: list[str]
) -> list[Setup]:
    """Setups in order, with operation ids that are final."""
    before = _cut_before(problem, grouped, solution.slots)
    ids = _ids(ordered.drafts)
    setups = []
    places = places_of(problem.document)
    tool: str | None = None
    for k, slot in enumerate(solution.slots):
        name = grouped.setups.directions[slot.direction]
        plane = work_plane(problem.stock, problem.directions[name], slot.mode, before[k])
        operations = [_final(d, ids) for d in ordered.drafts if d.slot == k]
        add_travel(operations, places, problem.directions[name], recipes.job.machine.rapid)
        changes = 0
        for op in operations:
            changes += tool is not None and op.tool.id != tool
            tool = op.tool.id
        setups.append(
            Setup(
                id=f"s{k + 1}",
                clamping=held[k],
                direction=problem.directions[name],
                origin=plane.origin,
                x_axis=plane.x_axis,
                clearance=max([plane.clearance, *(op.levels.top + CLEARANCE for op in operations)]),
                operations=operations,
                minutes=sum(op.minutes for op in operations) + changes * recipes.job.machine.tool_change,
                because=[
                    *plane.because,
                    f"{changes} tool changes of {recipes.job.machine.tool_change:g} min are in its minutes",
                ],
            )
        )
    return setups


def _ids(drafts: list[Draft]) -> dict[str, str]:
    """Final ids by draft key: s1-o1, s1-o2, ... in cutting order."""
    ids: dict[str, str] = {}
    count: dict[int, int] = {}
    for draft in drafts:
        count[draft.slot] = count.get(draft.slot, 0) + 1
        ids[draft.key] = f"s{draft.slot + 1}-o{count[draft.slot]}"
    return ids


def _final(draft: Draft, ids: dict[str, str]) -> Operation:
    place = {name: i for i, name in enumerate(ids.values())}
    op = draft.operation
    op.id = ids[draft.key]
    op.features = list(draft.features)
    op.feature = draft.features[0] if draft.features else None
    op.after = sorted({ids[a] for a in draft.after if a in ids}, key=lambda name: place[name])
    return op


def _totals(
    problem: Problem, setups: list[Setup], clampings: list[Clamping], ordered: Sequenced, tools: dict[str, Tool]
) -> Totals:
    return Totals(
        features=len(problem.document.features),
        setups=len(setups),
        clampings=len(clampings),
        operations=sum(len(s.operations) for s in setups),
        tools=len(tools),
        tool_changes=ordered.tool_changes,
        minutes=sum(s.minutes for s in setups),
    )


def _say_sequence(problem: Problem, ordered: Sequenced) -> None:
    if ordered.tool_changes <= ordered.lower_bound:
        text = f"{ordered.tool_changes} tool changes: proven fewest for these setups, cutters and precedence"
    else:
        text = f"{ordered.tool_changes} tool changes by a narrow search; proven lower bound {ordered.lower_bound}"
    problem.findings.append(Finding(code="tool_changes", message=text))


def _say_threads(problem: Problem, threads: dict[str, str]) -> None:
    for key in unused_threads(problem.document.features, threads):
        problem.findings.append(
            Finding(
                code="thread_unused",
                severity="warning",
                message=f"thread {threads[key]} is asked for {key}, but no hole is called so or has this diameter",
                hint="give the hole's diameter in mm as drawn, or its feature id",
            )
        )


def _say_notes(problem: Problem, notes: Notes) -> None:
    for note, why in notes.unused(problem.document):
        problem.findings.append(
            Finding(
                code="note_unused",
                severity="warning",
                message=f"{note.where}: the {note.kind} for {note.place} changes nothing: {why}",
                hint="give a hole's diameter as drawn, or an id or face index of the features document",
            )
        )


def _plan_job(job: Job, problem: Problem, recipes: Kitchen) -> PlanJob:
    machine = recipes.job.machine
    return PlanJob(
        stock=problem.stock.document(),
        axes=job.axes,
        material=recipes.job.material.name,
        tools=recipes.job.cutters.name,
        density=recipes.job.material.density,
        machine={name: getattr(machine, name) for name in machine.__dataclass_fields__},
        vise=job.vise,
        goals=[*job.goals, *(g for g in GOALS if g not in job.goals)],
        weights=job.weights,
    )


def _in_order(problem: Problem) -> list[Unplanned]:
    place = {f.id: i for i, f in enumerate(problem.document.features)}
    return sorted(problem.unplanned, key=lambda u: place[u.feature])
