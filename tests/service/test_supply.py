"""What Sidewise is made of, and what it talks to: bounded and locked dependencies, no network at run time."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
EXTRAS = PROJECT["optional-dependencies"]
DIRECT = [Requirement(text) for text in (*PROJECT["dependencies"], *(r for rows in EXTRAS.values() for r in rows))]
PINNED = dict(line.split("==") for line in (ROOT / ".ci" / "constraints.txt").read_text().split())
LOCKED = {canonicalize_name(name): version for name, version in PINNED.items()}
WATCH = """
import sys
def watch(event, arguments):
    if event == "socket.connect" and arguments[0].family != 1 and arguments[1][0] not in ("127.0.0.1", "::1"):
        raise RuntimeError(f"a connection to {arguments[1]}")
    if event == "socket.getaddrinfo" and arguments[0] not in ("localhost", "127.0.0.1", "::1", None):
        raise RuntimeError(f"a look-up of {arguments[0]}")
sys.addaudithook(watch)
"""


@pytest.mark.parametrize("requirement", DIRECT, ids=lambda r: r.name)
def test_every_dependency_is_bounded_on_both_sides_and_locked_inside_its_bounds(requirement: Requirement) -> None:
    kinds = {specifier.operator for specifier in requirement.specifier}
    assert kinds & {">=", "=="} and kinds & {"<", "==", "<="}
    assert requirement.specifier.contains(LOCKED[canonicalize_name(requirement.name)])


def test_what_the_dependencies_need_is_locked_too() -> None:
    ahead = [canonicalize_name(r.name) for r in DIRECT]
    seen: set[str] = set()
    while ahead:
        name = ahead.pop()
        if name in seen:
            continue
        seen.add(name)
        try:
            needed = [Requirement(text) for text in requires(name) or []]
        except PackageNotFoundError:
            continue  # not installed here: the lock itself says what CI installs
        needed = [r for r in needed if r.marker is None or r.marker.evaluate({"extra": ""})]
        assert {canonicalize_name(r.name) for r in needed} <= LOCKED.keys(), name
        ahead += [canonicalize_name(r.name) for r in needed]


def test_the_pages_packages_are_locked_by_their_hashes() -> None:
    lock = json.loads((ROOT / "service" / "page" / "package-lock.json").read_text())
    packages = {name: p for name, p in lock["packages"].items() if name}
    assert {"node_modules/three", "node_modules/vite"} <= packages.keys()
    for name, package in packages.items():
        assert re.fullmatch(r"\d+\.\d+\.\d+[\w.-]*", package["version"]), name
        assert package["integrity"].startswith("sha512-"), name


def test_no_network_is_asked_for_while_a_part_is_planned(tmp_path: Path) -> None:
    """Every process of the command, workers too, refuses a look-up of a name or a connection beyond this machine."""
    (tmp_path / "sitecustomize.py").write_text(WATCH)
    env = os.environ | {"PYTHONPATH": f"{tmp_path}{os.pathsep}{ROOT}"}
    part = ROOT / "models" / "bearing_block.step"
    command = [sys.executable, "-m", "service.main", "plan", str(part), "-o", str(tmp_path / "plan.json")]
    subprocess.run(command, env=env, check=True, cwd=tmp_path, timeout=300)
    assert json.loads((tmp_path / "plan.json").read_text())["setups"]
    probe = "import socket; socket.create_connection(('192.0.2.1', 9), 1)"  # an address for documentation, RFC 5737
    told = subprocess.run([sys.executable, "-c", probe], env=env, capture_output=True, text=True, cwd=tmp_path)
    assert "a look-up of 192.0.2.1" in told.stderr, "the watch watches"
