"""Every kind of feature is there from end to end: a rule, a recipe, a demo part, and a row in both tables."""

from __future__ import annotations

import ast
import inspect
import re
from functools import cache
from pathlib import Path
from typing import get_args

import pytest

from models import PARTS
from planner.recipes import RECIPES
from recognizer.families import FAMILIES
from shared.features import Kind
from tests.demo.truth import record_of

ROOT = Path(__file__).parents[1]
KINDS = get_args(Kind)


@cache
def rows(document: str) -> dict[str, list[str]]:
    """Cells by kind of the document's table whose rows begin with a kind in backquotes."""
    text = (ROOT / document).read_text(encoding="utf-8")
    found = re.findall(r"^\| `(\w+)` \|(.*)\|$", text, re.MULTILINE)
    return {kind: [cell.strip().strip("`") for cell in cells.split("|")] for kind, cells in found if kind in KINDS}


@cache
def named_in(path: Path) -> set[str]:
    """The texts that stand in quotes in a Python file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)}


@pytest.mark.parametrize("kind", KINDS)
def test_kind_has_a_rule_that_runs_and_names_it(kind: str) -> None:
    rule = ROOT / rows("DEVELOPERS.md")[kind][0]
    assert rule in {Path(inspect.getsourcefile(family) or "") for family in FAMILIES}
    assert kind in named_in(rule)


@pytest.mark.parametrize("kind", KINDS)
def test_kind_has_a_recipe(kind: str) -> None:
    recipe = ROOT / rows("DEVELOPERS.md")[kind][1]
    assert recipe == Path(inspect.getsourcefile(RECIPES[kind]) or "")


@pytest.mark.parametrize("kind", KINDS)
def test_kind_is_cut_into_the_demo_part_that_the_table_names(kind: str) -> None:
    """tests/demo proves that the recognizer finds exactly what the records say."""
    part = rows("DEVELOPERS.md")[kind][2]
    assert part in PARTS and not record_of(part)["ambiguous"]
    assert kind in {entry["kind"] for entry in record_of(part)["features"]}


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_tables_name_every_kind(document: str) -> None:
    assert set(rows(document)) == set(KINDS)
