"""Results on the disk: each part in a folder of its own, whole or not at all, and found again by the next run.

DIR/parts/<key>/features.json, plan.json   the documents
DIR/parts/<key>/result.json                written last: while it is missing, the part is not done
"""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

RESULT = "result.json"


@dataclass(frozen=True)
class Result:
    """What came of one part.

    sha256: of the file's bytes, empty where they could not be read. study: fingerprint of the job and the code. row:
    its columns in the table. error: code, message, hint, where and exit_code, or None.
    """

    key: str
    sha256: str
    study: str
    row: dict[str, Any] = field(default_factory=dict)
    error: dict[str, Any] | None = None


class Ledger:
    """The results under one folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.parts = folder / "parts"

    def find(self, key: str, sha256: str, study: str) -> Result | None:
        """The result of an earlier run, if it is of the same bytes, job and code."""
        try:
            found = Result(**json.loads((self.parts / key / RESULT).read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError):
            return None
        return found if (found.key, found.sha256, found.study) == (key, sha256, study) else None

    def keep(self, result: Result, documents: dict[str, str]) -> None:
        """Writes a result and its documents. Raises OSError (a full disk); then the part is not done."""
        folder = self.parts / result.key
        folder.mkdir(parents=True, exist_ok=True)
        (folder / RESULT).unlink(missing_ok=True)  # from here until the end the part is not done
        for old in folder.glob("*.json"):
            old.unlink()
        for name, text in sorted(documents.items()):
            write_whole(folder / f"{name}.json", text.encode())
        write_whole(folder / RESULT, (json.dumps(asdict(result), indent=2, ensure_ascii=False) + "\n").encode())


def write_whole(path: Path, data: bytes) -> None:
    """Writes a file whole or not at all, so that a power cut or a full disk leaves no half of one."""
    part = path.with_name(path.name + ".part")
    try:
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
