"""`sidewise compare`."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from service.commands.common import Memory, Out, Solid, Timeout
from service.commands.job import Allowance, job_options
from service.errors import reported
from service.options import Asked


@partial(job_options, stock=Allowance)
def compare(
    old: Annotated[str, typer.Argument(metavar="OLD.step", help="The part as it was.")],
    new: Annotated[str, typer.Argument(metavar="NEW.step", help="The part as it is now.")],
    asked: Asked,
    features_only: Annotated[bool, typer.Option("--features-only", help="Do not plan: compare features only.")] = False,
    out: Out = None,
    solid: Solid = None,
    timeout: Timeout = 120,
    memory: Memory = 4,
) -> None:
    """Say what changed between two models of a part, and in its plan."""
    with reported():
        from service import run

        run.check_out(out)
        limits = run.Limits(timeout, memory)
        document = run.compare_of(old, new, asked, limits, solid=solid, features_only=features_only)
        if out is not None:
            run.write(document.to_json(), out)
        else:
            from service.summary.compare import print_compare

            print_compare(document)
