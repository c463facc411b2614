"""`sidewise plan`."""

from __future__ import annotations

from typing import Annotated

import typer

from service.commands.common import Memory, Out, Part, Solid, Strict, Timeout, end
from service.errors import reported


def plan(
    part: Part,
    stock: Annotated[str, typer.Option(help="Allowance in mm: one, six '-x,+x,-y,+y,-z,+z', or a STEP file.")] = "2",
    axes: Annotated[int, typer.Option(min=3, max=5, help="Axes of the machine: 3, 4 or 5.")] = 3,
    material: Annotated[str, typer.Option(metavar="NAME", help="Workpiece material.")] = "aluminium",
    tools: Annotated[str, typer.Option(metavar="FILE", help="Cutter file (CSV or TOML); else the default table.")] = "",
    thread: Annotated[list[str] | None, typer.Option(metavar="D=M", help="Tap these holes: 10.2=M12; repeat.")] = None,
    out: Out = None,
    solid: Solid = None,
    strict: Strict = False,
    timeout: Timeout = 120,
    memory: Memory = 4,
) -> None:
    """Plan the setups and operations that cut a part."""
    with reported(part):
        from service import run

        run.check_out(out)
        asked = run.Asked(stock, axes, material, tools, tuple(thread or ()))
        document = run.plan_of(part, solid, asked, run.Limits(timeout, memory))
        if out is not None:
            run.write(document.to_json(), out)
        else:
            from service.summary.plan import print_plan

            print_plan(document)
        end(run.unfinished(document) if strict else [])
