"""`sidewise schema`."""

from __future__ import annotations

from typing import Annotated

import typer

from service.errors import reported


def schema(
    document: Annotated[str, typer.Argument(metavar="features|plan|reach|compare|quote", help="Which document.")],
) -> None:
    """Print the JSON Schema of a document."""
    with reported():
        from service import run

        print(run.schema_of(document))
