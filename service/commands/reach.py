"""`sidewise reach`."""

from __future__ import annotations

from typing import Annotated

import typer

from service.commands.common import Memory, Out, Part, Solid
from service.errors import reported

USUAL, SPHERE = 120.0, 900.0
"""Seconds that may pass where the user names none."""


def reach(
    part: Part,
    sides: Annotated[
        str, typer.Option("--from", metavar="+z,-z", help="Only from these: +x, -z, or 1:0:1 for a slanted one.")
    ] = "",
    tools: Annotated[str, typer.Option(metavar="FILE", help="Cutter file (CSV or TOML); else the default table.")] = "",
    cutters: Annotated[str, typer.Option(metavar="ID,ID", help="Write out the shares of these cutters.")] = "",
    limits: Annotated[
        str, typer.Option(metavar="warn=5,fail=10", help="Stick-out over diameter; also drill_warn, drill_fail, share.")
    ] = "",
    axes: Annotated[
        int,
        typer.Option(
            min=3, max=5, help="Axes of the machine: 5 looks along a whole sphere too, 100 looks instead of 6."
        ),
    ] = 3,
    out: Out = None,
    solid: Solid = None,
    timeout: Annotated[
        float | None,
        typer.Option(min=0.1, metavar="SECONDS", help=f"Longest time; else {USUAL:g}, and {SPHERE:g} with --axes 5."),
    ] = None,
    memory: Memory = 4,
) -> None:
    """Prove that every face can be reached by a real cutter, or say exactly why not."""
    with reported(part):
        from service import reaching, run

        run.check_out(out)
        asked = reaching.Asked(sides, tools, cutters, limits, axes)
        document, text = reaching.reach_of(
            part, solid, asked, run.Limits(timeout or (SPHERE if axes == 5 else USUAL), memory)
        )
        if out is not None:
            run.write(text, out)
        else:
            from service.summary.reach import print_reach

            print_reach(document)
        if document.verdict == "not_reached":
            raise typer.Exit(1)
