"""All that is found out about one part, in the process that reads it: bytes in, documents out.

Front doors that serve many parts (batch, HTTP) send a Study to a worker process, here or on another machine, so what
it needs travels with it: the job and the bytes of the files that the job names.
"""

from __future__ import annotations

import json
import tempfile
from dataclasses import dataclass, field
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from shared.features import FeaturesDocument
from shared.plan import Job

ROOMS = ("recognizer", "planner", "shared", "service")


@dataclass(frozen=True)
class Attachment:
    """A file that a job names: the job's field, the file's name and its bytes."""

    field: str
    name: str
    data: bytes


@dataclass(frozen=True)
class Study:
    """What is wanted of each part. job: the Job as JSON text, or None for features only."""

    job: str | None = None
    attachments: tuple[Attachment, ...] = field(default_factory=tuple)

    def fingerprint(self) -> str:
        """Names what the answer depends on beside the part: the job, its files and the code that computes."""
        digest = sha256((self.job or "features only").encode())
        for a in self.attachments:
            digest.update(f"\0{a.field}\0{a.name}\0{sha256(a.data).hexdigest()}".encode())
        digest.update(code_fingerprint().encode())
        return digest.hexdigest()


def study_of(job: Job | None) -> Study:
    """The study of a job, with the files it names read in. Raises OSError where one cannot be read."""
    if job is None:
        return Study()
    attachments = [
        Attachment(name, Path(value).name, Path(value).read_bytes())
        for name in FILE_FIELDS
        if (value := getattr(job, name, None)) and Path(str(value)).is_file()
    ]
    return Study(job.to_json(), tuple(attachments))


FILE_FIELDS = ("tools", "machine", "material_file", "notes")
"""Fields of a Job that may hold the path of a file."""


@cache
def code_fingerprint() -> str:
    """Of all our code and tables: results of another version are not taken for this one's."""
    root = Path(__file__).resolve().parent.parent
    digest = sha256()
    for room in ROOMS:
        for path in sorted((root / room).rglob("*")):
            if path.suffix in (".py", ".csv"):
                digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def study_part(data: bytes, name: str, study: Study) -> dict[str, str]:
    """The documents of one part as JSON text by name: features, and plan where the study has a job.

    Raises what features_text() and plan_text() raise. Runs in a worker process.
    """
    out = {"features": features_text(data, name)}
    if study.job is not None:
        out["plan"] = plan_text(out["features"], study)
    return out


def features_text(data: bytes, name: str, solid: int | None = None) -> str:
    """The features document as JSON text.

    data: the STEP file's bytes. name: its file name, as the document says it. Raises what recognize() raises. Runs in
    a worker process.
    """
    from recognizer import recognize

    with tempfile.TemporaryDirectory(prefix="sidewise-") as scratch:
        path = Path(scratch) / "part.step"
        path.write_bytes(data)
        document = recognize(path, solid=solid)
    return document.model_copy(update={"part": document.part.model_copy(update={"file": name})}).to_json()


def mesh_bytes(data: bytes, solid: int | None = None) -> bytes:
    """The part as triangles and lines (shared/mesh.py). Runs in a worker process."""
    from recognizer.kernel.mesh import read_mesh

    with tempfile.TemporaryDirectory(prefix="sidewise-") as scratch:
        path = Path(scratch) / "part.step"
        path.write_bytes(data)
        return read_mesh(path, solid=solid).to_bytes()


def plan_text(features: str, study: Study) -> str:
    """The plan document as JSON text, from the features document's JSON text. Raises what plan() raises."""
    from planner import plan

    with tempfile.TemporaryDirectory(prefix="sidewise-") as scratch:
        return plan(FeaturesDocument.from_json(features), _job(study, Path(scratch))).to_json()


def _job(study: Study, scratch: Path) -> Job:
    """The study's job, its files laid in a folder of their own, each under its own name."""
    values: dict[str, Any] = json.loads(study.job or "{}")
    for a in study.attachments:
        folder = scratch / a.field
        folder.mkdir()
        path = folder / (Path(a.name).name or a.field)
        path.write_bytes(a.data)
        values[a.field] = str(path)
    return Job.model_validate(values)
