"""A real Chromium on the real service."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.http.conftest import ROOT, Served, large_part, part, serve, service  # noqa: F401 - fixtures

sync_api = pytest.importorskip("playwright.sync_api")
FLAGS = [
    "--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if not program:
        pytest.skip("Chromium is not installed here (Debian: apt-get install chromium)")
    if not (ROOT / "service" / "page" / "dist" / "index.html").is_file():
        pytest.skip("the page is not built here (it needs Node.js 20; install Sidewise again)")
    with sync_api.sync_playwright() as p:
        made = p.chromium.launch(executable_path=program, args=FLAGS)
        yield made
        made.close()


@pytest.fixture
def page(browser: Any, service: Served) -> Iterator[Any]:  # noqa: F811
    """The start page at 1280 x 720; a test fails on any error that the page's script throws."""
    made = browser.new_page(viewport={"width": 1280, "height": 720})
    errors: list[str] = []
    made.on("pageerror", lambda e: errors.append(str(e)))
    made.goto(str(service.client.base_url))
    yield made
    made.close()
    assert not errors


@pytest.fixture
def plate(part: bytes, tmp_path: Path) -> Path:  # noqa: F811
    path = tmp_path / "plate.step"
    path.write_bytes(part)
    return path
