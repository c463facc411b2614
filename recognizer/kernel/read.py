"""STEP file -> one sound TopoDS_Solid with what the file says about it, or an error that says what to try."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

from OCP.IFSelect import IFSelect_ReturnStatus as Status
from OCP.Message import Message
from OCP.Resource import Resource_DataMapOfAsciiStringAsciiString
from OCP.STEPConstruct import STEPConstruct
from OCP.STEPControl import STEPControl_Reader
from OCP.TCollection import TCollection_AsciiString
from OCP.TColStd import TColStd_SequenceOfAsciiString
from OCP.TopAbs import TopAbs_FACE, TopAbs_SOLID
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS, TopoDS_Shape, TopoDS_Solid
from OCP.TopTools import TopTools_IndexedMapOfShape

from recognizer.kernel.failures import KERNEL_FAILURES
from recognizer.kernel.snapshot import snapshot_of
from recognizer.kernel.soundness import check_sound
from recognizer.snapshot import Snapshot
from recognizer.stepfile import StepText, read_text
from shared.errors import NoSolid, NotStep, SeveralSolids, UnsoundSolid

_WIRE_CROSSINGS = [
    "FixIntersectingWiresMode",
    "FixSelfIntersectionMode",
    "FixNonAdjacentIntersectingEdgesMode",
    "FixSelfIntersectingEdgeMode",
    "FixIntersectingEdgesMode",
    "FixNotchedEdgesMode",
    "FixTailMode",
]
"""Repairs of wires whose cost grows with the square of a face's edges; good files need none of them."""
_ORDER = [
    "FixSolidOrientationMode",
    "FixShellOrientationMode",
    "FixAddNaturalBoundMode",
    "FixSmallAreaWireMode",
    "FixLoopWiresMode",
    "FixSplitFaceMode",
    "FixReorderMode",
    "FixSmallMode",
]
"""Repairs of what a file says of directions and order. Whether it was right is what the soundness checks find out."""
_ALL_REPAIRS = [
    "FixSolidMode",
    "FixShellMode",
    "FixFaceMode",
    "FixWireMode",
    "FixFreeShellMode",
    "FixFreeFaceMode",
    "FixFreeWireMode",
    "FixSameParameterMode",
    "FixVertexPositionMode",
    "FixVertexToleranceMode",
]
"""The repairs that call all others. Plane faces between straight edges need none of them."""
_READINGS: dict[str, list[str]] = {
    "bare": _ALL_REPAIRS,
    "lean": [*_WIRE_CROSSINGS, *_ORDER, "FixOrientationMode"],
    "careful": _WIRE_CROSSINGS + _ORDER,
    "full": [],
}
"""Repairs left out in each way of reading. Each is checked the same; the next one is tried where the check fails."""

_UNITS = {"MILLIMETRE": "mm", "CENTIMETRE": "cm", "METRE": "m", "MICROMETRE": "um", "INCH": "inch", "FOOT": "ft"}
_SOLID_ENTITIES = (b"MANIFOLD_SOLID_BREP", b"BREP_WITH_VOIDS", b"FACETED_BREP")
_BOUNDED = (b"ADVANCED_FACE", b"FACE_SURFACE", b"FACETED_BREP", b"BREP", b"CLOSED_SHELL", b"OPEN_SHELL", b"CSG_SOLID")
_NO_SOLIDS = (
    ((b"TESSELLATED_", b"TRIANGULATED_"), "triangles (a tessellated model)"),
    ((b"CURVE_SET", b"WIREFRAME", b"EDGE_BASED_", b"POLYLINE"), "lines and curves (a wireframe)"),
)
"""What a file without any of the first may hold instead, by its records."""
_FACE_ENTITIES = (b"ADVANCED_FACE", b"FACE_SURFACE")


