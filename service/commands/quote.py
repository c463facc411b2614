"""`sidewise quote`."""

from __future__ import annotations

from typing import Annotated

import typer

from service.commands.common import Memory, Out, Part, Solid, Strict, Timeout, end
from service.commands.job import job_options
from service.errors import reported
from service.options import Asked


@job_options
def quote(
    part: Part,
    asked: Asked,
    quantities: Annotated[str, typer.Option(metavar="N,N,...", help="How many parts are made at once.")] = "1,10,100",
    rates: Annotated[str, typer.Option(metavar="FILE", help="Rates file (TOML or CSV); else assumed rates.")] = "",
    out: Out = None,
    solid: Solid = None,
    strict: Strict = False,
    timeout: Timeout = 120,
    memory: Memory = 4,
) -> None:
    """Say what a part costs: counts, setups, cutters, minutes, price at each quantity, and what drives it."""
    with reported(part):
        from service import run

        run.check_out(out)
        document = run.quote_of(part, solid, asked, run.Limits(timeout, memory), rates=rates, quantities=quantities)
        if out is not None:
            run.write(document.to_json(), out)
        else:
            from service.summary.quote import print_quote

            print_quote(document)
        end([f.message for f in document.warnings if f.severity == "error"] if strict else [])
