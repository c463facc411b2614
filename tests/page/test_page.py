"""The page as people use it: upload, pick, plan again, keyboard only, files that cannot be used, accessibility."""

from __future__ import annotations

import json
import os
import signal
from pathlib import Path
from typing import Any

import cadquery as cq
import pytest

from tests.batch.test_run import workers_of
from tests.http.conftest import serve

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


def looked_from(page: Any) -> tuple[float, float, float]:
    page.wait_for_timeout(400)
    x, y, z = map(float, page.locator("#view").get_attribute("data-from").split())
    return x, y, z


def test_the_part_turns_about_its_upright_by_mouse_and_by_keys(page: Any, plate: Path) -> None:
    upload(page, plate)
    shown(page)
    first = looked_from(page)
    box = page.locator("#view").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 120, y, steps=4)
    page.mouse.up()
    dragged = looked_from(page)
    assert dragged[:2] != first[:2] and abs(dragged[2] - first[2]) < 0.002, "sideways: neither higher nor lower"
    page.locator("#view").focus()
    page.keyboard.press("ArrowLeft")
    turned = looked_from(page)
    assert turned[:2] != dragged[:2] and abs(turned[2] - dragged[2]) < 0.002
    page.keyboard.press("ArrowUp")
    raised = looked_from(page)
    assert raised[2] > turned[2] and abs(raised[0] * turned[1] - raised[1] * turned[0]) < 0.002, (
        "higher, no further round"
    )


def test_what_cannot_be_planned_is_said_beside_the_plan_that_is_there(page: Any, plate: Path) -> None:
    upload(page, plate)
    for label, wrong, said in (
        ("Stock allowance, mm", "-3", "each from 0 to"),
        ("Material", "unobtainium", "titanium"),
    ):
        field = page.get_by_role("combobox" if label == "Material" else "textbox", name=label)
        kept = field.input_value()
        field.fill(wrong)
        page.get_by_role("button", name="Plan again").click()
        page.get_by_text(said).first.wait_for()
        assert page.locator("aside").evaluate("e => e.scrollTop") == 0, "the message stands at the top of the column"
        assert page.get_by_role("button", name="Setup 1", exact=False).first.is_visible()
        field.fill(kept)


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


def test_the_workpiece_is_shown_as_it_is_clamped_and_after_the_cuts(page: Any) -> None:
    open_demo(page, "Cable block")
    steps = page.get_by_role("navigation", name="Setups")
    steps.get_by_role("button", name="Setup 1").click()
    page.locator("#view[data-shows*=after]").wait_for(timeout=LONG)
    assert "Cut in this setup" in page.locator(".legend").inner_text()
    seen = {}
    for name, mark in (("As clamped", "before"), ("After the cuts", "after")):
        steps.get_by_role("button", name=name).click()
        page.locator(f"#view[data-shows*={mark}]").wait_for(timeout=LONG)
        page.wait_for_timeout(400)
        seen[name] = page.locator("#view").screenshot()
    steps.get_by_role("button", name="Setup 2").click()
    page.wait_for_timeout(600)
    seen["Setup 2"] = page.locator("#view").screenshot()
    steps.get_by_role("button", name="Finished part").click()
    page.locator("#view[data-shows=part]").wait_for(timeout=LONG)
    page.wait_for_timeout(400)
    seen["Finished part"] = page.locator("#view").screenshot()
    assert len(set(seen.values())) == 4, "four different pictures"


def test_a_picked_face_of_the_workpiece_is_the_operation_that_cut_it(page: Any) -> None:
    open_demo(page, "Cable block")
    page.get_by_role("navigation", name="Setups").get_by_role("button", name="Setup 1").click()
    page.locator("#view[data-shows*=after]").wait_for(timeout=LONG)
    box = page.locator("#view").bounding_box()
    for down in range(80, int(box["height"]), 20):  # what is met first on the way down the middle is the top
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + down)
        if page.locator(".row[aria-pressed=true]").count():
            break
    page.get_by_role("heading", name="Face", exact=True).wait_for()
    assert page.locator(".row[aria-pressed=true]").inner_text().startswith("Face")


