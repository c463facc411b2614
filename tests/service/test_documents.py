"""Real documents of demo parts: valid by the published schema, and readable in 100 columns."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from rich.console import Console

from service import run
from service.summary.features import print_features
from service.summary.plan import print_plan
from shared.features import FeaturesDocument
from shared.findings import Finding
from shared.plan import PlanDocument

MODELS = Path(__file__).parents[2] / "models"
PARTS = ("altitude_carrier", "cable_block", "tripod_hub")


@pytest.fixture(scope="module")
def documents() -> dict[str, tuple[FeaturesDocument, PlanDocument]]:
    from planner import plan
    from recognizer import recognize
    from shared.plan import Job

    made = {}
    for name in PARTS:
        features = recognize(MODELS / f"{name}.step")
        made[name] = (features, plan(features, Job(time_limit=5)))
    return made


@pytest.mark.parametrize("name", PARTS)
@pytest.mark.parametrize("which", ["features", "plan"])
def test_documents_are_valid_by_their_printed_schema(
    sidewise: Callable[..., Any], documents: dict[str, Any], name: str, which: str
) -> None:
    schema = json.loads(sidewise("schema", which).stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    document = json.loads(documents[name][which == "plan"].to_json())
    jsonschema.validate(document, schema)
    assert document["schema"] == f"sidewise.{which}/1"


def test_a_wrong_document_is_not_valid(sidewise: Callable[..., Any], documents: dict[str, Any]) -> None:
    schema = json.loads(sidewise("schema", "features").stdout)
    document = json.loads(documents["cable_block"][0].to_json())
    document["features"][0]["kind"] = "hole"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, schema)


def lines_of(print_document: Callable[..., None], document: Any) -> list[str]:
    text = io.StringIO()
    print_document(document, Console(file=text, width=100, highlight=False))
    return text.getvalue().splitlines()


@pytest.mark.parametrize("name", PARTS)
def test_features_summary_names_every_feature_in_100_columns(documents: dict[str, Any], name: str) -> None:
    document = documents[name][0]
    lines = lines_of(print_features, document)
    assert max(map(len, lines)) <= 100
    words = set(" ".join(lines).split())
    for feature in document.features:
        assert feature.id.removeprefix(f"{feature.kind}-") in words
    assert any(line.startswith("stock ") and " = part" in line for line in lines)


@pytest.mark.parametrize("name", PARTS)
def test_plan_summary_has_every_operation_proof_and_cautions_in_100_columns(
    documents: dict[str, Any], name: str
) -> None:
    document = documents[name][1]
    lines = lines_of(print_plan, document)
    assert max(map(len, lines)) <= 100
    starts = {line.split()[0] for line in lines if line.strip()}
    assert {operation.id for setup in document.setups for operation in setup.operations} <= starts
    text = " ".join(" ".join(lines).split())
    assert all(caution in text for caution in document.cautions)
    proven = f"{document.proof.setups.count} setups are proven to be the fewest" in text
    assert proven == (document.proof.setups.status == "optimal")
    if document.unplanned:
        assert lines[0].startswith("NOT PLANNED")


def test_a_plan_that_fails_its_proof_says_so_before_anything_else(documents: dict[str, Any]) -> None:
    document = documents["cable_block"][1]
    fault = Finding(code="gouged", severity="error", message="s1-o1 cuts 12 mm3 off the part")
    failed = document.model_copy(update={"proof": document.proof.model_copy(update={"checker": [fault]})})
    assert not lines_of(print_plan, document)[0].startswith("DO NOT CUT")
    lines = lines_of(print_plan, failed)
    assert lines[0] == "DO NOT CUT: the plan fails its own proof in 1 place(s)"
    assert "s1-o1 cuts 12 mm3" in lines[1]


def test_a_plan_that_cuts_into_the_part_ends_with_a_failure(documents: dict[str, Any]) -> None:
    document = documents["cable_block"][1]
    assert run.unsafe(document) == []
    for code, kept in (("gouged", True), ("jaws_collision", True), ("left_uncut", False)):
        fault = Finding(code=code, severity="error", message="s1-o1 is wrong")
        proof = document.proof.model_copy(update={"checker": [fault]})
        assert run.unsafe(document.model_copy(update={"proof": proof})) == (["s1-o1 is wrong"] if kept else [])


def test_inch_parts_are_shown_in_inches(documents: dict[str, Any]) -> None:
    document = documents["cable_block"][0]
    inch = document.model_copy(update={"part": document.part.model_copy(update={"unit": "inch"})})
    size = document.part.frame_box.max[0] - document.part.frame_box.min[0]
    assert f"{size / 25.4:.4f}".rstrip("0").rstrip(".") in lines_of(print_features, inch)[0]
    assert " in, " in lines_of(print_features, inch)[0]


def test_strict_fails_where_something_is_unplanned(documents: dict[str, Any]) -> None:
    from service.run import unfinished
    from shared.plan import Unplanned

    document = documents["cable_block"][1]
    spoilt = document.model_copy(update={"unplanned": [Unplanned(feature="f-1", reason="no cutter")]})
    assert "f-1 is not planned: no cutter" in unfinished(spoilt)


def test_the_same_file_gives_the_same_bytes(sidewise: Callable[..., Any], tmp_path: Path) -> None:
    first, second = tmp_path / "a.json", tmp_path / "b.json"
    for out in (first, second):
        assert sidewise("features", MODELS / "cable_block.step", "-o", out).exit_code == 0
    assert first.read_bytes() == second.read_bytes()
