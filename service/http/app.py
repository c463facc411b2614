"""The application: routes, guards, and the runner that works behind them."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.metadata import version

from fastapi import FastAPI
from starlette.concurrency import run_in_threadpool

from service.http.guard import Guard
from service.http.page import serve_page
from service.http.problems import ProblemDetails, answer_problems
from service.http.routes import demos, documents, extras, health, jobs, pictures, workpieces
from service.http.runner import Runner
from service.http.settings import Settings
from service.store.store import Store
from shared.plan import CAUTIONS

ROUTERS = (
    jobs.router,
    documents.router,
    extras.router,
    workpieces.router,
    pictures.router,
    demos.router,
    health.router,
)
DESCRIPTION = (
    "Upload a STEP solid, get machining features, setups and operations, each with its reason.\n\n"
    + "\n".join(f"- {caution}" for caution in CAUTIONS)
)


def create_app(settings: Settings) -> FastAPI:
    """The service as an ASGI application. Its store is opened and its workers are started when it starts."""

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        app.state.store = await run_in_threadpool(Store, settings.store)
        app.state.runner = Runner(app.state.store, settings.limits, settings.workers)
        app.state.runner.start()
        app.state.closing = False
        yield
        app.state.closing = True
        await run_in_threadpool(app.state.runner.stop)
        app.state.store.close()

    app = FastAPI(
        title="Sidewise", version=version("sidewise"), description=DESCRIPTION, lifespan=lifespan,
        openapi_url="/api/openapi.json", docs_url=None, redoc_url=None,
    )  # fmt: skip
    app.state.settings = settings
    for router in ROUTERS:
        app.include_router(router)
    serve_page(app)
    answer_problems(app)
    app.add_middleware(Guard, settings=settings)
    _with_problems_described(app, bool(settings.keys))
    return app


def _with_problems_described(app: FastAPI, keys: bool) -> None:
    """Adds to the OpenAPI document what the responses refer to, and how to show a key."""
    made = app.openapi

    def openapi() -> dict[str, object]:
        if app.openapi_schema is None:
            schema = made()
            parts = schema.setdefault("components", {})
            parts.setdefault("schemas", {})["ProblemDetails"] = ProblemDetails.model_json_schema()
            if keys:
                parts["securitySchemes"] = {"key": {"type": "http", "scheme": "bearer"}}
                schema["security"] = [{"key": []}]
            app.openapi_schema = schema
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]
