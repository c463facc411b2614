"""`sidewise compare`."""

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
    ReachToo,
    Solid,
    Threads,
    Timeout,
    Tools,
    ViseData,
    Weights,
)
from service.errors import reported


def compare(
    old: Annotated[str, typer.Argument(metavar="OLD.step", help="The part as it was.")],
    new: Annotated[str, typer.Argument(metavar="NEW.step", help="The part as it is now.")],
    features_only: Annotated[bool, typer.Option("--features-only", help="Do not plan: compare features only.")] = False,
    stock: Annotated[str, typer.Option(help="Allowance in mm: one, or six '-x,+x,-y,+y,-z,+z'.")] = "2",
    axes: Axes = None,
    material: Material = "aluminium",
    tools: Tools = "",
    machine: MachineFile = "",
    thread: Threads = None,
    notes: NotesFile = "",
    vise: ViseData = "",
    goals: Goals = "",
    weights: Weights = "",
    reach: ReachToo = False,
    out: Out = None,
    solid: Solid = None,
    timeout: Timeout = 120,
    memory: Memory = 4,
) -> None:
    """Say what changed between two models of a part, and in its plan."""
    with reported():
        from service import run

        run.check_out(out)
        asked = run.Asked(
            stock, axes, material, tools, tuple(thread or ()), machine, notes, vise, goals, weights, reach
        )
        limits = run.Limits(timeout, memory)
        document = run.compare_of(old, new, asked, limits, solid=solid, features_only=features_only)
        if out is not None:
            run.write(document.to_json(), out)
        else:
            from service.summary.compare import print_compare

            print_compare(document)
