"""`sidewise reach`: schema, exit codes, options, readable in 100 columns."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from service import reaching


@pytest.fixture
def call(sidewise: Callable[..., Any], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """`call(exit code, "reach", path, ...)` in this process."""
    from service import run

    monkeypatch.setattr(reaching, "Worker", run.Worker)

    def checked(code: int | None, *args: str) -> Any:
        done = sidewise(*args)
        assert code is None or done.exit_code == code, done.stderr
        return done

    return checked


MODELS = Path(__file__).parents[2] / "models"


def test_document_is_valid_and_the_void_is_an_error(call: Callable[..., Any]) -> None:
    done = call(1, "reach", str(MODELS / "balance_weight.step"), "-o", "-")
    document = json.loads(done.stdout)
    jsonschema.validate(document, json.loads(call(0, "schema", "reach").stdout))
    assert document["schema"] == "sidewise.reach/1" and document["verdict"] == "not_reached"
    assert "sealed" in {f["code"] for f in document["findings"] if f["severity"] == "error"}
    assert document["cautions"] and document["accuracy"]["error_mm"] > 0


def test_given_sides_and_a_given_shop(call: Callable[..., Any], tmp_path: Path) -> None:
    (tmp_path / "mine.csv").write_text("id,kind,DC,LU\nE6,endmill,6,30\n", encoding="utf-8")
    part = str(MODELS / "balance_weight.step")
    done = call(1, "reach", part, "--from", "+z,1:0:1", "--tools", str(tmp_path / "mine.csv"), "-o", "-")
    document = json.loads(done.stdout)
    assert [d["source"] for d in document["directions"]] == ["user", "user"]
    assert document["tools"] == "mine.csv" and [t["id"] for t in document["cutters"]] == ["E6"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--from", "up"), "no direction"),
        (("--limits", "warn"), "no limit"),
        (("--limits", "warn=soon"), "warn"),
        (("--cutters", "nosuch"), "no cutter 'nosuch'"),
    ],
)
def test_wrong_options_are_refused(call: Callable[..., Any], options: tuple[str, ...], words: str) -> None:
    done = call(2, "reach", str(MODELS / "balance_weight.step"), *options)
    assert words in done.stderr


def test_the_summary_fits_a_hundred_columns(call: Callable[..., Any]) -> None:
    done = call(None, "reach", str(MODELS / "encoder_cover.step"))
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 100
    assert any("By feature" in line for line in lines) and any("Cautions" in line for line in lines)


def test_features_and_reach_come_from_one_reading() -> None:
    from recognizer import reach, recognize
    from recognizer.access import features_and_reach

    path = MODELS / "balance_weight.step"
    features, document = features_and_reach(path)
    assert features.to_json() == recognize(path).to_json()
    assert document.to_json() == reach(path).to_json()
