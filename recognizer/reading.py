"""STEP file -> snapshot: straight from the text where the part is plain, else by the kernel."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from recognizer.plainread.read import plain_snapshot
from recognizer.snapshot import Snapshot
from recognizer.stepfile import StepText, read_text
from shared.shape import Shape


@dataclass(frozen=True)
class PartRead:
    """A sound solid as plain records, and what its file says.

    unit: mm, inch, ... as written in the file; step_schema: AP203, AP214, AP242 or the schema's own name; solids,
    loose_faces: counts in the file. shape: meshes the solid when it is called, None where the kernel cannot.
    """

    snapshot: Snapshot
    unit: str
    step_schema: str
    solids: int
    loose_faces: int
    sha256: str
    shape: Callable[[], Shape | None]


def read_snapshot(path: Path, solid: int | None = None) -> PartRead:
    """The one solid of a STEP file, or the `solid`-th (from 1) of several.

    Raises NotStep, NoSolid, SeveralSolids or UnsoundSolid. The kernel, which reads what is not plain, may also crash
    or hang on a damaged file: call this in a worker process when the file comes from outside.
    """
    text = read_text(path)
    snapshot = plain_snapshot(text) if solid in (None, 1) else None
    if snapshot is not None:
        return PartRead(snapshot, "mm", text.protocol, 1, 0, text.sha256, lambda: _shape_of_text(text))
    from recognizer.kernel.read import solid_of
    from recognizer.kernel.shape import shape_or_none

    read = solid_of(text, solid)
    return PartRead(
        read.snapshot,
        read.unit,
        read.step_schema,
        read.solids,
        read.loose_faces,
        read.sha256,
        lambda: shape_or_none(read.shape),
    )


def _shape_of_text(text: StepText) -> Shape | None:
    from recognizer.kernel.read import solid_of
    from recognizer.kernel.shape import shape_or_none

    return shape_or_none(solid_of(text).shape)
