"""The quote document as people read it: what is missing first, then price, minutes, counts and what drives the price."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from service.summary.findings import print_findings
from service.summary.format import Lengths, aligned, console, heading, minutes, number, paragraph
from service.summary.plan import cutter
from shared.quote import QuoteDocument


def print_quote(document: QuoteDocument, out: Console | None = None) -> None:
    """Writes the summary to standard output, or to `out`."""
    out = out or console()
    lengths = Lengths(str(document.part.get("unit", "mm")))
    if document.unplanned:
        out.print(Text(f"NOT IN THE PRICE: {len(document.unplanned)} feature(s)", style="bold red"))
        for item in document.unplanned:
            paragraph(out, f"{item.feature}: {item.reason}", "  ", "    ")
        out.print()
    _print_head(out, document, lengths)
    _print_prices(out, document)
    _print_minutes(out, document)
    _print_counts(out, document, lengths)
    _print_drivers(out, document)
    print_findings(out, document.warnings, "Warnings")
    out.print(heading("\nCautions"))
    for caution in document.cautions:
        paragraph(out, caution, "- ")


def _print_head(out: Console, document: QuoteDocument, lengths: Lengths) -> None:
    money = " / ".join(f"{p.each:,.2f}" for p in document.prices)
    quantities = " / ".join(str(p.quantity) for p in document.prices)
    out.print(
        heading(f"{document.part.get('file', 'part')}: {money} {document.rates['currency']} each at {quantities}")
    )
    job, stock = document.job, document.stock
    size = " x ".join(lengths(v) for v in stock.size)
    text = (
        f"{job['material']}, {job['axes']}-axis on {job['machine'].get('name', 'an assumed machine')}; block {size} "
        f"{lengths.unit}, {stock.mass:.2f} kg, of which {stock.chips_share:.0%} become chips; rates: {document.rates['name']}"
    )
    paragraph(out, text)


def _print_prices(out: Console, document: QuoteDocument) -> None:
    out.print(heading("\nPrice a part"))
    rows = [["quantity", *(str(p.quantity) for p in document.prices)]]
    for key in document.prices[0].parts:
        rows.append([key.replace("_", " "), *(f"{p.parts[key]:,.2f}" for p in document.prices)])
    rows.append(["price", *(f"{p.each:,.2f}" for p in document.prices)])
    rows.append(["order", *(f"{p.total:,.2f}" for p in document.prices)])
    for line in aligned(rows, out.width, right=range(1, len(rows[0]))):
        out.print(line, markup=False)


def _print_minutes(out: Console, document: QuoteDocument) -> None:
    m = document.minutes
    out.print(heading("\nMinutes"))
    rows = [
        ["cycle a part", minutes(m.cycle), f"cutting {m.cutting:.2f}, rapids {m.rapids:.2f}, cutter changes {m.cutter_changes:.2f}"],
        ["loading a part", minutes(m.loading), f"{document.clampings} clamping(s), inspection"],
        ["making ready a batch", minutes(m.making_ready), f"{document.clampings} clamping(s), {len(document.cutters)} cutters"],
        ["programming once", minutes(m.programming), f"{document.operations} operations"],
    ]  # fmt: skip
    for line in aligned(rows, out.width, right=(1,)):
        out.print(line, markup=False)


def _print_counts(out: Console, document: QuoteDocument, lengths: Lengths) -> None:
    out.print(heading("\nWhat is to be done"))
    kinds = ", ".join(f"{n} {kind.replace('_', ' ')}" for kind, n in document.counts.items())
    paragraph(out, f"{sum(document.counts.values())} features: {kinds}", rest="  ")
    proven = " (proven fewest)" if document.setups_status == "optimal" else ""
    paragraph(
        out,
        f"{document.clampings} clampings, {document.setups} setups{proven}, {document.operations} operations, "
        f"{len(document.cutters)} cutters, {document.cutter_changes} cutter changes",
    )
    if not document.special_cutters:
        out.print("no special cutters")
    for special in document.special_cutters:
        paragraph(out, f"special cutter: {cutter(special.tool, lengths)}: {special.why}", rest="  ")


def _print_drivers(out: Console, document: QuoteDocument) -> None:
    out.print(heading("\nWhat drives the price"))
    rows = [["", *(f"at {p.quantity}" for p in document.prices), ""]]
    for d in document.drivers:
        rows.append([d.what, *(number(c, 2) if c < 0.005 else f"{c:,.2f}" for c in d.costs), ""])
    width = max(len(line) for line in aligned(rows, out.width, right=range(1, len(rows[0]) - 1)))
    head, *lines = aligned(rows, out.width, right=range(1, len(rows[0]) - 1))
    out.print(Text(head, style="dim"))
    for line, d in zip(lines, document.drivers, strict=True):
        named = f" ({', '.join(d.features)})" if d.features and d.features != [d.what] else ""
        paragraph(out, d.text + named, f"{line:<{width}}  ", " " * (width + 2))
