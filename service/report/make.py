"""A report from a STEP file."""

from __future__ import annotations

import sys
from pathlib import Path

from service.report.album import sheet_pictures
from service.report.content import Papers
from service.report.render import Pictures, html, pdf, table
from service.study import mesh_bytes, workpieces_bytes
from service.worker import Limits, Worker
from shared.errors import SidewiseError, UsageError
from shared.mesh import unpacked

ENDINGS = (".html", ".pdf", ".csv")
NO_PICTURE = "No picture: this machine cannot draw without a screen (Debian: apt-get install libegl1 libgl1-mesa-dri)."


def ending_of(out: str) -> str:
    """The kind of report that a file name asks for. Raises UsageError where it asks for none."""
    ending = Path(out).suffix.lower()
    if ending not in ENDINGS:
        raise UsageError(f"'{out}' asks for no kind of report.", f"End it with one of {', '.join(ENDINGS)}.", "--out")
    return ending


def report(papers: Papers, pictures: Pictures, ending: str, *, paper: str = "a4", inches: bool = False) -> bytes:
    """The report as bytes. pictures: those of sheet_pictures(); where there are none, the sheets say so."""
    if ending == ".csv":
        return table(papers, inches=inches).encode()
    text = html(papers, pictures, paper=paper, inches=inches, no_picture="" if pictures else NO_PICTURE)
    return pdf(text) if ending == ".pdf" else text.encode()


def drawn(papers: Papers, mesh: bytes, workpieces: bytes) -> Pictures:
    """Pictures of the part's mesh and its packed workpieces in this process, or none where this machine cannot draw."""
    try:
        return sheet_pictures(papers, mesh, unpacked(workpieces))
    except (ImportError, RuntimeError):
        return {}


def drawn_apart(papers: Papers, part: bytes, solid: int | None, limits: Limits) -> Pictures:
    """Pictures of a STEP file's bytes, made in a worker, or none where this machine cannot draw: a report without
    them is better than no report."""
    texts = papers.features.to_json(), papers.plan.to_json()
    try:
        with Worker(limits) as worker:
            mesh = worker.start(mesh_bytes, part, solid).result()
            pack = worker.start(workpieces_bytes, *texts, part, solid).result()
            made: Pictures = worker.start(sheet_pictures, papers, mesh, unpacked(pack)).result()
            return made
    except (SidewiseError, ImportError, RuntimeError) as error:
        print(f"Note: {NO_PICTURE} ({type(error).__name__})", file=sys.stderr)
        return {}
