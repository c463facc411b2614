"""`sidewise serve`."""

from __future__ import annotations

import os
from typing import Annotated

import typer

from service.commands.common import Memory, Timeout
from service.errors import reported


def serve(
    host: Annotated[
        str, typer.Option(help="Address to listen on; the default is reachable from this machine only.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port to listen on; 0 takes a free one.")] = 8470,
    store: Annotated[
        str, typer.Option(metavar="URL", help="Database: a file's path, or postgresql://...")
    ] = "sidewise.db",
    workers: Annotated[int, typer.Option(min=1, metavar="N", help="Parts worked on at once.")] = os.cpu_count() or 1,
    max_upload: Annotated[float, typer.Option(min=0.001, metavar="MB", help="Largest request.")] = 100,
    most_waiting: Annotated[int, typer.Option(min=1, metavar="N", help="Longest queue.")] = 200,
    rate: Annotated[str, typer.Option(help="Changing requests per client, for example 120/minute.")] = "120/minute",
    timeout: Timeout = 120,
    memory: Memory = 4,
) -> None:
    """Serve the page and the HTTP interface. API keys are read from SIDEWISE_KEYS, separated by commas."""
    with reported():
        from service.http.serve import run_service
        from service.http.settings import Settings
        from service.worker import Limits

        keys = tuple(key.strip() for key in os.environ.get("SIDEWISE_KEYS", "").split(",") if key.strip())
        run_service(
            Settings(
                host=host, port=port, store=store, workers=workers, limits=Limits(timeout, memory),
                max_upload=int(max_upload * 1e6), most_waiting=most_waiting, keys=keys, rate=rate,
            )
        )  # fmt: skip