def test_a_machine_file_chosen_on_the_page_plans_again(page: Any, plate: Path, tmp_path: Path) -> None:
    (tmp_path / "slow.toml").write_text('name = "slow"\naxes = 3\n[spindle]\nmax_rpm = 700\n')
    (tmp_path / "bad.csv").write_text("kind,DC\nendmill,eight\n")
    upload(page, plate)
    page.get_by_text("Files of your shop").click()
    page.get_by_label("Machine file", exact=True).set_input_files(str(tmp_path / "slow.toml"))
    page.get_by_role("button", name="Plan again").click()
    page.get_by_text("Files of your shop (1)").wait_for(timeout=LONG)
    page.get_by_role("button", name="Setup 1", exact=False).first.wait_for(timeout=LONG)
    page.get_by_role("navigation", name="Setups").get_by_role("button", name="Setup 1").click()
    page.locator("ol.rows .row").first.click()
    speed = page.locator("dd", has_text="rev/min").inner_text()
    assert int(speed.split()[0]) <= 700
    page.get_by_label("Cutter file", exact=True).set_input_files(str(tmp_path / "bad.csv"))
    page.get_by_role("button", name="Plan again").click()
    page.get_by_role("alert").wait_for(timeout=LONG)
    assert "eight" in page.get_by_role("alert").inner_text()
    page.get_by_role("button", name="Without the cutter file").click()
    page.get_by_role("button", name="Plan again").click()
    page.get_by_text("Files of your shop (1)").wait_for(timeout=LONG)
    page.get_by_role("button", name="Setup 1", exact=False).first.wait_for(timeout=LONG)
    assert page.get_by_role("alert").count() == 0


def test_features_are_grouped_by_kind_or_by_setup(page: Any) -> None:
    open_demo(page, "Cable block")
    page.get_by_role("tab", name="Features").click()
    assert page.locator(".list h2").first.inner_text().startswith("Planar face")
    page.get_by_label("Group features").select_option("setup")
    assert page.locator(".list h2").first.inner_text().startswith("Setup 1 from")


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
    assert "Added (1)" in told and "diameter 6 → 8" in told and "Price each for 10" in told
    halves = [page.locator(".half canvas").nth(n) for n in range(2)]
    page.wait_for_timeout(500)
    plain, before = [c.screenshot() for c in halves], [c.bounding_box() for c in halves]
    assert before[0]["y"] == before[1]["y"] and before[0]["x"] + before[0]["width"] <= before[1]["x"]
    page.mouse.move(before[0]["x"] + 100, before[0]["y"] + 100)
    page.mouse.down()
    page.mouse.move(before[0]["x"] + 180, before[0]["y"] + 130)
    page.mouse.up()
    page.wait_for_timeout(500)
    assert all(c.screenshot() != p for c, p in zip(halves, plain, strict=True)), "both turn together"
    page.keyboard.press("Escape")
    assert not dialog.is_visible()


def test_a_wrong_job_is_told_with_a_hint(page: Any, plate: Path) -> None:
    upload(page, plate)
    page.get_by_role("combobox", name="Material").fill("cheese")
    page.get_by_role("button", name="Plan again").click()
    page.get_by_role("alert").wait_for(timeout=LONG)
    assert "cheese" in page.get_by_role("alert").inner_text()


def test_documents_can_be_downloaded(page: Any, plate: Path) -> None:
    upload(page, plate)
    page.get_by_text("Download", exact=True).click()
    page.get_by_label("Lengths").select_option("inch")
    for name, check in (
        ("Plan (JSON)", lambda text: json.loads(text)["cautions"]),
        ("Features (JSON)", lambda text: json.loads(text)["features"]),
        ("Reach (JSON)", lambda text: json.loads(text)["verdict"] == "reached"),
        ("Quote (JSON)", lambda text: json.loads(text)["prices"]),
        ("Operations (CSV)", lambda text: "rev/min" in text.splitlines()[0]),
        ("Sheets (PDF)", lambda text: text.startswith("%PDF")),
        ("Sheets (HTML)", lambda text: "Setup 1 of" in text and "lengths in inches" in text),
    ):
        with page.expect_download() as download:
            page.get_by_role("button", name=name).click()
        assert check(Path(download.value.path()).read_text(errors="replace"))


def test_an_unreadable_file_is_told_with_a_hint_and_the_page_goes_on(page: Any, tmp_path: Path, plate: Path) -> None:
    letter = tmp_path / "letter.step"
    letter.write_text("Dear machinist,")
    page.evaluate(  # what is asked of the failed job comes later and later: steps of it are still under way
        """() => {
            const plain = window.fetch;
            let asked = 0;
            window.fetch = async (...what) => {
                const late = window.late !== false && /mesh|features/.test(String(what[0])) ? 300 * ++asked : 0;
                await new Promise((done) => setTimeout(done, late));
                return plain(...what);
            };
        }"""
    )
    page.set_input_files("input[type=file] >> nth=0", str(letter))
    page.get_by_role("alert").wait_for(timeout=LONG)
    told = page.get_by_role("alert").inner_text()
    assert "not a STEP file" in told and "Export the model as STEP" in told
    page.evaluate("window.late = false")
    upload(page, plate)
    page.wait_for_timeout(1_000)  # until the last of those steps has come
    assert page.get_by_role("alert").count() == 0


