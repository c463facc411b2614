"""The command line: `sidewise features`, `sidewise plan`, `sidewise schema`.

Only what every call needs is imported at the top: `sidewise --help` must answer at once.
"""

from __future__ import annotations

from typing import Annotated

import typer

from service.errors import reported

app = typer.Typer(
    help="Drop in a STEP solid, get machining features, setups and operations, each with its reason.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

Part = Annotated[str, typer.Argument(metavar="PART.step", help="STEP file (AP203, AP214 or AP242) with the part.")]
Out = Annotated[
    str | None, typer.Option("-o", "--out", metavar="FILE", help="Write the JSON document there; - is stdout.")
]
Solid = Annotated[
    int | None, typer.Option("--solid", min=1, metavar="N", help="Which solid, from 1, if there are several.")
]
Timeout = Annotated[float, typer.Option(min=0.1, metavar="SECONDS", help="Longest time to read and recognise.")]
Memory = Annotated[float, typer.Option(min=0.5, metavar="GB", help="Most memory to read and recognise.")]
Strict = Annotated[bool, typer.Option(help="Exit with 1 if anything cannot be reached or planned, or a check fails.")]


@app.command()
def features(
    part: Part, out: Out = None, solid: Solid = None, strict: Strict = False, timeout: Timeout = 120, memory: Memory = 4
) -> None:
    """List the features of a part and where each is cut from."""
    with reported(part):
        from service import run

        run.check_out(out)
        document, text = run.features_of(part, solid, run.Limits(timeout, memory))
        if out is not None:
            run.write(text, out)
        else:
            from service.summary.features import print_features

            print_features(document)
        _end(run.unreached(document) if strict else [])


@app.command()
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
        _end(run.unfinished(document) if strict else [])


@app.command()
def schema(document: Annotated[str, typer.Argument(metavar="features|plan", help="Which document.")]) -> None:
    """Print the JSON Schema of a document."""
    with reported():
        from service import run

        print(run.schema_of(document))


@app.callback(invoke_without_command=True)
def _common(version: Annotated[bool, typer.Option("--version", help="Print the version and exit.")] = False) -> None:
    if version:
        from importlib.metadata import version as installed

        print(f"sidewise {installed('sidewise')}")
        raise typer.Exit


def _end(failures: list[str]) -> None:
    """Exit code 1 with the reasons on standard error where --strict found any."""
    if failures:
        typer.echo("Strict: " + "\n        ".join(failures), err=True)
        raise typer.Exit(1)


def main() -> None:
    """Entry point of the `sidewise` command."""
    app()


if __name__ == "__main__":
    main()
