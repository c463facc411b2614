"""The checker knows no solver and no recipe: it imports only the shared vocabulary and itself."""

from __future__ import annotations

import ast
from pathlib import Path

import planner

ROOT = Path(planner.__file__).parent


def imports(path):
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def test_checker_imports_shared_only():
    files = [ROOT / "checker.py", *(ROOT / "checks").glob("*.py")]
    assert len(files) > 5
    for path in files:
        ours = {m for m in imports(path) if m.split(".")[0] in ("planner", "recognizer", "service")}
        assert all(m.startswith("planner.checks") for m in ours), f"{path.name} imports {ours}"
