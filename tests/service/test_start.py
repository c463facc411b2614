"""`sidewise --help` answers at once: nothing heavy is imported for it."""

from __future__ import annotations

import subprocess
import sys

HEAVY = ("OCP", "ortools", "numpy", "cadquery", "networkx", "shapely", "pydantic", "pebble")


def test_help_imports_no_kernel_no_solver_no_numpy() -> None:
    command = [sys.executable, "-X", "importtime", "-m", "service.main", "--help"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True)
    imported = {line.rpartition("|")[2].strip().partition(".")[0] for line in done.stderr.splitlines()}
    assert "typer" in imported
    assert not imported.intersection(HEAVY)
    assert {"features", "plan", "schema"} <= set(done.stdout.split())


def test_version_is_the_packages() -> None:
    from importlib.metadata import version

    command = [sys.executable, "-m", "service.main", "--version"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout == f"sidewise {version('sidewise')}\n"
