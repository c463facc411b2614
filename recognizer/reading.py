"""STEP file -> snapshot or mesh: straight from the text where the part is plain, else by the kernel."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from recognizer.crossings import TOUCH_MM, crossings, face_boxes
from recognizer.plainread.read import plain_mesh, plain_shape, plain_snapshot
from recognizer.snapshot import Snapshot
from recognizer.stepfile import StepText, read_text
from recognizer.touching import touching_faces
from shared.errors import UnsoundSolid
from shared.mesh import Mesh
from shared.shape import Shape

MOST_NAMED = 3


@dataclass(frozen=True)
class PartRead:
    """A sound solid as plain records, and what its file says.

    unit: mm, inch, ... as written in the file; step_schema: AP203, AP214, AP242 or the schema's own name; solids,
    loose_faces: counts in the file. largest_gap: mm, the widest between an edge and its faces that the kernel had to
    bridge. shape: meshes the solid when it is called, None where the kernel cannot.
    """

    snapshot: Snapshot
    unit: str
    step_schema: str
    solids: int
    loose_faces: int
    sha256: str
    largest_gap: float
    shape: Callable[[], Shape | None]


def read_snapshot(path: str | Path | bytes, solid: int | None = None, *, may_cross: bool = False) -> PartRead:
    """The one solid of a STEP file, given by its path or as its bytes, or the `solid`-th (from 1) of several.

    may_cross: a solid that goes through itself or touches itself is let through, for who asks what its faces look like
    and plans nothing. Raises NotStep, NoSolid, SeveralSolids or UnsoundSolid. The kernel, which reads what is not plain, may also crash
    or hang on a damaged file: call this in a worker process when the file comes from outside.
    """
    text = read_text(path)
    read = _plain_or_by_kernel(text, solid)
    if not may_cross:
        refuse_crossings(read.snapshot)
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
        return PartRead(snapshot, "mm", text.protocol, 1, 0, text.sha256, 0.0, lambda: _shape_of_text(text, known=True))
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
        read.largest_gap,
        lambda: shape_or_none(read.shape),
    )


def read_shape(path: str | Path, solid: int | None = None) -> Shape | None:
    """A STEP file's solid as one closed mesh; None where the kernel cannot mesh it. Raises what read_mesh() raises."""
    return _shape_of_text(read_text(Path(path)), solid)


def _shape_of_text(text: StepText, solid: int | None = None, *, known: bool = False) -> Shape | None:
    if solid in (None, 1) and (found := plain_shape(text, known=known)) is not None:
        return found
    from recognizer.kernel.read import solid_of
    from recognizer.kernel.shape import shape_or_none

    return shape_or_none(solid_of(text, solid).shape)


def refuse_crossings(snapshot: Snapshot) -> None:
    """Raises UnsoundSolid where the solid goes through itself, or where faces of it lie on each other."""
    boxes = face_boxes(snapshot)
    passing, touching = crossings(snapshot, boxes)
    through, lying_on = touching_faces(snapshot, boxes)
    crossed = _told(snapshot, passing, "passes through") | {
        f: f"{_named(snapshot, a)} passes through {_named(snapshot, f)}" for a, f in reversed(through)
    }
    if crossed:
        raise UnsoundSolid(
            f"The solid crosses itself: {_first_few(crossed)}.",
            "A cut or a boss goes farther than the part: repair the solid in the modelling program and export it again.",
        )
    touched = _told(snapshot, touching, "lies on") | {
        f: f"{_named(snapshot, a)} lies on {_named(snapshot, f)}" for a, f in reversed(lying_on)
    }
    if touched:
        raise UnsoundSolid(
            f"The solid touches itself: {_first_few(touched)}.",
            f"What is between them is no thicker than {TOUCH_MM:g} mm: give it a thickness or take it away in the "
            "modelling program and export the part again.",
        )


def _told(snapshot: Snapshot, found: list[tuple[int, int]], does: str) -> dict[int, str]:
    """By face, the first edge that does something to it, in words."""
    out: dict[int, str] = {}
    for edge, face in found:
        beside = " and ".join(_named(snapshot, f) for f in snapshot.edges[edge].faces)
        out.setdefault(face, f"an edge of {beside} {does} {_named(snapshot, face)}")
    return out


def _first_few(told: dict[int, str]) -> str:
    more = f" and {len(told) - MOST_NAMED} more" if len(told) > MOST_NAMED else ""
    return "; ".join(list(told.values())[:MOST_NAMED]) + more


def _named(snapshot: Snapshot, face: int) -> str:
    number = snapshot.faces[face].step_id
    return f"face {face}" + (f" (#{number})" if number else "")
