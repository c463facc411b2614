"""How a service is run."""

from __future__ import annotations

import os
from dataclasses import dataclass, field

from service.worker import Limits


@dataclass(frozen=True)
class Settings:
    """host, port: where it listens. store: address of its database. workers: parts worked on at once.

    limits: of each read and each computation. max_upload: bytes of a request. most_waiting: jobs in the queue before
    new ones are refused. keys: those that let somebody in; none means that everybody may. rate: requests that change
    something, per client, in the notation of the `limits` library.
    """

    host: str = "127.0.0.1"
    port: int = 8470
    store: str = "sqlite:///sidewise.db"
    workers: int = os.cpu_count() or 1
    limits: Limits = field(default_factory=Limits)
    max_upload: int = 100_000_000
    most_waiting: int = 200
    keys: tuple[str, ...] = ()
    rate: str = "120/minute"
    hosts: tuple[str, ...] = ("localhost", "127.0.0.1", "[::1]", "testserver")

    @property
    def is_local(self) -> bool:
        """Whether only this machine can reach it."""
        return self.host in ("127.0.0.1", "localhost", "::1")
