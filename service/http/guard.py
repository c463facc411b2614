"""What stands before every route: who may come in, how much they may send, and the headers of every answer.

Plain ASGI, so that an upload is counted while it arrives and event streams are not held up.
"""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable
from contextlib import suppress
from typing import Any

from limits import parse
from limits.aio.storage import MemoryStorage
from limits.aio.strategies import MovingWindowRateLimiter
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import Response

from service.http.problems import Problem
from service.http.settings import Settings

Scope = dict[str, Any]
Receive = Callable[[], Awaitable[dict[str, Any]]]
Send = Callable[[dict[str, Any]], Awaitable[None]]

CHANGING = ("POST", "PUT", "PATCH", "DELETE")
OPEN_PATHS = ("/health", "/metrics")
HEADERS = {
    "Content-Security-Policy": "default-src 'self'; img-src 'self' data: blob:; style-src 'self' 'unsafe-inline'; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}


class TooMuch(Exception):
    """More bytes arrived than are allowed."""


class Counted:
    """A request's body as it arrives, cut off at `most` bytes whatever its header said."""

    def __init__(self, receive: Receive, most: int) -> None:
        self._receive, self._left = receive, most
        self.too_much = False

    async def __call__(self) -> dict[str, Any]:
        """The next piece. Raises TooMuch past the limit."""
        message = await self._receive()
        self._left -= len(message.get("body", b""))
        if self._left < 0:
            self.too_much = True
            raise TooMuch
        return message


class Guard:
    """ASGI middleware: host, origin, key, rate and size of each request, security headers on each answer."""

    def __init__(self, app: Any, settings: Settings) -> None:
        self._app, self._settings = app, settings
        self._limiter = MovingWindowRateLimiter(MemoryStorage())
        self._rate = parse(settings.rate)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handles one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        problem = await self._refusal(scope, headers)
        if problem:
            await self._refuse(problem, scope, receive, send)
            return
        counted = Counted(receive, self._settings.max_upload)
        started = False

        async def sending(message: dict[str, Any]) -> None:
            nonlocal started
            if counted.too_much and not started:
                return  # whatever the route makes of the broken body, the answer is below
            if message["type"] == "http.response.start":
                started = True
                _add_headers(message, scope["path"])
            await send(message)

        with suppress(TooMuch):
            await self._app(scope, counted, sending)
        if counted.too_much and not started:
            await self._refuse(self._too_large(), scope, receive, send)

    async def _refusal(self, scope: Scope, headers: Headers) -> Problem | None:
        settings = self._settings
        host = (
            headers.get("host", "").rsplit(":", 1)[0] if not headers.get("host", "").endswith("]") else headers["host"]
        )
        if settings.is_local and host not in settings.hosts:
            return Problem(400, "wrong_host", "This service answers to its own machine only.", "Use localhost.")
        if scope["method"] in CHANGING and headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return Problem(403, "cross_site", "Another site's page may not send this.", "Use this service's own page.")
        if settings.keys and scope["path"].startswith("/api/") and not _let_in(headers, settings.keys):
            hint = "Send the header 'Authorization: Bearer KEY'."
            return Problem(401, "no_key", "This needs an API key.", hint, WWW_Authenticate="Bearer")
        if scope["method"] in CHANGING:
            client = headers.get("authorization") or (scope.get("client") or ("unknown",))[0]
            if not await self._limiter.hit(self._rate, str(client)):
                hint = f"At most {settings.rate.replace('/', ' a ')}: try again in a while."
                return Problem(429, "too_many", "Too many requests.", hint, Retry_After="10")
        length = headers.get("content-length", "0")
        if length.isdigit() and int(length) > settings.max_upload:
            return self._too_large()
        return None

    def _too_large(self) -> Problem:
        most = self._settings.max_upload / 1e6
        return Problem(413, "too_large", f"The request is larger than {most:g} MB.", "Send a smaller model.")

    async def _refuse(self, problem: Problem, scope: Scope, receive: Receive, send: Send) -> None:
        response: Response = problem.response()

        async def sending(message: dict[str, Any]) -> None:
            if message["type"] == "http.response.start":
                _add_headers(message, scope["path"])
            await send(message)

        await response(scope, receive, sending)  # type: ignore[arg-type]


def _let_in(headers: Headers, keys: tuple[str, ...]) -> bool:
    scheme, _, key = headers.get("authorization", "").partition(" ")
    given = key.strip() if scheme.lower() == "bearer" else headers.get("x-api-key", "")
    return any([hmac.compare_digest(given.encode(), known.encode()) for known in keys])


def _add_headers(message: dict[str, Any], path: str) -> None:
    headers = MutableHeaders(raw=message["headers"])
    for name, value in HEADERS.items():
        headers.setdefault(name, value)
    if path.startswith("/api/"):
        headers.setdefault("Cache-Control", "no-store")
