"""The reach document as people read it: the verdict, by direction, by feature (worst first), and why."""

from __future__ import annotations

from rich.console import Console

from service.summary.findings import print_findings
from service.summary.format import Lengths, console, direction, heading, paragraph, table
from shared.reach import FeatureReach, ReachDocument

VERDICTS = {
    "reached": "every face is reached",
    "warning": "every face is reached, some with a cutter that is long for its diameter",
    "not_reached": "NOT every face is reached",
}
WORDS = {"reached": "yes", "warning": "long", "not_reached": "NO"}
SAID = ("not_reached", "long_reach", "seen_from_nowhere")
"""Findings that the table of features already says."""
REASONS = 3
SURE = 0.01
"""Share errors up to this are as good as none."""


def print_reach(document: ReachDocument, out: Console | None = None) -> None:
    """Writes the summary to standard output, or to `out`."""
    out = out or console()
    lengths = Lengths(document.part.unit)
    out.print(heading(f"{document.part.file}: {VERDICTS[document.verdict]}"))
    counts = {name: sum(f.verdict == name for f in document.faces) for name in VERDICTS}
    out.print(
        f"{len(document.faces)} faces: {counts['reached']} reached, {counts['warning']} with a long cutter, "
        f"{counts['not_reached']} not; cutters: {document.tools}"
    )
    _print_directions(out, document)
    _print_features(out, document, lengths)
    _print_reasons(out, document)
    _print_undercuts(out, document)
    print_findings(out, [f for f in document.findings if f.code not in SAID])
    _print_accuracy(out, document, lengths)
    out.print(heading("\nCautions"))
    for caution in document.cautions:
        paragraph(out, caution, "- ")


def _print_directions(out: Console, document: ReachDocument) -> None:
    out.print(heading("\nBy direction (shares of the whole surface)"))
    made = table("from", "seen", "touched", "", right=["seen", "touched"])
    for d in document.directions:
        if d.source != "sphere":
            source = "" if d.source == "main" else f"({d.source})"
            made.add_row(direction(d.vector), f"{d.seen:.1%}", f"{d.touched:.1%}", source)
    out.print(made)
    sphere = [d for d in document.directions if d.source == "sphere"]
    if sphere:
        best = max(sphere, key=lambda d: d.seen)
        out.print(
            f"and {len(sphere)} directions of a sphere; most is seen from {direction(best.vector)}: {best.seen:.1%}"
        )


def _print_features(out: Console, document: ReachDocument, lengths: Lengths) -> None:
    out.print(heading("\nBy feature"))
    made = table(
        "reached",
        "feature",
        "touched",
        "from",
        "largest cutter",
        "stick-out",
        right=["touched", "stick-out"],
        widest={"from": 26},
    )
    order = {"not_reached": 0, "warning": 1, "reached": 2}
    for f in sorted(document.features, key=lambda f: order[f.verdict]):
        made.add_row(*_row(f, document, lengths))
    out.print(made)


def _row(f: FeatureReach, document: ReachDocument, lengths: Lengths) -> tuple[str, ...]:
    sides = [direction(document.directions[k].vector) for k in f.directions]
    few = 4 if all(len(s) == 2 for s in sides) else 1
    shown = " ".join(sides[:few]) + (f" +{len(sides) - few}" if len(sides) > few else "")
    share = f"{f.touched:.1%}" if f.touched < 0.9995 or f.verdict != "not_reached" else "<100%"
    depth = lengths(f.stick_out) if f.stick_out else ""
    return (WORDS[f.verdict], f.feature, share, shown or "-", f.cutter or "-", depth)


def _print_reasons(out: Console, document: ReachDocument) -> None:
    bad = [f for f in document.features if f.verdict != "reached"]
    if bad:
        out.print(heading("\nWhy"))
    for f in bad:
        texts = f.reasons[:REASONS] + ([f"and {len(f.reasons) - REASONS} more"] if len(f.reasons) > REASONS else [])
        paragraph(out, f"{f.feature}: {'; '.join(texts)}", "", "  ")


def _print_undercuts(out: Console, document: ReachDocument) -> None:
    if document.undercuts:
        out.print(heading("\nUndercuts"))
    for u in document.undercuts:
        paragraph(out, u.text, "- ")


def _print_accuracy(out: Console, document: ReachDocument, lengths: Lengths) -> None:
    a = document.accuracy
    out.print(heading("\nHow sure"))
    sampled = (
        f"leaning and curved faces looked at on levels {lengths(a.resolution_mm)} {lengths.unit} apart"
        if a.resolution_mm
        else "nothing sampled"
    )
    sure = sum(f.share_error <= SURE for f in document.faces)
    rest = f", the least sure within {a.share_error:.0%} a boundary" if a.share_error > SURE else ""
    paragraph(
        out,
        f"{sampled}; shapes within {lengths(a.error_mm)} {lengths.unit} of the true ones; shares of {sure} of "
        f"{len(document.faces)} faces within {SURE:.0%}{rest}",
    )