@dataclass(frozen=True)
class ReadSolid:
    """One sound solid and what its file says.

    unit: mm, cm, m, inch, ... as written in the file; the shape itself is in mm whatever the unit.
    step_schema: AP203, AP214 or AP242, else the schema's own name. solids, loose_faces: counts in the file; loose
    faces belong to no solid. step_ids: record number of each face in TopExp.MapShapes order, None where the kernel
    made the face itself. volume: mm3. largest_gap: mm, the widest gap between an edge and its faces or vertices that
    the kernel had to bridge. reading: bare, lean, careful or full, how much
    the kernel repaired. snapshot: the solid as plain records.
    """

    shape: TopoDS_Solid
    snapshot: Snapshot
    unit: str
    step_schema: str
    solids: int
    loose_faces: int
    step_ids: tuple[int | None, ...]
    volume: float
    sha256: str
    largest_gap: float = 0.0
    reading: str = "full"


def read_solid(path: str | Path, *, solid: int | None = None) -> ReadSolid:
    """The one solid of a STEP file, or the `solid`-th (from 1) of several, in mm.

    Raises NotStep, NoSolid, SeveralSolids or UnsoundSolid. The kernel may also crash or hang on a damaged file:
    call this in a worker process when the file comes from outside.
    """
    return solid_of(read_text(path), solid)


def solid_of(text: StepText, solid: int | None = None) -> ReadSolid:
    """The same of a text that was read before."""
    _refuse_what_is_no_solid(text)
    failure: UnsoundSolid | NoSolid | None = None
    for reading in ("bare", "lean", "careful") if text.polyhedral else ("lean", "careful"):
        try:
            return _read(text, solid, reading)
        except (UnsoundSolid, NoSolid) as error:  # perhaps only for want of repairs
            failure = error
    repaired = _read(text, solid, "full")
    if failure and None in repaired.step_ids:  # faces cut up where outlines cross: no longer the part that was drawn
        raise failure
    return repaired


def _read(text: StepText, chosen: int | None, reading: str) -> ReadSolid:
    reader = _transferred(text, _READINGS[reading])
    whole = reader.OneShape()
    solids = _parts(whole, TopAbs_SOLID) if not whole.IsNull() else []
    shape = _choose(solids, chosen, whole, text)
    faces = _map_of(shape, TopAbs_FACE)
    step_ids = _step_ids(reader, text, faces)
    soundness = check_sound(shape, faces, step_ids, lambda: snapshot_of(shape, step_ids))
    assert soundness.snapshot is not None
    in_solids = sum(_map_of(s, TopAbs_FACE).Extent() for s in solids)
    return ReadSolid(
        shape=shape,
        unit=_unit(reader),
        step_schema=text.protocol,
        solids=len(solids),
        loose_faces=max(0, _map_of(whole, TopAbs_FACE).Extent() - in_solids),
        step_ids=step_ids,
        snapshot=soundness.snapshot,
        volume=soundness.volume,
        sha256=text.sha256,
        largest_gap=soundness.largest_gap,
        reading=reading,
    )


def _transferred(text: StepText, left_out: list[str]) -> STEPControl_Reader:
    """A reader that has read the text and turned it into shapes."""
    _silence()
    reader = STEPControl_Reader()
    try:
        status = reader.ReadStream("part.step", io.BytesIO(text.data))
        if status != Status.IFSelect_RetDone:
            raise NotStep("The kernel cannot read the file's records.", "Export the model again.", str(status.name))
        if left_out:
            reader.SetShapeFixParameters(_switched_off(left_out))
        reader.TransferRoots()
    except KERNEL_FAILURES as failure:
        raise NotStep(
            f"The kernel gave up on the file: {type(failure).__name__}.",
            "The model is damaged: repair it in the program it came from and export it again.",
        ) from None
    return reader


def _switched_off(repairs: list[str]) -> Resource_DataMapOfAsciiStringAsciiString:
    parameters = Resource_DataMapOfAsciiStringAsciiString()
    for name in repairs:
        parameters.Bind(TCollection_AsciiString(f"FixShape.{name}"), TCollection_AsciiString("0"))
    return parameters


