"""Serves the page's bundle, or says what is missing where it was not built."""

from __future__ import annotations

from pathlib import Path

from fastapi import FastAPI
from fastapi.responses import FileResponse, HTMLResponse, Response
from starlette.staticfiles import StaticFiles

DIST = Path(__file__).resolve().parent.parent / "page" / "dist"
MISSING = """<!doctype html><html lang="en"><title>Sidewise</title><body style="font-family:sans-serif;max-width:40em;margin:3em auto">
<h1>Sidewise runs, without its page</h1>
<p>The page was not built when Sidewise was installed. It needs Node.js 20 or later and the npm registry; install
Sidewise again where both can be reached. The HTTP interface works all the same:
<a href="/api/openapi.json">/api/openapi.json</a></p></body></html>"""


def serve_page(app: FastAPI, dist: Path = DIST) -> None:
    """Adds `/` and the page's files to the application."""

    @app.get("/", include_in_schema=False)
    def _() -> Response:
        if not (dist / "index.html").is_file():
            return HTMLResponse(MISSING)
        return FileResponse(dist / "index.html", headers={"Cache-Control": "no-cache"})

    if (dist / "assets").is_dir():  # their names carry a hash of their content
        app.mount("/assets", StaticFiles(directory=dist / "assets"), name="assets")
