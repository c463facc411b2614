"""Errors as problem details (RFC 9457), with the codes and hints of the command line."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from sqlalchemy.exc import SQLAlchemyError
from starlette.exceptions import HTTPException

from service.errors import internal
from shared.errors import SidewiseError, UsageError

MEDIA_TYPE = "application/problem+json"
FULL = ("SQLITE_FULL", "SQLITE_IOERR_WRITE", "SQLITE_IOERR_TRUNCATE")
"""What SQLite says of a disk that is full, and of files that may not grow."""


class ProblemDetails(BaseModel):
    """RFC 9457 problem details; `code` and `hint` are ours."""

    type: str = Field(examples=["about:blank"])
    title: str = Field(examples=["Not Found"])
    status: int = Field(examples=[404])
    detail: str = Field(examples=["There is no job 3f."])
    code: str = Field(examples=["not_found"])
    hint: str = Field("", examples=["List the jobs with GET /api/jobs."])


TITLES = {
    400: "Bad Request",
    401: "Unauthorized",
    403: "Forbidden",
    404: "Not Found",
    405: "Method Not Allowed",
    409: "Conflict",
    413: "Content Too Large",
    415: "Unsupported Media Type",
    422: "Unprocessable Content",
    429: "Too Many Requests",
    500: "Internal Server Error",
    501: "Not Implemented",
    503: "Service Unavailable",
    507: "Insufficient Storage",
}


class Problem(Exception):
    """An answer that is an error."""

    def __init__(self, status: int, code: str, detail: str, hint: str = "", **headers: str) -> None:
        super().__init__(detail)
        self.status, self.code, self.detail, self.hint, self.headers = status, code, detail, hint, headers

    def response(self) -> JSONResponse:
        """The problem as a response."""
        body = ProblemDetails(
            type="about:blank", title=TITLES.get(self.status, "Error"), status=self.status, detail=self.detail,
            code=self.code, hint=self.hint,
        )  # fmt: skip
        headers = {name.replace("_", "-"): value for name, value in self.headers.items()}
        return JSONResponse(body.model_dump(), self.status, headers, media_type=MEDIA_TYPE)


def responses(*codes: int) -> dict[int | str, dict[str, Any]]:
    """The problem responses of a route, for the OpenAPI document. 401, 429 and 503 can come from any."""
    schema = {"$ref": "#/components/schemas/ProblemDetails"}
    return {
        code: {"description": TITLES[code], "content": {MEDIA_TYPE: {"schema": schema}}}
        for code in sorted({400, 401, 403, 429, 503, *codes})
    }


def not_found(what: str, hint: str = "List the jobs with GET /api/jobs.") -> Problem:
    """404 for a thing that is not there."""
    return Problem(404, "not_found", f"There is no {what}.", hint)


def _no_room(error: SQLAlchemyError) -> bool:
    """Whether the database has no room to write: SQLite's own names, and PostgreSQL's class 53 (insufficient resources)."""
    cause = getattr(error, "orig", None)
    return getattr(cause, "sqlite_errorname", "") in FULL or getattr(cause, "sqlstate", "") == "53100"


def answer_problems(app: FastAPI) -> None:
    """Turns every error of a route into problem details."""

    @app.exception_handler(Problem)
    async def _(_: Request, error: Problem) -> JSONResponse:
        return error.response()

    @app.exception_handler(SidewiseError)
    async def _(_: Request, error: SidewiseError) -> JSONResponse:
        if error.code == "cannot_draw":
            return Problem(501, error.code, error.message, error.hint).response()
        if error.code == "not_found":
            return Problem(404, error.code, error.message, error.hint).response()
        if error.code == "busy":
            return Problem(503, error.code, error.message, error.hint, Retry_After="3").response()
        status = 422 if isinstance(error, UsageError) or error.exit_code in (3, 4) else 500
        return Problem(status, error.code, error.message, error.hint).response()

    @app.exception_handler(RequestValidationError)
    async def _(_: Request, error: RequestValidationError) -> JSONResponse:
        first = error.errors()[0]
        place = ".".join(str(piece) for piece in first["loc"])
        return Problem(
            422, "invalid", f"{place}: {first['msg']}", "See /api/openapi.json for what is expected."
        ).response()

    @app.exception_handler(HTTPException)
    async def _(_: Request, error: HTTPException) -> JSONResponse:
        code = TITLES.get(error.status_code, "error").lower().replace(" ", "_")
        headers = {k.replace("-", "_"): v for k, v in (error.headers or {}).items()}
        return Problem(error.status_code, code, str(error.detail), "See /api/openapi.json.", **headers).response()

    @app.exception_handler(SQLAlchemyError)
    async def _(_: Request, error: SQLAlchemyError) -> JSONResponse:
        if _no_room(error):
            return Problem(507, "storage_full", "The service's disk is full.", "Tell whoever runs it.").response()
        hint = "Try again in a few seconds."
        return Problem(503, "store_away", "The service's database does not answer.", hint, Retry_After="5").response()

    @app.exception_handler(Exception)
    async def _(_: Request, error: Exception) -> JSONResponse:
        ours = internal(error)
        return Problem(500, ours.code, "Sidewise failed on this request.", f"{ours.hint} ({ours.where})").response()