def _silence() -> None:
    """No kernel messages on standard output: it is ours for JSON."""
    messenger = Message.DefaultMessenger_s()
    for printer in list(messenger.Printers()):
        messenger.RemovePrinter(printer)


def _parts(shape: TopoDS_Shape, kind: object) -> list[TopoDS_Shape]:
    found = _map_of(shape, kind)
    return [found.FindKey(i) for i in range(1, found.Extent() + 1)]


def _map_of(shape: TopoDS_Shape, kind: object) -> TopTools_IndexedMapOfShape:
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, kind, found)
    return found


def _choose(solids: list[TopoDS_Shape], chosen: int | None, whole: TopoDS_Shape, text: StepText) -> TopoDS_Solid:
    if not solids:
        _raise_no_solid(whole, text)
    if chosen is None and len(solids) > 1:
        raise SeveralSolids(
            f"The file holds {len(solids)} solids; Sidewise plans one part at a time.",
            f"Choose one with --solid N (1 to {len(solids)}), or export the one part alone.",
        )
    if chosen is not None and not 1 <= chosen <= len(solids):
        raise SeveralSolids(
            f"There is no solid {chosen}: the file holds {len(solids)}.", "Choose another with --solid N."
        )
    return TopoDS.Solid_s(solids[(chosen or 1) - 1])


def _refuse_what_is_no_solid(text: StepText) -> None:
    """Raises NoSolid for files of triangles or curves alone, on some of which the kernel crashes."""
    if any(mark in text.plain for mark in _BOUNDED):
        return
    for marks, what in _NO_SOLIDS:
        if any(mark in text.plain for mark in marks):
            raise NoSolid(
                f"The file holds {what} and no solid.", "Export the part as a solid with exact faces (B-rep)."
            )


def _raise_no_solid(whole: TopoDS_Shape, text: StepText) -> None:
    faces = 0 if whole.IsNull() else _map_of(whole, TopAbs_FACE).Extent()
    named = any(text.records_of(keyword) for keyword in _SOLID_ENTITIES)
    if faces and named:
        raise UnsoundSolid(
            f"The solid is open: its {faces} faces enclose nothing.",
            "A face is missing or not joined: close (stitch) the surfaces in the modelling program and export again.",
        )
    if faces:
        raise NoSolid(
            f"The file holds no solid, only {faces} surfaces.",
            "Join (stitch) the surfaces to a closed solid in the modelling program and export it as a solid.",
        )
    if named:
        raise NoSolid(
            "The file names a solid, but the kernel cannot build it.",
            "Its faces are damaged or missing: repair the model and export it again.",
        )
    raise NoSolid("The file holds no solid and no faces.", "Export the part as a solid, not as a sketch or drawing.")


def _step_ids(reader: STEPControl_Reader, text: StepText, faces: TopTools_IndexedMapOfShape) -> tuple[int | None, ...]:
    """Record numbers by face; the kernel numbers its entities in file order, so no name look-up is needed."""
    found: list[int | None] = [None] * faces.Extent()
    model, process = reader.WS().Model(), reader.WS().TransferReader().TransientProcess()
    if model.NbEntities() != len(text.records.ids):
        return tuple(found)
    for keyword in _FACE_ENTITIES:
        for place, number in text.records_of(keyword):
            face = STEPConstruct.FindShape_s(process, model.Value(place + 1))
            index = 0 if face.IsNull() else faces.FindIndex(face)
            if index:
                found[index - 1] = number
    return tuple(found)


def _unit(reader: STEPControl_Reader) -> str:
    lengths, angles, solid_angles = (TColStd_SequenceOfAsciiString() for _ in range(3))
    reader.FileUnits(lengths, angles, solid_angles)
    if not lengths.Length():
        return "mm"
    name = lengths.Value(1).ToCString().upper()
    return _UNITS.get(name, name.lower())
