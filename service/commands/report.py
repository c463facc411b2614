"""`sidewise report`."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from service.commands.common import Memory, Part, Solid, Timeout
from service.commands.job import job_options
from service.errors import reported
from service.options import Asked


class Paper(StrEnum):
    """Paper that the sheets are laid out for."""

    a4 = "a4"
    letter = "letter"


class Lengths(StrEnum):
    """Unit of lengths on the sheets."""

    mm = "mm"
    inch = "inch"


@job_options
def report(
    part: Part,
    out: Annotated[str, typer.Option("-o", "--out", metavar="FILE", help="FILE.html, FILE.pdf or FILE.csv.")],
    asked: Asked,
    paper: Annotated[Paper, typer.Option(help="Paper of the sheets.")] = Paper.a4,
    units: Annotated[Lengths, typer.Option(help="Unit of lengths on the sheets.")] = Lengths.mm,
    quantities: Annotated[str, typer.Option(metavar="N,N,...", help="How many parts are made at once.")] = "1,10,100",
    rates: Annotated[str, typer.Option(metavar="FILE", help="Rates file (TOML or CSV); else assumed rates.")] = "",
    solid: Solid = None,
    timeout: Timeout = 120,
    memory: Memory = 4,
) -> None:
    """Write setup sheets, a quote sheet and a reach sheet for people."""
    with reported(part):
        from service import run
        from service.report import make

        run.check_out(out)
        ending = make.ending_of(out)
        limits = run.Limits(timeout, memory)
        papers = run.papers_of(part, solid, asked, limits, rates=rates, quantities=quantities)
        pictures: make.Pictures = {}
        if ending != ".csv":
            pictures = make.drawn_apart(papers, Path(part).read_bytes(), solid, limits)
        data = make.report(papers, pictures, ending, paper=paper.value, inches=units is Lengths.inch)
        run.write_bytes(data, out)
