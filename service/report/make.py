"""A report from a STEP file."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from service.report.content import Papers, scenes
from service.report.pictures import draw
from service.report.render import html, pdf, table
from service.study import mesh_bytes
from service.worker import Limits, Worker
from shared.errors import SidewiseError, UsageError

ENDINGS = (".html", ".pdf", ".csv")
NO_PICTURE = "No picture: this machine cannot draw without a screen (Debian: apt-get install libegl1 libgl1-mesa-dri)."


def ending_of(out: str) -> str:
    """The kind of report that a file name asks for. Raises UsageError where it asks for none."""
    ending = Path(out).suffix.lower()
    if ending not in ENDINGS:
        raise UsageError(f"'{out}' asks for no kind of report.", f"End it with one of {', '.join(ENDINGS)}.", "--out")
    return ending


def report(papers: Papers, pictures: list[bytes], ending: str, *, paper: str = "a4", inches: bool = False) -> bytes:
    """The report as bytes. pictures: of the part, then of each setup; where there are none, the sheets say so."""
    if ending == ".csv":
        return table(papers, inches=inches).encode()
    text = html(papers, pictures, paper=paper, inches=inches, no_picture="" if pictures else NO_PICTURE)
    return pdf(text) if ending == ".pdf" else text.encode()


def drawn(papers: Papers, mesh: bytes) -> list[bytes]:
    """Pictures of a mesh in this process, or none where this machine cannot draw."""
    try:
        return draw(mesh, scenes(papers))
    except (ImportError, RuntimeError):
        return []


def drawn_apart(papers: Papers, part: bytes, solid: int | None, limits: Limits) -> list[bytes]:
    """Pictures of a STEP file's bytes, made in a worker, or none where this machine cannot draw: a report without
    them is better than no report."""
    try:
        with Worker(limits) as worker:
            mesh = worker.start(mesh_bytes, part, solid).result()
            made: list[Any] = worker.start(draw, mesh, scenes(papers)).result()
            return made
    except (SidewiseError, ImportError, RuntimeError) as error:
        print(f"Note: {NO_PICTURE} ({type(error).__name__})", file=sys.stderr)
        return []
