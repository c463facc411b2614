"""Sheets that a machinist, a quoter and QA can use."""

from __future__ import annotations

import csv
import io
import re
import shutil
import subprocess
from dataclasses import replace
from html import unescape
from pathlib import Path

import cadquery as cq
import pytest

from planner import plan
from recognizer import reach, recognize
from recognizer.reading import read_mesh
from service.quoting import quote
from service.report.content import Papers, entry_in_words
from service.report.make import NO_PICTURE, drawn, report
from service.report.units import INCH, MM
from service.study import workpieces_bytes
from shared.findings import Finding
from shared.mesh import packed
from shared.proof import Collision
from shared.shop.rates import load_rates


@pytest.fixture(scope="module")
def step(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cover plate of the mount: holes from above, a pocket from below."""
    part = cq.Workplane().box(80, 60, 12).faces(">Z").workplane().rect(60, 40, forConstruction=True).vertices().hole(6)
    part = part.faces("<Z").workplane().slot2D(40, 20).cutBlind(-5)
    path = tmp_path_factory.mktemp("report") / "cover_plate.step"
    cq.exporters.export(part, str(path))
    return path


@pytest.fixture(scope="module")
def papers(step: Path) -> Papers:
    features = recognize(step)
    planned = plan(features, {"stock": 2.0})
    return Papers(features, planned, quote(features, planned, load_rates(None)), reach(step))


def text(papers: Papers, **options: object) -> str:
    return report(papers, {}, ".html", **options).decode()  # type: ignore[arg-type]


def test_there_is_a_sheet_a_setup_with_all_its_operations_and_cutters(papers: Papers) -> None:
    sheets = re.split(r"<article", text(papers))[2:]
    for n, setup in enumerate(papers.plan.setups):
        sheet = sheets[n]
        assert f"Setup {n + 1} of {len(papers.plan.setups)}" in sheet
        clamping = next(c for c in papers.plan.clampings if c.id == setup.clamping)
        assert clamping.rest_on in sheet and clamping.clamp_on in sheet
        for op in setup.operations:
            assert f"<td>{op.id}</td><td>{op.name}</td>" in sheet and op.tool.id in sheet


def test_the_first_sheet_carries_all_cautions_and_every_other_one_the_first_of_them(papers: Papers) -> None:
    cover, *others = re.split(r"<article", unescape(text(papers)))[1:]
    assert all(caution in cover for caution in papers.plan.cautions)
    assert len(others) == len(papers.plan.setups) + 2
    for sheet in others:
        foot = sheet.rpartition('class="cautions foot"')[2]
        assert papers.plan.cautions[0] in foot and "cautions stand on the first sheet" in foot


def test_entries_are_said_in_the_words_of_the_workshop(papers: Papers) -> None:
    assert entry_in_words("ap_retract_tangent in the free room") == "along an arc in the free room"
    said = {op.entry for setup in papers.plan.setups for op in setup.operations}
    assert not [entry for entry in map(entry_in_words, said) if "_" in entry or "plunge" in entry or "retract" in entry]


def test_each_cutter_has_its_stick_out_as_the_simulation_reckons_and_what_its_holder_meets(papers: Papers) -> None:
    setup = papers.plan.setups[0]
    operation = setup.operations[-1]
    sheet = text(papers)
    assert operation.tool.LU is not None
    assert re.search(rf"<td>{operation.tool.id}</td>.*?<td class=\"n\">{MM.length(operation.tool.LU)}</td>", sheet)
    hit = Collision(
        kind="holder", setup=setup.id, operation=operation.id, amount=3.25, at=(0, 0, 0), assumed=True, message="it meets"
    )  # fmt: skip
    proof = papers.plan.proof.model_copy(update={"collisions": [hit]})
    met = text(replace(papers, plan=papers.plan.model_copy(update={"proof": proof})))
    assert "meets by 3.25" in met and "meets by" not in sheet


def test_a_plan_that_fails_its_own_proof_says_so_on_the_first_sheet_and_on_each_setup(papers: Papers) -> None:
    fault = Finding(code="gouged", severity="error", message="the cutter goes 0.4 mm into face 3", hint="")
    proof = papers.plan.proof.model_copy(update={"checker": [fault]})
    made = text(replace(papers, plan=papers.plan.model_copy(update={"proof": proof})))
    assert "DO NOT CUT" not in text(papers)
    assert made.count("DO NOT CUT") == 1 + len(papers.plan.setups)
    assert made.index("DO NOT CUT") < made.index("the cutter goes 0.4 mm into face 3") < made.index("Setup 1 of")


@pytest.mark.parametrize(("paper", "inches"), [("a4", False), ("letter", True)])
def test_no_page_holds_only_cautions(papers: Papers, step: Path, paper: str, inches: bool) -> None:
    """The cautions stand on the first page, and no page is all but empty."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed here (Debian: apt-get install poppler-utils)")
    pictures = drawn(papers, read_mesh(step).to_bytes(), pieces(papers, step))
    data = report(papers, pictures, ".pdf", paper=paper, inches=inches)
    told = subprocess.run(
        ["pdftotext", "-layout", "-", "-"], input=data, capture_output=True, check=True
    ).stdout.decode()
    pages = [[line for line in page.splitlines() if line.strip()][:-1] for page in told.split("\f")[:-1]]
    heads = ("cover_plate.step", "Setup", "Quote sheet", "Reach sheet")
    sheets = [page for page in pages if page[0].strip().startswith(heads)]
    assert len(sheets) == 3 + len(papers.plan.setups)
    assert any("Before anything is cut" in line for line in sheets[0])
    assert min(len(page) for page in pages) >= 3, pages


