"""The page as people use it: upload, pick, plan again, keyboard only, files that cannot be used, accessibility."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import cadquery as cq
import pytest

LONG = 60_000


def upload(page: Any, path: Path) -> None:
    page.set_input_files("input[type=file] >> nth=0", str(path))
    page.get_by_role("button", name="Setup 1", exact=False).first.wait_for(timeout=LONG)


def open_demo(page: Any, title: str) -> None:
    page.get_by_role("button", name=title).click()
    page.get_by_role("button", name="Setup 1", exact=False).first.wait_for(timeout=LONG)


def shown(page: Any) -> None:
    """Waits until the part has been drawn."""
    page.wait_for_function("Number(document.querySelector('#view').dataset.drawn) > 1", timeout=LONG)


def test_a_file_that_is_dropped_becomes_a_plan(page: Any, plate: Path) -> None:
    page.evaluate(
        """text => {
            const data = new DataTransfer();
            data.items.add(new File([text], 'dropped.step'));
            window.dispatchEvent(new DragEvent('drop', {dataTransfer: data, bubbles: true, cancelable: true}));
        }""",
        plate.read_text(),
    )
    page.get_by_role("button", name="Setup 1", exact=False).first.wait_for(timeout=LONG)
    assert page.locator("header .name").inner_text() == "dropped.step"
    assert "qualified machinist" in page.locator(".cautions").inner_text()


def test_a_picked_face_shows_its_feature_and_a_feature_its_faces(page: Any, plate: Path) -> None:
    upload(page, plate)
    shown(page)
    box = page.locator("#view").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2 + 60, box["y"] + box["height"] / 2)
    page.get_by_role("heading", name="Planar face").wait_for()
    page.get_by_role("tab", name="Features").click()
    page.get_by_role("button", name="⌀ 6").click()
    page.get_by_role("heading", name="Round hole", exact=True).wait_for()
    details = page.locator("aside").inner_text()
    assert "Cut from\n-z, +z" in details and "Why" in details
    before = page.locator("#view").screenshot()
    page.get_by_label("Round hole (1)").uncheck()
    page.keyboard.press("Escape")
    page.wait_for_timeout(300)
    assert page.locator("#view").screenshot() != before


def test_setups_are_stepped_through_with_the_part_as_it_is_clamped(page: Any) -> None:
    open_demo(page, "Cable block")
    shown(page)
    first = page.locator("#view").screenshot()
    page.get_by_role("navigation", name="Setups").get_by_role("button", name="Setup 1").click()
    page.wait_for_timeout(500)
    assert page.locator("#view").screenshot() != first
    assert page.get_by_text("Rests on").is_visible()
    page.locator("ol.rows .row").first.click()
    assert "rev/min" in page.locator("aside").inner_text()


def test_another_stock_changes_the_plan_without_reading_again(page: Any, plate: Path) -> None:
    upload(page, plate)
    assert "64 × 44 × 14 mm" in page.locator("aside").inner_text()
    page.get_by_label("Stock allowance, mm").fill("5")
    page.get_by_role("button", name="Plan again").click()
    page.get_by_text("70 × 50 × 20 mm").wait_for(timeout=LONG)


def test_the_batch_size_changes_the_price(page: Any, plate: Path) -> None:
    upload(page, plate)
    page.get_by_text("each for 1 (assumed rates)").wait_for(timeout=LONG)
    page.get_by_label("Batch size").fill("50")
    page.get_by_role("button", name="Plan again").click()
    page.get_by_text("each for 50 (assumed rates)").wait_for(timeout=LONG)


def test_reach_is_coloured_for_a_direction_with_what_is_in_the_way(page: Any, plate: Path) -> None:
    upload(page, plate)
    shown(page)
    before = page.locator("#view").screenshot()
    page.get_by_label("Colour").select_option("reach")
    page.get_by_label("Reach from").select_option("+x")
    page.wait_for_timeout(300)
    assert page.locator("#view").screenshot() != before
    page.get_by_role("tab", name="Features").click()
    page.get_by_role("button", name="⌀ 6").click()
    assert "not seen from here" in page.locator("aside").inner_text()


def test_two_revisions_are_compared_side_by_side(page: Any, plate: Path, tmp_path: Path) -> None:
    new = tmp_path / "plate_b.step"
    part = cq.Workplane().box(60, 40, 10).faces(">Z").workplane().hole(8).faces(">Z").workplane(origin=(20, 10)).hole(5)
    cq.exporters.export(part, str(new))
    upload(page, plate)
    page.set_input_files("input[aria-label='New revision']", str(new))
    dialog = page.get_by_role("dialog", name="Comparison")
    dialog.wait_for(timeout=LONG)
    told = dialog.inner_text()
    assert "Added (1)" in told and "diameter 6 → 8" in told
    page.keyboard.press("Escape")
    assert not dialog.is_visible()


def test_a_wrong_job_is_told_with_a_hint(page: Any, plate: Path) -> None:
    upload(page, plate)
    page.get_by_label("Material").fill("cheese")
    page.get_by_role("button", name="Plan again").click()
    page.get_by_role("alert").wait_for(timeout=LONG)
    assert "cheese" in page.get_by_role("alert").inner_text()


def test_documents_can_be_downloaded(page: Any, plate: Path) -> None:
    upload(page, plate)
    for name, check in (
        ("Plan (JSON)", lambda text: json.loads(text)["cautions"]),
        ("Features (JSON)", lambda text: json.loads(text)["features"]),
        ("Operations (CSV)", lambda text: "rev/min" in text.splitlines()[0]),
        ("Sheets (PDF)", lambda text: text.startswith("%PDF")),
    ):
        with page.expect_download() as download:
            page.get_by_role("button", name=name).click()
        assert check(Path(download.value.path()).read_text(errors="replace"))


def test_an_unreadable_file_is_told_with_a_hint_and_the_page_goes_on(page: Any, tmp_path: Path, plate: Path) -> None:
    letter = tmp_path / "letter.step"
    letter.write_text("Dear machinist,")
    page.set_input_files("input[type=file] >> nth=0", str(letter))
    page.get_by_role("alert").wait_for(timeout=LONG)
    told = page.get_by_role("alert").inner_text()
    assert "not a STEP file" in told and "Export the model as STEP" in told
    upload(page, plate)
    assert page.get_by_role("alert").count() == 0


def test_it_can_be_used_with_the_keyboard_alone(page: Any) -> None:
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Cable block":
            break
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Setup 1", exact=False).first.wait_for(timeout=LONG)
    page.get_by_role("tab", name="Setups").focus()
    page.keyboard.press("ArrowRight")
    assert page.get_by_role("tab", name="Features").get_attribute("aria-selected") == "true"
    for _ in range(4):
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.locator("aside h3").count() == 1


@pytest.mark.parametrize("size", [(1280, 720), (820, 1180)], ids=["laptop", "tablet"])
def test_nothing_is_cut_off(page: Any, size: tuple[int, int]) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    open_demo(page, "Cable block")
    shown(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    for name in ("Open …", "Plan again", "Part"):
        assert page.get_by_role("button", name=name, exact=name != "Part").first.bounding_box()["width"] > 20


def test_axe_finds_no_barrier(page: Any) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    assert axe.run(page).violations_count == 0, axe.run(page).generate_report()
    open_demo(page, "Cable block")
    for tab in ("Warnings", "Setups", "Features"):
        page.get_by_role("tab", name=tab).click()
        found = axe.run(page)
        assert found.violations_count == 0, found.generate_report()


def test_nothing_is_fetched_from_elsewhere(browser: Any, service: Any) -> None:
    made = browser.new_page()
    asked: list[str] = []
    made.on("request", lambda r: asked.append(r.url))
    made.goto(str(service.client.base_url))
    open_demo(made, "Cable block")
    made.close()
    assert all(url.startswith(("data:", "blob:", str(service.client.base_url))) for url in asked)
