"""The plan document as people read it: what is not planned first, then setups, proof, totals and cautions."""

from __future__ import annotations

import textwrap

from rich.console import Console
from rich.text import Text

from service.summary.findings import print_findings
from service.summary.format import Lengths, console, direction, heading, minutes, number, shortened, table
from shared.plan import Operation, PlanDocument, Setup, Tool

_REASON_INDENT = "      "


def print_plan(document: PlanDocument, out: Console | None = None) -> None:
    """Writes the summary to standard output, or to `out`."""
    out = out or console()
    lengths = Lengths(str(document.part.get("unit", "mm")))
    _print_unplanned(out, document)
    _print_job(out, document, lengths)
    for number_, setup in enumerate(document.setups, 1):
        _print_setup(out, number_, setup, document, lengths)
    _print_proof(out, document, lengths)
    _print_totals(out, document, lengths)
    print_findings(out, document.findings)
    _print_cautions(out, document.cautions)


def _print_unplanned(out: Console, document: PlanDocument) -> None:
    if document.unplanned:
        out.print(Text(f"NOT PLANNED: {len(document.unplanned)} features", style="bold red"))
        for item in document.unplanned:
            out.print(f"  {item.feature}: {item.reason}")
        out.print()


def _print_job(out: Console, document: PlanDocument, lengths: Lengths) -> None:
    job, totals = document.job, document.totals
    name = document.part.get("file", "part")
    size = " x ".join(lengths(v) for v in job.stock.size)
    out.print(heading(f"{name}: {totals.setups} setups, {totals.operations} operations, {minutes(totals.minutes)}"))
    out.print(
        f"{job.material}, {job.axes}-axis, stock {size} {lengths.unit} ({job.stock.source}), cutters: {job.tools}"
    )


def _print_setup(out: Console, place: int, setup: Setup, document: PlanDocument, lengths: Lengths) -> None:
    clamping = next((c for c in document.clampings if c.id == setup.clamping), None)
    out.print(
        heading(
            f"\nSetup {place} ({setup.id}): from {direction(setup.direction)}, {len(setup.operations)} operations, "
            f"{minutes(setup.minutes)}"
        )
    )
    if clamping:
        out.print(f"{clamping.id}: rests on {clamping.rest_on}; clamped on {clamping.clamp_on}")
    origin = ", ".join(lengths(v) for v in setup.origin)
    out.print(f"origin ({origin}), x along {direction(setup.x_axis)}, clearance at {lengths(setup.clearance)}")
    if setup.because:
        out.print(Text(f"why: {shortened(setup.because, 92)}", style="dim"))
    made = table(
        "op", "what", "on", "cutter", "top > bottom", "passes", "rev/min", "feed", "min", right=[6, 7, 8], wide=2
    )
    made.columns[1].no_wrap = made.columns[3].no_wrap = False
    for operation in setup.operations:
        made.add_row(*_operation(operation, lengths))
    _print_with_reasons(out, made, setup.operations)


def _print_with_reasons(out: Console, made: object, operations: list[Operation]) -> None:
    out.print(made)
    out.print(Text("why", style="dim"))
    for operation in operations:
        reason = shortened(operation.because, 88)
        if reason:
            out.print(Text(f"{operation.id:<6}{reason}", style="dim"))


def _operation(operation: Operation, lengths: Lengths) -> tuple[str, ...]:
    levels, passes = operation.levels, operation.passes
    through = f" +{lengths(levels.break_through)}" if levels.break_through else ""
    on = _features(operation)
    return (
        operation.id,
        operation.name,
        on,
        cutter(operation.tool, lengths),
        f"{lengths(levels.top)} > {lengths(levels.bottom)}{through}",
        f"{passes.axial_count} x {passes.radial_count}",
        f"{operation.speed:.0f}",
        f"{operation.feed:.0f}",
        f"{operation.minutes:.2f}",
    )


def _features(operation: Operation) -> str:
    if not operation.features:
        return f"{len(operation.edges)} edges" if operation.edges else "raw side"
    shown = " ".join(operation.features[:3])
    return shown + (f" +{len(operation.features) - 3}" if len(operation.features) > 3 else "")


def cutter(tool: Tool, lengths: Lengths) -> str:
    """'D10 endmill', 'M8 tap', 'D10 R1 bullnose endmill'."""
    size = tool.TDZ or f"D{number(tool.DC, 3)}"
    radius = f" R{number(tool.RE)}" if tool.RE else ""
    return f"{size}{radius} {tool.kind.replace('_', ' ')}"


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
    for line in setups.witness[:8]:
        out.print(textwrap.indent(textwrap.fill(line, 96, subsequent_indent="  "), "  "))
    if len(setups.witness) > 8:
        out.print(f"  and {len(setups.witness) - 8} more")
    if proof.left_uncut is not None and proof.gouged is not None:
        out.print(f"Simulated: {lengths.volume(proof.left_uncut)} left uncut, {lengths.volume(proof.gouged)} gouged.")
    else:
        out.print("Not simulated: nobody has cut this plan, not even in the computer.")
    if proof.checker:
        print_findings(out, proof.checker)
    else:
        out.print("The independent checker found nothing wrong.")


def _print_totals(out: Console, document: PlanDocument, lengths: Lengths) -> None:
    totals = document.totals
    out.print(heading("\nTotals"))
    out.print(
        f"{totals.features} features, {totals.clampings} clampings, {totals.setups} setups, {totals.operations} operations, "
        f"{totals.tools} cutters, {totals.tool_changes} cutter changes, {minutes(totals.minutes)} without loading"
    )
    if document.tools:
        names = ", ".join(cutter(tool, lengths) for tool in document.tools)
        out.print(Text(f"cutters: {names}", style="dim"))


def _print_cautions(out: Console, cautions: list[str]) -> None:
    out.print(heading("\nCautions"))
    for caution in cautions:
        out.print(f"- {caution}")
