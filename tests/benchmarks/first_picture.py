"""How soon the page shows a plate of many faces, and how smoothly it turns.

    python -m tests.benchmarks.first_picture --plates 100 1000

A real service and a real Chromium with software graphics: a graphics card turns faster. Times are from the moment that
the features document is there; a picture that comes before it has a negative time. Nothing here passes or fails.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import httpx
from playwright.sync_api import sync_playwright

from tests.benchmarks.plates import write_plate
from tests.http.conftest import serve
from tests.page.conftest import FLAGS

LOOK_S = 0.02
TURN_S = 4.0


def main() -> int:
    """Prints a line a plate."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.first_picture", description=__doc__)
    parser.add_argument("--plates", nargs="*", type=int, default=[100, 1000], metavar="FACES")
    parser.add_argument("--files", nargs="*", type=Path, default=[], metavar="PART", help="other STEP files")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as p:
        served = serve(Path(scratch) / "s.db", "--workers", options.workers, "--timeout", 600)
        browser = p.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        try:
            served.ended(served.client.post("/api/demos/balance_weight").json()["id"])  # the workers are warm
            for size in options.plates:
                file, faces = write_plate(size, Path(scratch))
                _measure(browser, served.client, file, f"plate of {faces} faces")
            for file in options.files:
                _measure(browser, served.client, file, file.name)
        finally:
            browser.close()
            served.stop()
    return 0


def _measure(browser: Any, client: httpx.Client, file: Path, name: str) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 720})
    page.goto(str(client.base_url))
    sent = time.time()
    page.set_input_files("input[type=file] >> nth=0", str(file))
    job = None
    while not job:
        job = page.evaluate("location.hash.slice(1)")
    while client.get(f"/api/jobs/{job}/features").status_code != 200:
        time.sleep(LOOK_S)
    ready = time.time()
    mark = "performance.getEntriesByName('sidewise-picture').map(e => (performance.timeOrigin + e.startTime) / 1000)[0]"
    while not (seen := page.evaluate(mark)):
        page.wait_for_timeout(1000 * LOOK_S)
    page.get_by_role("button", name="Setup 1", exact=False).first.wait_for(timeout=600_000)
    rate = _turned(page)
    client.delete(f"/api/jobs/{job}")
    print(
        f"{name}: features after {ready - sent:.2f} s, first picture {seen - ready:+.2f} s from then, "
        f"{rate:.0f} pictures a second while it is turned",
        flush=True,
    )
    page.close()


def _turned(page: Any) -> float:
    """Pictures a second while the part is dragged round with the mouse."""
    box = page.locator("#view").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    drawn = "Number(document.querySelector('#view').dataset.drawn)"
    page.mouse.move(x, y)
    page.mouse.down()
    before, began, n = page.evaluate(drawn), time.monotonic(), 0
    while time.monotonic() - began < TURN_S:
        n += 1
        page.mouse.move(x + 150 * ((n % 80) / 40 - 1), y + 60 * ((n % 50) / 25 - 1))
    took = time.monotonic() - began
    page.mouse.up()
    return float((page.evaluate(drawn) - before) / took)


if __name__ == "__main__":
    sys.exit(main())
