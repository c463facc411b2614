"""`sidewise quote`."""

from __future__ import annotations

from typing import Annotated

import typer

from service.commands.common import (
    Axes,
    Goals,
    MachineFile,
    Material,
    Memory,
    NotesFile,
    Out,
    Part,
    ReachToo,
    Solid,
    Stock,
    Strict,
    Threads,
    Timeout,
    Tools,
    ViseData,
    Weights,
    end,
)
from service.errors import reported


def quote(
    part: Part,
    quantities: Annotated[str, typer.Option(metavar="N,N,...", help="How many parts are made at once.")] = "1,10,100",
    rates: Annotated[str, typer.Option(metavar="FILE", help="Rates file (TOML or CSV); else assumed rates.")] = "",
    stock: Stock = "2",
    axes: Axes = None,
    material: Material = "aluminium",
    machine: MachineFile = "",
    tools: Tools = "",
    thread: Threads = None,
    notes: NotesFile = "",
    vise: ViseData = "",
    goals: Goals = "",
    weights: Weights = "",
    reach: ReachToo = False,
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
        asked = run.Asked(
            stock, axes, material, tools, tuple(thread or ()), machine, notes, vise, goals, weights, reach
        )
        document = run.quote_of(part, solid, asked, run.Limits(timeout, memory), rates=rates, quantities=quantities)
        if out is not None:
            run.write(document.to_json(), out)
        else:
            from service.summary.quote import print_quote

            print_quote(document)
        end([f.message for f in document.warnings if f.severity == "error"] if strict else [])
