"""The compare document as people read it: what changed on the part first, then what that changes in the plan."""

from __future__ import annotations

from rich.console import Console

from service.summary.findings import print_findings
from service.summary.format import Lengths, aligned, console, direction, heading, minutes, number, paragraph
from shared.compare import CompareDocument, FeatureChange, OperationChange, PlanChanges, SetupChange

NAMED = 3
SHOWN = 30
"""Lines of a list that are shown; the JSON has all."""


def print_compare(document: CompareDocument, out: Console | None = None) -> None:
    """Writes the summary to standard output, or to `out`."""
    out = out or console()
    lengths = Lengths("mm")
    counts = {name: len(document[name]) for name in ("added", "removed", "moved", "resized")}
    said = ", ".join(f"{n} {name}" for name, n in counts.items())
    out.print(heading(f"{document.old.file} > {document.new.file}: {said}, {len(document.unchanged)} unchanged"))
    _print_models(out, document, lengths)
    for name in ("added", "removed", "moved", "resized"):
        _print_features(out, name.capitalize(), document[name], lengths)
    _print_features(out, "Cut from other directions than before", document.access, lengths)
    if document.plan:
        _print_plan(out, document.plan, lengths)
    print_findings(out, document.findings)
    out.print(heading("\nCautions"))
    for caution in document.cautions:
        paragraph(out, caution, "- ")


def _print_models(out: Console, document: CompareDocument, lengths: Lengths) -> None:
    old, new = document.old, document.new
    size = [" x ".join(lengths(v) for v in m.size) for m in (old, new)]
    box = f"box {size[0]} mm" if size[0] == size[1] else f"box {size[1]} instead of {size[0]} mm"
    less = new.volume - old.volume
    volume = f"volume {lengths.volume(new.volume)}"
    if abs(less) > 1.0:
        volume += f", {lengths.volume(abs(less))} {'more' if less > 0 else 'less'} than before"
    out.print(f"{box}; {volume}")
    for reason in document.placement.because:
        paragraph(
            out, reason, "laid on each other: " if reason is document.placement.because[0] else " " * 20, style="dim"
        )


def _print_features(out: Console, title: str, changes: list[FeatureChange], lengths: Lengths) -> None:
    if not changes:
        return
    out.print(heading(f"\n{title} ({len(changes)})"))
    alike: dict[tuple[str, str], list[FeatureChange]] = {}
    for change in changes:
        alike.setdefault((change.kind, _what(change, lengths)), []).append(change)
    for (_, what), group in list(alike.items())[:SHOWN]:
        names = ", ".join(_name(c) for c in group[:NAMED]) + (", ..." if len(group) > NAMED else "")
        paragraph(out, f"{f'{len(group)} alike: ' if len(group) > 1 else ''}{names}", "  ", "    ")
        paragraph(out, what, "    ", "      ")
        if any(c.operations_old or c.operations_new for c in group):
            paragraph(out, _cutting(group), "    ", "      ", style="dim")
    if len(alike) > SHOWN:
        out.print(f"  and {len(alike) - SHOWN} more (all are in the JSON)")


def _name(change: FeatureChange) -> str:
    if change.old and change.new and change.old != change.new:
        return f"{change.old} > {change.new}"
    return change.old or change.new or change.kind


def _what(change: FeatureChange, lengths: Lengths) -> str:
    if change.old and change.new:
        return "; ".join(change.because)
    where = change.directions_new or change.directions_old
    sizes = lengths.dimensions({s.name: s.new if s.new is not None else s.old or 0.0 for s in change.sizes
                                if not s.name.startswith("step_")})  # fmt: skip
    return f"{sizes or 'no dimensions'}; from {' '.join(direction(d) for d in where) or 'nowhere'}"


def _cutting(changes: list[FeatureChange]) -> str:
    """Operations and minutes of equal changes before and after."""
    ids = list(dict.fromkeys(op for c in changes for op in c.operations_new))
    before = len(dict.fromkeys(op for c in changes for op in c.operations_old))
    old = f"{before} op, {sum(c.minutes_old for c in changes):.2f} min"
    new = f"{len(ids)} op, {sum(c.minutes_new for c in changes):.2f} min ({', '.join(ids)})"
    if not changes[0].old:
        return f"takes {new}"
    return f"took {old}" if not changes[0].new else f"takes {new}; before {old}"


def _print_plan(out: Console, plan: PlanChanges, lengths: Lengths) -> None:
    a, b = plan.totals_old, plan.totals_new
    out.print(heading("\nPlan"))
    rows = [["", "old", "new", "change"]]
    for label, name in (
        ("setups", "setups"), ("clampings", "clampings"), ("operations", "operations"), ("cutters", "tools"),
        ("cutter changes", "tool_changes"),
    ):  # fmt: skip
        rows.append([label, str(a[name]), str(b[name]), f"{b[name] - a[name]:+d}" if b[name] != a[name] else "same"])
    less = b.minutes - a.minutes
    rows.append(["minutes", minutes(a.minutes), minutes(b.minutes), f"{less:+.2f}" if abs(less) > 0.005 else "same"])
    for line in aligned(rows, out.width, right=(1, 2, 3)):
        out.print(line, markup=False)
    for text, tools in (("cutters needed now", plan.cutters_added), ("cutters no longer needed", plan.cutters_removed)):
        if tools:
            paragraph(out, f"{text}: {', '.join(f'{t.id} ({number(t.DC)} mm {t.kind})' for t in tools)}", rest="  ")
    for text, ids in (("not planned before", plan.unplanned_old), ("NOT PLANNED now", plan.unplanned_new)):
        if ids:
            paragraph(out, f"{text}: {', '.join(ids)}", rest="  ")
    _print_setups(out, plan.setups, plan.setups_equal)
    _print_operations(out, plan.operations, plan.operations_equal)


def _print_setups(out: Console, setups: list[SetupChange], equal: int) -> None:
    out.print(heading(f"\nSetups that differ ({len(setups)}; {equal} equal)"))
    for s in setups:
        name = f"{s.old} > {s.new}" if s.old and s.new and s.old != s.new else s.new or s.old or ""
        paragraph(out, f"{name} from {direction(s.direction)}: {'; '.join(s.because)}", "  ", "    ")


def _print_operations(out: Console, operations: list[OperationChange], equal: int) -> None:
    out.print(heading(f"\nOperations that differ ({len(operations)}; {equal} equal)"))
    for what, sign in (("added", "+"), ("removed", "-"), ("changed", "~")):
        mine = [o for o in operations if o.what == what]
        for o in mine[:SHOWN]:
            ids = f"{o.old} > {o.new}" if o.old and o.new and o.old != o.new else o.new or o.old
            served = ", ".join((o.features_new or o.features_old)[:2])
            more = len(o.features_new or o.features_old) - 2
            on = f" on {served}{f' and {more} more' if more > 0 else ''}" if served else ""
            said = "; ".join(o.because) if what == "changed" else o.because[0].removeprefix(f"{o.name} ")
            paragraph(out, f"{ids} {o.name}{on}: {said}", f"{sign} ", "    ")
        if len(mine) > SHOWN:
            out.print(f"  and {len(mine) - SHOWN} more {what} (all are in the JSON)")
