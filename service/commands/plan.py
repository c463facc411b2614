"""`sidewise plan`."""

from __future__ import annotations

from service.commands.common import (
    Axes,
    Goals,
    MachineFile,
    Material,
    Memory,
    NotesFile,
    Out,
    Part,
    Pictures,
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


def plan(
    part: Part,
    stock: Stock = "2",
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
    pictures: Pictures = "",
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
        asked = run.Asked(
            stock, axes, material, tools, tuple(thread or ()), machine, notes, vise, goals, weights, reach
        )
        limits = run.Limits(timeout, memory)
        features, document = run.planned(part, solid, asked, limits)
        if pictures:
            from service.report.stages import write_pictures

            write_pictures(features, document, pictures, limits)
        if out is not None:
            run.write(document.to_json(), out)
        else:
            from service.summary.plan import print_plan

            print_plan(document)
        if strict:
            end(run.unfinished(document))
        end(run.unsafe(document), "Do not cut")