def test_a_file_that_crashes_the_kernel_costs_its_own_job_only(
    browser: Any, tmp_path: Path, plate: Path, large_part: bytes
) -> None:
    """The process that reads gets the signal of a memory fault, as the kernel gives it to itself."""
    served = serve(tmp_path / "s.db", "--workers", 1)
    (tmp_path / "large.step").write_bytes(large_part)
    made = browser.new_page()
    try:
        made.goto(str(served.client.base_url))
        made.set_input_files("input[type=file] >> nth=0", str(tmp_path / "large.step"))
        made.get_by_text("Reading the part").first.wait_for(timeout=LONG)
        while not workers_of(served.process.pid):  # the stage is said before the process is there
            made.wait_for_timeout(50)
        made.wait_for_timeout(400)  # until it has taken the part up
        for pid in workers_of(served.process.pid):
            os.kill(pid, signal.SIGSEGV)
        made.get_by_role("alert").wait_for(timeout=LONG)
        told = made.get_by_role("alert").inner_text()
        assert "The CAD kernel crashed on this file (signal 11)" in told and "repair it and export it again" in told
        upload(made, plate)
        assert made.get_by_role("alert").count() == 0
        assert served.client.get("/health").json()["jobs"] == {"done": 1, "failed": 1}
    finally:
        made.close()
        served.stop()


def test_a_file_that_hangs_the_kernel_is_stopped_at_the_limit(
    browser: Any, tmp_path: Path, plate: Path, large_part: bytes
) -> None:
    """The process that reads is held still, as one that never comes back."""
    served = serve(tmp_path / "s.db", "--workers", 1, "--timeout", 12)
    (tmp_path / "large.step").write_bytes(large_part)
    made = browser.new_page()
    try:
        made.goto(str(served.client.base_url))
        made.set_input_files("input[type=file] >> nth=0", str(tmp_path / "large.step"))
        made.get_by_text("Reading the part").first.wait_for(timeout=LONG)
        while not workers_of(served.process.pid):
            made.wait_for_timeout(50)
        made.wait_for_timeout(600)  # until it has taken the part up
        for pid in workers_of(served.process.pid):
            os.kill(pid, signal.SIGSTOP)
        made.get_by_role("alert").wait_for(timeout=LONG)
        assert "took longer than 12 seconds and was stopped" in made.get_by_role("alert").inner_text()
        upload(made, plate)
        assert made.get_by_role("alert").count() == 0
    finally:
        made.close()
        served.stop()


def test_warnings_come_first_and_lead_to_what_they_are_about(page: Any) -> None:
    open_demo(page, "Motor bracket")
    assert page.get_by_role("tab", name="Warnings").get_attribute("aria-selected") == "true"
    first = page.locator(".list .row").first.inner_text()
    assert "Warning" in first or "Error" in first


def test_a_part_in_inches_is_shown_in_inches(page: Any) -> None:
    """The motor bracket is 4 x 3 x 2.75 inches, drawn in inches."""
    open_demo(page, "Motor bracket")
    assert "4.1575 × 3.1575 × 2.9075 in" in page.locator("aside").inner_text(), "2 mm a side more"
    page.get_by_text("Download", exact=True).click()
    assert page.get_by_label("Lengths").input_value() == "inch"


def test_a_plan_that_fails_its_own_proof_is_not_to_be_cut(page: Any, plate: Path) -> None:
    """The service's answer is given a fault on its way."""

    def spoilt(route: Any) -> None:
        answer = route.fetch()
        plan = answer.json()
        plan["proof"]["checker"] = [
            {"code": "gouged", "severity": "error", "message": "it cuts 0.4 mm into face 3", "hint": "", "faces": [3], "features": []}
        ]  # fmt: skip
        route.fulfill(response=answer, body=json.dumps(plan))

    page.route("**/plan", spoilt)
    upload(page, plate)
    told = page.get_by_role("alert").inner_text()
    assert "DO NOT CUT" in told and "it cuts 0.4 mm into face 3" in told
    assert page.get_by_role("tab", name="Warnings").get_attribute("aria-selected") == "true"


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


@pytest.mark.parametrize("size", [(1280, 720), (820, 1180), (390, 844)], ids=["laptop", "tablet", "phone"])
def test_nothing_is_cut_off(page: Any, size: tuple[int, int]) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    open_demo(page, "Cable block")
    shown(page)
    page.get_by_text("each for 1 (assumed rates)").wait_for(timeout=LONG)  # the last that arrives
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.locator("#view").bounding_box()["width"] > min(350, size[0] / 2 - 100), "the part is not squeezed"
    for name in ("Open …", "Plan again", "Part"):
        assert page.get_by_role("button", name=name, exact=name != "Part").first.bounding_box()["width"] > 20


def test_axe_finds_no_barrier(page: Any) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    assert axe.run(page).violations_count == 0, axe.run(page).generate_report()
    open_demo(page, "Cable block")
    for tab in ("Warnings", "Setups", "Features"):
        page.get_by_role("tab", name=tab).click()
        if tab == "Setups":
            page.get_by_role("navigation", name="Setups").get_by_role("button", name="Setup 1").click()
            page.locator("#view[data-shows*=after]").wait_for(timeout=LONG)
            page.get_by_text("Download", exact=True).click()
            page.get_by_text("Files of your shop").click()
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