def test_the_quote_sheet_and_the_reach_sheet_say_what_the_documents_say(papers: Papers) -> None:
    made = text(papers)
    for price in papers.quote.prices:
        assert f"{price.each:.2f}" in made
    for feature in papers.reach.features:
        assert f"<td>{feature.feature}</td>" in made


def test_inches_are_exact(papers: Papers) -> None:
    assert INCH.length(25.4) == "1.0000" and INCH.feed(254) == "10.0" and MM.length(25.40) == "25.4"
    top = papers.plan.setups[0].operations[0].levels.top
    assert f'<td class="n">{top / 25.4:.4f}</td>' in text(papers, inches=True)


def test_the_csv_has_a_row_an_operation(papers: Papers) -> None:
    rows = list(csv.DictReader(io.StringIO(report(papers, {}, ".csv").decode())))
    wanted = [op.id for setup in papers.plan.setups for op in setup.operations]
    assert [row["id"] for row in rows] == wanted and all(row["because"] for row in rows)


def test_names_from_files_cannot_act_in_the_sheet(papers: Papers) -> None:
    evil = papers.features.part.model_copy(update={"file": "<script>alert(1)</script>.step"})
    bad = Papers(papers.features.model_copy(update={"part": evil}), papers.plan, papers.quote, papers.reach)
    assert "<script>" not in text(bad)


def test_without_pictures_the_sheets_say_so(papers: Papers) -> None:
    assert NO_PICTURE in text(papers)


def pieces(papers: Papers, step: Path) -> bytes:
    return workpieces_bytes(papers.features.to_json(), papers.plan.to_json(), step.read_bytes())


def test_pictures_show_the_part_and_the_workpiece_before_and_after_each_setup(papers: Papers, step: Path) -> None:
    pictures = drawn(papers, read_mesh(step).to_bytes(), pieces(papers, step))
    if not pictures:
        pytest.skip("this machine cannot draw without a screen (Debian: apt-get install libegl1 libgl1-mesa-dri)")
    assert {name: len(pngs) for name, pngs in pictures.items()} == {"part": 1} | {s.id: 2 for s in papers.plan.setups}
    flat = [png for pngs in pictures.values() for png in pngs]
    assert all(p.startswith(b"\x89PNG") for p in flat) and len(set(flat)) == len(flat)
    assert report(papers, pictures, ".html").count(b"data:image/png") == len(flat)


def test_where_the_workpiece_cannot_be_drawn_the_finished_part_stands_in_its_place(papers: Papers, step: Path) -> None:
    pictures = drawn(papers, read_mesh(step).to_bytes(), packed([]))
    if not pictures:
        pytest.skip("this machine cannot draw without a screen (Debian: apt-get install libegl1 libgl1-mesa-dri)")
    assert {name: len(pngs) for name, pngs in pictures.items()} == {"part": 1} | {s.id: 1 for s in papers.plan.setups}
    assert b"the workpiece could not be drawn" in report(papers, pictures, ".html")


@pytest.mark.parametrize(("paper", "size"), [("a4", (842, 595)), ("letter", (792, 612))])
def test_a_pdf_has_the_papers_size_in_points(papers: Papers, paper: str, size: tuple[int, int]) -> None:
    """A4 landscape is 297 x 210 mm (ISO 216) and Letter 11 x 8.5 in (ANSI Y14.1): 72 points an inch."""
    made = report(papers, {}, ".pdf", paper=paper)
    assert made.startswith(b"%PDF")
    found = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", made)
    if found:  # some versions pack it
        assert (round(float(found[1])), round(float(found[2]))) == size
