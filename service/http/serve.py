"""Runs the service until it is told to stop."""

from __future__ import annotations

import signal
import socket
import sys
from dataclasses import replace
from pathlib import Path

import uvicorn
from limits import parse

from service.http.app import create_app
from service.http.settings import Settings
from shared.errors import UsageError


def run_service(settings: Settings) -> None:
    """Serves until SIGINT or SIGTERM. Raises UsageError where the address, the store or a limit cannot be used."""
    try:
        parse(settings.rate)
    except ValueError:
        raise UsageError(f"'{settings.rate}' is no rate.", "Write for example 120/minute.", "--rate") from None
    settings = replace(settings, store=_url(settings.store))
    bound = _bound(settings)
    port = bound.getsockname()[1]
    if not settings.is_local and not settings.keys:
        print("Warning: anyone who reaches this address may use the service: set SIDEWISE_KEYS.", file=sys.stderr)
    shown = f"[{settings.host}]" if ":" in settings.host else settings.host
    print(f"Sidewise serves at http://{shown}:{port}; stop it with Ctrl-C.", file=sys.stderr, flush=True)
    config = uvicorn.Config(
        create_app(settings),
        log_level="warning",
        server_header=False,
        timeout_graceful_shutdown=5,
        timeout_keep_alive=15,
    )
    for number in (signal.SIGINT, signal.SIGTERM):  # raised once more after the clean end, when nothing is left to do
        signal.signal(number, lambda *_: None)
    uvicorn.Server(config).run(sockets=[bound])


def _url(store: str) -> str:
    """A database address from what was typed: a path is a SQLite file."""
    if store.startswith(("postgresql://", "postgres://")):
        return "postgresql+psycopg://" + store.partition("://")[2]
    if "://" in store:
        return store
    path = Path(store)
    if path.is_dir() or not path.resolve().parent.is_dir():
        raise UsageError(f"The store {store} cannot be made.", "Name a file in a folder that exists.", "--store")
    return f"sqlite:///{path}"


def _bound(settings: Settings) -> socket.socket:
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    bound = socket.socket(family, socket.SOCK_STREAM)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((settings.host, settings.port))
    except OSError as error:
        raise UsageError(
            f"Nothing can listen on {settings.host}:{settings.port}: {error.strerror}.",
            "Choose another --port.",
            "--port",
        ) from None
    return bound
