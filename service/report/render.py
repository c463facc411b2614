"""Sheets as HTML, PDF or CSV."""

from __future__ import annotations

import base64
import csv
import io
from pathlib import Path

from service.report.content import Papers, content
from service.report.units import INCH, MM
from shared.errors import UsageError

HERE = Path(__file__).parent
PAPERS = {"a4": "A4 landscape", "letter": "Letter landscape"}
Pictures = dict[str, list[bytes]]
"""PNGs by what they show: `part`, the id of a setup (before and after its cuts), `end`."""
PDF_HINT = "Debian: apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0. Or write HTML and print that."


def html(papers: Papers, pictures: Pictures, *, paper: str = "a4", inches: bool = False, no_picture: str = "") -> str:
    """The sheets as one HTML file that needs nothing else. pictures: those of sheet_pictures(), or none."""
    from jinja2 import Environment, StrictUndefined

    env = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    template = env.from_string((HERE / "sheets.html.j2").read_text(encoding="utf-8"))
    css = (HERE / "sheets.css").read_text(encoding="utf-8").replace("PAPER", PAPERS[paper])
    shown = {name: [_inside(png) for png in pngs] for name, pngs in pictures.items()}
    values = content(papers, INCH if inches else MM)
    from markupsafe import Markup

    return template.render(values, css=Markup(css), pictures=shown, no_picture=no_picture)


def _inside(png: bytes) -> str:
    return "data:image/png;base64," + base64.b64encode(png).decode()


def pdf(text: str) -> bytes:
    """An HTML text as PDF. Raises UsageError where the system's text libraries are missing."""
    try:
        from weasyprint import HTML
        from weasyprint.urls import URLFetcher
    except OSError as error:
        raise UsageError(f"PDF cannot be written on this machine: {error}.", PDF_HINT, "--out") from None
    inside_only = URLFetcher(allowed_protocols=["data"])  # pictures are inside the sheet; nothing is ever fetched
    return bytes(HTML(string=text, url_fetcher=inside_only).write_pdf())


def table(papers: Papers, *, inches: bool = False) -> str:
    """The operations as CSV, a row each in the order of cutting."""
    units = INCH if inches else MM
    names = (
        "id",
        "name",
        "kind",
        "features",
        "tool",
        "top",
        "bottom",
        "past",
        "steps",
        "entry",
        "speed",
        "feed",
        "minutes",
    )
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["setup", *names, "because", "lengths"])
    for setup in content(papers, units)["setups"]:
        for op in setup["operations"]:
            writer.writerow([setup["number"], *(op[name] for name in names), "; ".join(op["because"]), units.name])
    return out.getvalue()
