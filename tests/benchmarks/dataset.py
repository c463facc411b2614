"""Labelled parts on disk, in the forms of `../shared/benchmarks`.

A dataset is a directory (or a zip file) with `<stem>.step` files, plain or in `*.zip`, and label files beside them:
`*labels*.json` {stem: [label of face 0, ...]} and optionally `*instances*.json` {stem: [[class, [face, ...]], ...]}.
"""

from __future__ import annotations

import json
import zipfile
from dataclasses import dataclass
from pathlib import Path

from recognizer import recognize
from shared.features import FeaturesDocument

STEP_ENDINGS = (".step", ".stp")


@dataclass(frozen=True)
class Case:
    """One labelled part: file, label of each face, and the instances where they are known."""

    stem: str
    path: Path
    labels: tuple[str, ...]
    instances: tuple[tuple[str, frozenset[int]], ...] | None


class NoLabels(Exception):
    """The path holds no labelled STEP parts; the message says what was looked for."""


def recognize_labelled(path: str) -> FeaturesDocument:
    """Features of a labelled part. The faces of a few cross each other: they bear labels and are scored all the same,
    while everything that plans refuses such a solid."""
    return recognize(path, may_cross=True)


def load(path: Path, scratch: Path, limit: int | None = None) -> list[Case]:
    """Labelled parts under `path`, sorted by stem; zipped ones are unpacked into `scratch`. Raises NoLabels."""
    if not path.exists():
        raise NoLabels(f"{path} does not exist")
    folder = path if path.is_dir() else path.parent
    labels = _merged(folder, "*labels*.json")
    if not labels:
        raise NoLabels(f"no *labels*.json in {folder}")
    instances = _merged(folder, "*instances*.json")
    files = _plain(path)
    members = _zipped(path)
    stems = sorted(set(labels) & (set(files) | set(members)))[:limit]
    if not stems:
        raise NoLabels(f"{path} holds none of the {len(labels)} labelled STEP files, plain or in a zip")
    return [
        Case(s, files.get(s) or _unpack(members[s], scratch), tuple(labels[s]), _instances(instances.get(s)))
        for s in stems
    ]


def _instances(rows: list | None) -> tuple[tuple[str, frozenset[int]], ...] | None:
    return None if rows is None else tuple((name, frozenset(faces)) for name, faces in rows)


def _merged(folder: Path, pattern: str) -> dict:
    found: dict = {}
    for directory in (folder, folder.parent):
        for file in sorted(directory.glob(pattern)):
            found.update(json.loads(file.read_text()))
        if found:
            return found
    return found


def _plain(path: Path) -> dict[str, Path]:
    if path.is_file():
        return {path.stem: path} if path.suffix.lower() in STEP_ENDINGS else {}
    return {f.stem: f for f in sorted(path.rglob("*")) if f.suffix.lower() in STEP_ENDINGS}


def _zipped(path: Path) -> dict[str, tuple[Path, str]]:
    archives = [path] if path.suffix.lower() == ".zip" else sorted(path.glob("*.zip")) if path.is_dir() else []
    return {
        Path(name).stem: (archive, name)
        for archive in archives
        for name in zipfile.ZipFile(archive).namelist()
        if name.lower().endswith(STEP_ENDINGS)
    }


def _unpack(member: tuple[Path, str], scratch: Path) -> Path:
    archive, name = member
    with zipfile.ZipFile(archive) as opened:
        return Path(opened.extract(name, scratch / archive.stem))
