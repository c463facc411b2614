"""`sidewise batch`."""

from __future__ import annotations

import os
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from service.commands.common import Memory, Timeout
from service.commands.job import Allowance, job_options
from service.errors import reported
from service.options import Asked


@partial(job_options, stock=Allowance)
def batch(
    paths: Annotated[list[str], typer.Argument(metavar="PATH...", help="STEP files, folders, globs, zip archives.")],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="DIR", help="Folder for the results and the table.")],
    asked: Asked,
    workers: Annotated[int, typer.Option(min=1, metavar="N", help="Worker processes.")] = os.cpu_count() or 1,
    scheduler: Annotated[str, typer.Option(metavar="ADDRESS", help="Use the Dask cluster there instead.")] = "",
    features_only: Annotated[bool, typer.Option("--features-only", help="Do not plan.")] = False,
    rates: Annotated[str, typer.Option(metavar="FILE", help="Rates file (TOML or CSV); else assumed rates.")] = "",
    max_size: Annotated[float, typer.Option(min=0.001, metavar="MB", help="Largest STEP file, unpacked.")] = 200,
    retry_errors: Annotated[bool, typer.Option("--retry-errors", help="Work again on what ended in an error.")] = False,
    strict: Annotated[bool, typer.Option(help="Exit with 1 if any part ended in an error.")] = False,
    timeout: Timeout = 120,
    memory: Memory = 4,
) -> None:
    """Features and plans of many parts, and one table for all. Run again, it goes on where it stopped."""
    with reported():
        from service import run
        from service.batch.rows import QUANTITIES
        from service.batch.run import Asked as Work
        from service.batch.run import Batch, summary
        from service.study import study_of
        from shared.shop.rates import load_rates

        job = None if features_only else run.job_from(asked)
        if job and isinstance(job.stock, str):
            raise run.UsageError("A batch takes an allowance, not a stock file.", "Give a number.", "--stock")
        run.check_shop(asked)
        load_rates(rates or None)
        how = Work(out, workers, scheduler, int(max_size * 1e6), retry_errors)
        work = Batch(paths, study_of(job, rates, QUANTITIES), run.Limits(timeout, memory), how)
        try:
            work.run()
        finally:
            typer.echo(summary(work.results, work.skipped, work.total, out))
        if strict and any(r.error for r in work.results):
            raise typer.Exit(1)
