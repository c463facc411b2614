"""Recognition in worker processes that may hang or die: each part has its own time limit.

Workers are plain subprocesses that answer one JSON line for each path, so that the recognizer inside may start
processes of its own. A worker that crashes or runs out of time is replaced and the part is named.
"""

from __future__ import annotations

import importlib
import json
import queue
import subprocess
import sys
import threading
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

DEFAULT_RECOGNIZER = "recognizer:recognize"


@dataclass
class Answer:
    """What recognition of one part gave: face count, segments, or an error; wall seconds."""

    faces: int = 0
    segments: list[dict] = field(default_factory=list)
    error: str | None = None
    seconds: float = 0.0


def find(name: str) -> Callable[[str], Any]:
    """The function named `module:function`. Raises ImportError with a message that says what is missing."""
    module, _, function = name.partition(":")
    try:
        return getattr(importlib.import_module(module), function or "recognize")
    except (ImportError, AttributeError) as e:
        raise ImportError(f"cannot use {name}: {e}") from e


def run(paths: list[Path], recognizer: str, workers: int, timeout_s: float) -> list[Answer]:
    """Answers in the order of `paths`, found by `workers` processes."""
    answers: list[Answer] = [Answer(error="not run") for _ in paths]
    todo: queue.SimpleQueue[int] = queue.SimpleQueue()
    for i in range(len(paths)):
        todo.put(i)

    def serve() -> None:
        worker = _Worker(recognizer)
        while True:
            try:
                i = todo.get_nowait()
            except queue.Empty:
                worker.stop()
                return
            answers[i] = worker.ask(paths[i], timeout_s)

    threads = [threading.Thread(target=serve) for _ in range(max(1, min(workers, len(paths))))]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    return answers


class _Worker:
    def __init__(self, recognizer: str) -> None:
        self.recognizer = recognizer
        self.process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.benchmarks.pool", self.recognizer],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            bufsize=1,
        )
        self._read()  # the greeting: imports take seconds and belong to no part

    def ask(self, path: Path, timeout_s: float) -> Answer:
        if self.process is None:
            self.start()
        assert self.process is not None and self.process.stdin is not None
        begin = time.perf_counter()
        timer = threading.Timer(timeout_s, self.process.kill)
        timer.start()
        try:
            self.process.stdin.write(f"{path}\n")
            self.process.stdin.flush()
            line = self._read()
        except BrokenPipeError:
            line = ""
        timer.cancel()
        seconds = time.perf_counter() - begin
        if line:
            return Answer(**json.loads(line), seconds=seconds)
        code = self.process.wait()
        self.process = None
        said = f"no answer in {timeout_s:g} s" if seconds >= timeout_s else f"worker died with exit code {code}"
        return Answer(error=said, seconds=seconds)

    def _read(self) -> str:
        assert self.process is not None and self.process.stdout is not None
        return self.process.stdout.readline()

    def stop(self) -> None:
        if self.process is not None and self.process.stdin is not None:
            self.process.stdin.close()
            self.process.wait()


def _answer(recognize: Callable[[str], Any], path: str) -> dict:
    from tests.benchmarks.classes import segments

    try:
        document = recognize(path)
        return {"faces": len(document.faces), "segments": segments(document)}
    except Exception as e:  # noqa: BLE001 - whatever a part raises is that part's result
        last = traceback.extract_tb(e.__traceback__)[-1]
        return {"error": f"{type(e).__name__}: {e} ({Path(last.filename).name}:{last.lineno})"}


def main() -> None:
    """Worker: reads one path a line, writes one JSON line for each; anything else that is printed goes to stderr."""
    out = sys.stdout
    sys.stdout = sys.stderr
    recognize = find(sys.argv[1])
    print("ready", file=out, flush=True)
    for line in sys.stdin:
        print(json.dumps(_answer(recognize, line.rstrip("\n"))), file=out, flush=True)


if __name__ == "__main__":
    main()
