"""STEP file -> snapshot or mesh: straight from the text where the part is plain, else by the kernel."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from recognizer.crossings import crossings
from recognizer.plainread.read import plain_mesh, plain_snapshot
from recognizer.snapshot import Snapshot
from recognizer.stepfile import StepText, read_text
from shared.errors import UnsoundSolid
from shared.mesh import Mesh
from shared.shape import Shape

MOST_NAMED = 3


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


def read_snapshot(path: str | Path | bytes, solid: int | None = None) -> PartRead:
    """The one solid of a STEP file, given by its path or as its bytes, or the `solid`-th (from 1) of several.

    Raises NotStep, NoSolid, SeveralSolids or UnsoundSolid. The kernel, which reads what is not plain, may also crash
    or hang on a damaged file: call this in a worker process when the file comes from outside.
    """
    text = read_text(path)
    read = _plain_or_by_kernel(text, solid)
    _refuse_crossings(read.snapshot)
    return read


def read_mesh(path: str | Path, solid: int | None = None) -> Mesh:
    """Triangles and edges of a STEP file's solid, for pictures. Raises what read_snapshot() raises, but for a solid that
    crosses itself: that can be drawn."""
    text = read_text(Path(path))
    found = plain_mesh(text) if solid in (None, 1) else None
    if found is not None:
        return found
    from recognizer.kernel.mesh import mesh_of
    from recognizer.kernel.read import solid_of

    return mesh_of(solid_of(text, solid).shape)


def _plain_or_by_kernel(text: StepText, solid: int | None) -> PartRead:
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


def _refuse_crossings(snapshot: Snapshot) -> None:
    found = crossings(snapshot)
    if not found:
        return
    named: dict[int, str] = {}
    for edge, face in found:
        beside = " and ".join(_named(snapshot, f) for f in snapshot.edges[edge].faces)
        named.setdefault(face, f"an edge of {beside} passes through {_named(snapshot, face)}")
    places = "; ".join(list(named.values())[:MOST_NAMED])
    more = f" and {len(named) - MOST_NAMED} more" if len(named) > MOST_NAMED else ""
    raise UnsoundSolid(
        f"The solid crosses itself: {places}{more}.",
        "A cut or a boss goes farther than the part: repair the solid in the modelling program and export it again.",
    )


def _named(snapshot: Snapshot, face: int) -> str:
    number = snapshot.faces[face].step_id
    return f"face {face}" + (f" (#{number})" if number else "")
