"""Options that several commands share, and how a command ends."""

from __future__ import annotations

from typing import Annotated

import typer

Part = Annotated[str, typer.Argument(metavar="PART.step", help="STEP file (AP203, AP214 or AP242) with the part.")]
Out = Annotated[
    str | None, typer.Option("-o", "--out", metavar="FILE", help="Write the JSON document there; - is stdout.")
]
Solid = Annotated[
    int | None, typer.Option("--solid", min=1, metavar="N", help="Which solid, from 1, if there are several.")
]
Timeout = Annotated[float, typer.Option(min=0.1, metavar="SECONDS", help="Longest time to read and recognise.")]
Memory = Annotated[float, typer.Option(min=0.5, metavar="GB", help="Most memory to read and recognise.")]
Stock = Annotated[str, typer.Option(help="Allowance in mm: one, six '-x,+x,-y,+y,-z,+z', or a STEP file.")]
Threads = Annotated[list[str] | None, typer.Option(metavar="D=M", help="Tap these holes: 10.2=M12; repeat.")]
Axes = Annotated[
    int | None, typer.Option(min=3, max=5, help="Axes of the machine: 3, 4 or 5; else the machine file's, else 3.")
]
Material = Annotated[str, typer.Option(metavar="NAME", help="Workpiece material: a name, or a material file.")]
Tools = Annotated[str, typer.Option(metavar="FILE", help="Cutter file (CSV or TOML); else the default table.")]
MachineFile = Annotated[
    str, typer.Option("--machine", metavar="FILE", help="Machine file (TOML or CSV); else an assumed machine.")
]
NotesFile = Annotated[
    str, typer.Option("--notes", metavar="FILE", help="What the drawing says: threads, tolerances, roughness.")
]
ViseData = Annotated[
    str,
    typer.Option("--vise", metavar="NAME=MM,...", help="opening, jaw_height, jaw_widths, least_grip; or a vise file."),
]
Goals = Annotated[
    str, typer.Option(metavar="GOAL,...", help="What is made smallest first: clampings, setups, tool_changes, minutes.")
]
Weights = Annotated[
    str, typer.Option(metavar="GOAL=PRICE,...", help="Prices: their sum is made smallest, not one goal after another.")
]
ReachToo = Annotated[
    bool,
    typer.Option("--reach/--no-reach", help="Plan from no side, and with no cutter, that a reach analysis refutes."),
]
Pictures = Annotated[
    str, typer.Option(metavar="DIR", help="Draw the workpiece after each setup, and what stays, as PNG files there.")
]
Strict = Annotated[bool, typer.Option(help="Exit with 1 if anything cannot be reached or planned, or a check fails.")]


def end(failures: list[str], why: str = "Strict") -> None:
    """Exit code 1 with the reasons on standard error where there are any."""
    if failures:
        typer.echo(f"{why}: " + ("\n" + " " * (len(why) + 2)).join(failures), err=True)
        raise typer.Exit(1)
