"""The plan document as people read it: what is not planned first, then setups, proof, totals and cautions."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from service.spoken import spoken
from service.summary.findings import print_findings
from service.summary.format import (
    Lengths,
    aligned,
    console,
    direction,
    heading,
    minutes,
    number,
    paragraph,
    shortened,
)
from shared.plan import GOALS, Clamping, Operation, PlanDocument, Setup, Tool
from shared.proof import Proof, ReachProof

_HEAD = ("op", "what", "on", "cutter", "top > bottom", "passes", "min")


def print_plan(document: PlanDocument, out: Console | None = None) -> None:
    """Writes the summary to standard output, or to `out`."""
    out = out or console()
    lengths = Lengths(str(document.part.get("unit", "mm")))
    document = spoken(document, inch=lengths.inch)
    _print_faults(out, document)
    _print_unplanned(out, document)
    _print_job(out, document, lengths)
    for number_, setup in enumerate(document.setups, 1):
        _print_setup(out, number_, setup, document, lengths)
    _print_proof(out, document, lengths)
    _print_totals(out, document, lengths)
    print_findings(out, document.findings)
    _print_cautions(out, document.cautions)


def _print_faults(out: Console, document: PlanDocument) -> None:
    """What the checker and the simulation hold against the plan, before anything else: such a plan is not to be cut."""
    faults = [f for f in document.proof.checker if f.severity == "error"]
    if faults:
        out.print(Text(f"DO NOT CUT: the plan fails its own proof in {len(faults)} place(s)", style="bold red"))
        for fault in faults:
            paragraph(out, fault.message, "  ", "    ")
        out.print()


def _print_unplanned(out: Console, document: PlanDocument) -> None:
    if document.unplanned:
        out.print(
            Text(f"NOT PLANNED: {len(document.unplanned)} of {document.totals.features} features", style="bold red")
        )
        for item in document.unplanned:
            paragraph(out, f"{item.feature}: {item.reason}", "  ", "    ")
        out.print()


def _print_job(out: Console, document: PlanDocument, lengths: Lengths) -> None:
    job, totals = document.job, document.totals
    name = document.part.get("file", "part")
    size = " x ".join(lengths(v) for v in job.stock.size)
    out.print(heading(f"{name}: {totals.setups} setups, {totals.operations} operations, {minutes(totals.minutes)}"))
    stock = f"stock {size} {lengths.unit} ({job.stock.source})"
    machine = f"; machine: {job.machine['name']}" if job.machine.get("name") else ""
    paragraph(out, f"{job.material}, {job.axes}-axis, {stock}, cutters: {job.tools}{machine}")
    if job.weights:
        prices = ", ".join(f"{goal} {price:g}" for goal, price in job.weights.items())
        paragraph(out, f"made smallest: the sum of {prices}")
    elif job.goals != list(GOALS):
        paragraph(out, f"made smallest, one after the other: {', '.join(job.goals)}")


def _print_setup(out: Console, place: int, setup: Setup, document: PlanDocument, lengths: Lengths) -> None:
    clamping = next((c for c in document.clampings if c.id == setup.clamping), None)
    out.print(
        heading(
            f"\nSetup {place} ({setup.id}): from {direction(setup.direction)}, {len(setup.operations)} operations, "
            f"{minutes(setup.minutes)}"
        )
    )
    if clamping:
        text = f"{clamping.id}: rests on {clamping.rest_on}; clamped on {clamping.clamp_on}"
        paragraph(out, text + _jaws(clamping, lengths), rest="  ")
    origin = ", ".join(lengths(v) for v in setup.origin)
    out.print(f"origin ({origin}), x along {direction(setup.x_axis)}, clearance at {lengths(setup.clearance)}")
    for reason in setup.because[:2]:
        paragraph(out, reason, "why: ", style="dim")
    rows = [_HEAD] + [_operation(operation, lengths) for operation in setup.operations]
    head, *lines = aligned(rows, out.width, right=(5, 6))
    out.print(Text("\n" + head, style="dim"))
    for line, operation in zip(lines, setup.operations, strict=True):
        out.print(line, markup=False, no_wrap=True)
        if operation.because:
            out.print(Text(f"{' ' * 7}{shortened(operation.because, out.width - 7)}", style="dim"))


def _operation(operation: Operation, lengths: Lengths) -> tuple[str, ...]:
    levels, passes = operation.levels, operation.passes
    through = f" +{lengths(levels.break_through)}" if levels.break_through else ""
    return (
        operation.id,
        operation.name,
        _features(operation),
        cutter(operation.tool, lengths),
        f"{lengths(levels.top)} > {lengths(levels.bottom)}{through}",
        f"{passes.axial_count} x {passes.radial_count}",
        f"{operation.minutes:.2f}",
    )


def _jaws(clamping: Clamping, lengths: Lengths) -> str:
    """'; vise open 184 mm, jaws up to 36 mm high and 125 mm wide', as far as it is known."""
    if clamping.opening is None or clamping.grip_height is None:
        return ""
    width = f" and {lengths(clamping.jaw_width)} wide" if clamping.jaw_width else ""
    device = clamping.device.replace("_", " ")
    return f"; {device} open {lengths(clamping.opening)}, jaws up to {lengths(clamping.grip_height)} high{width}"


def _features(operation: Operation) -> str:
    """'round_hole-e58508' or '6 x round_hole', else what the operation serves."""
    if not operation.features:
        return f"{len(operation.edges)} edges" if operation.edges else "raw side"
    if len(operation.features) == 1:
        return operation.features[0]
    kinds = {feature.rpartition("-")[0] for feature in operation.features}
    return f"{len(operation.features)} x {kinds.pop()}" if len(kinds) == 1 else f"{len(operation.features)} features"


def cutter(tool: Tool, lengths: Lengths) -> str:
    """'D10 endmill', 'M8 tap', 'D10 R1 bullnose endmill', 'D10x90 countersink'; diameters always in mm."""
    size = tool.TDZ or f"D{number(tool.DCX or tool.DC)}"
    angle = f"x{number(tool.SIG)}" if tool.SIG and tool.DCX else ""
    radius = f" R{number(tool.RE)}" if tool.RE else ""
    return f"{size}{angle}{radius} {tool.kind.replace('_', ' ')}"


def _print_proof(out: Console, document: PlanDocument, lengths: Lengths) -> None:
    proof = document.proof
    out.print(heading("\nProof"))
    setups = proof.setups
    if setups.status == "optimal":
        out.print(f"{setups.count} setups are proven to be the fewest.")
    else:
        out.print(
            f"{setups.count} setups; at least {setups.lower_bound} are needed ({setups.status.replace('_', ' ')})."
        )
    if proof.clampings is not None and proof.clampings.count != setups.count:
        held = proof.clampings
        proven = "proven to be the fewest" if held.status == "optimal" else f"at least {held.lower_bound} are needed"
        out.print(f"{held.count} clampings: {proven}.")
    for line in setups.witness[:8]:
        paragraph(out, line, "  ", "    ")
    if len(setups.witness) > 8:
        out.print(f"  and {len(setups.witness) - 8} more")
    if proof.left_uncut is not None and proof.gouged is not None:
        _print_simulation(out, proof)
    else:
        out.print("Not simulated: nobody has cut this plan, not even in the computer.")
    if proof.reach is not None:
        paragraph(out, _reach(proof.reach))
    if proof.checker:
        print_findings(out, proof.checker, "The independent checker found")
    else:
        out.print("The independent checker found nothing wrong.")


def _reach(proof: ReachProof) -> str:
    if not proof.checked:
        return f"NOT checked against what cutters reach: {proof.because}."
    left = (
        f"{proof.left_out} sides of features that they do not cut are left out"
        if proof.left_out
        else "no side is refuted"
    )
    return f"Sides and cutters were checked against what cutters reach, {proof.because}: {left}."


def _print_simulation(out: Console, proof: Proof) -> None:
    simulated = proof.simulation
    fine = f" (skins under {simulated.tolerance:g} mm count as none)" if simulated else ""
    paragraph(out, f"Cut in simulation: {_volume(proof.left_uncut)} left uncut, {_volume(proof.gouged)} gouged{fine}.")
    named = sorted({lump.named for lump in proof.left if lump.named})
    if named:
        volume = _volume(sum(lump.volume for lump in proof.left if lump.named))
        paragraph(out, f"of what is left, {volume} are named by findings: {', '.join(named)}", "  ", "    ")
    missing = {k: v for k, v in (simulated.not_cut if simulated else {}).items()}
    for reason in sorted(set(missing.values())):
        names = [k for k, v in missing.items() if v == reason]
        shown = ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")
        paragraph(out, f"not cut in simulation: {shown}: {reason}", "  ", "    ")


def _volume(value: float | None) -> str:
    """A small volume, always in mm3: '0', '85.4 mm3'."""
    return f"{value:.1f} mm3" if value else "nothing"


def _print_totals(out: Console, document: PlanDocument, lengths: Lengths) -> None:
    totals = document.totals
    out.print(heading("\nTotals"))
    text = (
        f"{totals.features} features, {totals.clampings} clampings, {totals.setups} setups, {totals.operations} operations, "
        f"{totals.tools} cutters, {totals.tool_changes} cutter changes, {minutes(totals.minutes)} without loading"
    )
    paragraph(out, text)
    if document.tools:
        names = ", ".join(_told_apart([(cutter(tool, lengths), tool) for tool in document.tools], lengths))
        paragraph(out, f"cutters: {names}", rest="  ", style="dim")


def _told_apart(named: list[tuple[str, Tool]], lengths: Lengths) -> list[str]:
    """Names of cutters, with their reach where two would read the same."""
    names = [name for name, _ in named]
    return [
        f"{name} (reach {lengths(tool.LU)})" if names.count(name) > 1 and tool.LU is not None else name
        for name, tool in named
    ]


def _print_cautions(out: Console, cautions: list[str]) -> None:
    out.print(heading("\nCautions"))
    for caution in cautions:
        paragraph(out, caution, "- ")
