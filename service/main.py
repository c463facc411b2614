"""The command line. The commands stand in `service/commands`, one a file.

Only what every call needs is imported at the top: `sidewise --help` must answer at once.
"""

from __future__ import annotations

from typing import Annotated

import typer

from service.commands import COMMANDS

app = typer.Typer(
    help="Drop in a STEP solid, get machining features, setups and operations, each with its reason.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for command in COMMANDS:
    app.command()(command)


@app.callback(invoke_without_command=True)
def _common(version: Annotated[bool, typer.Option("--version", help="Print the version and exit.")] = False) -> None:
    if version:
        from importlib.metadata import version as installed

        print(f"sidewise {installed('sidewise')}")
        raise typer.Exit


def main() -> None:
    """Entry point of the `sidewise` command."""
    app()


if __name__ == "__main__":
    main()
