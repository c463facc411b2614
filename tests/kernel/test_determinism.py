"""The same file gives the same bytes: in another process, and whatever order Python hashes strings in."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
PARTS = [str(ROOT / "models" / f"{name}.step") for name in ("bearing_block", "encoder_cover", "dovetail_clamp")]
PROGRAM = """
import sys
from recognizer import recognize
for path in sys.argv[1:]:
    print(recognize(path).model_dump_json())
"""


def test_another_process_and_hash_seed_give_the_same_bytes() -> None:
    runs = []
    for seed, paths in (("1", PARTS), ("77", PARTS), ("random", PARTS[::-1])):
        done = subprocess.run(
            [sys.executable, "-c", PROGRAM, *paths],
            cwd=ROOT, env=os.environ | {"PYTHONHASHSEED": seed}, capture_output=True, check=True,
        )  # fmt: skip
        runs.append(done.stdout.splitlines())
    assert len(runs[0]) == 3 and all(len(line) > 1000 for line in runs[0])
    assert runs[0] == runs[1] == runs[2][::-1]
