"""The options of a job, the same for every command that plans."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable
from inspect import Parameter
from typing import Annotated, Any

import typer

from service.commands.common import (
    Axes,
    Goals,
    MachineFile,
    Material,
    NotesFile,
    ReachToo,
    Stock,
    Threads,
    Tools,
    ViseData,
    Weights,
)
from service.options import Asked

Allowance = Annotated[str, typer.Option(help="Allowance in mm: one, or six '-x,+x,-y,+y,-z,+z'.")]
OPTIONS: dict[str, tuple[Any, Any]] = {
    "stock": (Stock, "2"),
    "axes": (Axes, None),
    "material": (Material, "aluminium"),
    "tools": (Tools, ""),
    "machine": (MachineFile, ""),
    "thread": (Threads, None),
    "notes": (NotesFile, ""),
    "vise": (ViseData, ""),
    "goals": (Goals, ""),
    "weights": (Weights, ""),
    "reach": (ReachToo, True),
}
"""Each option: its type for the command line, and what stands for nothing typed."""


def job_options(command: Callable[..., None], stock: Any = Stock) -> Callable[..., None]:
    """The command with the options of a job in the place of its parameter `asked`, which gets what was typed.

    stock: type of the option of that name, where a command takes fewer forms of it.
    """

    @functools.wraps(command)
    def with_options(**values: Any) -> None:
        typed = {name: values.pop(name) for name in OPTIONS}
        threads = tuple(typed.pop("thread") or ())
        command(asked=Asked(threads=threads, **typed), **values)

    made: list[Parameter] = []
    for parameter in inspect.signature(command, eval_str=True).parameters.values():
        if parameter.name == "asked":
            made += [
                Parameter(name, Parameter.KEYWORD_ONLY, default=default, annotation=stock if name == "stock" else kind)
                for name, (kind, default) in OPTIONS.items()
            ]
        else:
            made.append(parameter.replace(kind=Parameter.KEYWORD_ONLY))
    with_options.__signature__ = inspect.Signature(made)  # type: ignore[attr-defined]
    with_options.__annotations__ = {parameter.name: parameter.annotation for parameter in made}
    return with_options
