"""Whether a solid is sound enough to plan on: closed, right side out, of sensible size, valid face by face."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.ShapeAnalysis import ShapeAnalysis_ShapeTolerance, ShapeAnalysis_Shell
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_FORWARD, TopAbs_REVERSED, TopAbs_SHELL
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Compound, TopoDS_Shape, TopoDS_Solid
from OCP.TopTools import TopTools_IndexedMapOfShape

from recognizer.inside_out import turned_faces
from recognizer.kernel.failures import KERNEL_FAILURES
from recognizer.kernel.plain_check import doubtful_faces
from recognizer.pieces import check_one_piece
from recognizer.snapshot import Snapshot
from shared.errors import UnsoundSolid

LARGEST_MM = 100_000.0
SMALLEST_MM = 0.1
THINNEST_SHARE = 1e-7
"""A solid that fills less of its box's cubed diagonal than this has no thickness: a 100 mm plate of 0.3 um."""

WIDEST_GAP_MM, WIDEST_GAP_SHARE = 0.05, 2e-4
"""Edges and faces that miss each other by more than this, mm and share of the solid's size, are no solid: what is cut
after one of them would not fit the other."""

_NAMED = 5
UNMEASURED: tuple[type[Exception], ...] = (ArithmeticError, ValueError, *KERNEL_FAILURES)
"""What taking figures of a damaged solid raises."""


@dataclass(frozen=True)
class Soundness:
    """A sound solid: volume in mm3; widest gap in mm that the kernel bridged between faces and edges; its snapshot."""

    volume: float
    largest_gap: float
    snapshot: Snapshot | None = None


def check_sound(
    solid: TopoDS_Solid,
    faces: TopTools_IndexedMapOfShape,
    step_ids: Sequence[int | None],
    taken: Callable[[], Snapshot] | None = None,
) -> Soundness:
    """Figures of a sound solid. Raises UnsoundSolid naming what is wrong and, where known, the faces.

    faces: the solid's faces in MapShapes order; step_ids: their record numbers; taken: takes the solid's snapshot,
    asked once the solid is known to be closed. Checked, cheapest first: size, gaps, closed and consistently oriented
    shells, positive volume, one piece, and validity of every vertex, edge, wire and face: by the snapshot's figures where these
    are plain, else by the kernel.
    """
    diagonal = _check_size(solid)
    gap = _check_gaps(solid, diagonal)
    _check_closed(solid, faces, step_ids)
    try:
        snapshot = taken() if taken else None
    except UNMEASURED as failure:  # the kernel may say what is wrong
        _check_valid(solid, faces, step_ids, None)
        raise UnsoundSolid(
            f"A face or edge of the solid cannot be measured ({type(failure).__name__}).",
            "Check and repair the solid in the modelling program, then export it again.",
        ) from None
    volume = snapshot.volume if snapshot else _volume(solid)
    _check_volume(volume, diagonal)
    if snapshot:
        check_one_piece(snapshot)
        _check_sides(snapshot, step_ids)
    doubtful = doubtful_faces(snapshot) if snapshot and _shells(solid) == 1 else None
    if doubtful is None or doubtful:
        _check_valid(solid, faces, step_ids, doubtful)
    return Soundness(volume, gap, snapshot)


def _check_size(solid: TopoDS_Solid) -> float:
    box = Bnd_Box()
    BRepBndLib.Add_s(solid, box, False)
    if box.IsVoid():
        raise UnsoundSolid("The solid has no extent.", "Export the model again.")
    low, high = box.CornerMin(), box.CornerMax()
    diagonal = low.Distance(high)
    if box.IsOpen() or not diagonal <= LARGEST_MM:
        raise UnsoundSolid(
            f"The solid is absurdly large: {diagonal / 1000:.6g} m across; the limit is {LARGEST_MM / 1000:g} m.",
            "Check the length unit that the file was exported in.",
        )
    if diagonal < SMALLEST_MM:
        raise UnsoundSolid(
            f"The solid is absurdly small: {diagonal:.3g} mm across; the limit is {SMALLEST_MM:g} mm.",
            "Check the length unit that the file was exported in.",
        )
    return diagonal


def _check_gaps(solid: TopoDS_Solid, diagonal: float) -> float:
    gap = ShapeAnalysis_ShapeTolerance().Tolerance(solid, 1)
    if gap > WIDEST_GAP_MM + WIDEST_GAP_SHARE * diagonal:
        raise UnsoundSolid(
            f"The solid's faces and edges do not meet: gaps of up to {gap:.3g} mm.",
            "The model is damaged or was scaled in part: repair it in the modelling program and export it again.",
        )
    return gap


def _check_closed(solid: TopoDS_Solid, faces: TopTools_IndexedMapOfShape, step_ids: Sequence[int | None]) -> None:
    """Every edge is used as often forwards as backwards; four faces on one edge (pockets that touch) are fine."""
    shells = ShapeAnalysis_Shell()
    shells.CheckOrientedShells(solid, True, False)
    if not shells.HasFreeEdges() and not shells.HasBadEdges():
        return
    balance, uses, owners = _edge_balance(solid, faces)
    unpaired = [edge for edge, sum_ in balance.items() if sum_]
    if not unpaired:
        return
    where = _name_faces({f for edge in unpaired for f in owners[edge]}, step_ids)
    if any(uses[edge] % 2 for edge in unpaired):
        raise UnsoundSolid(
            f"The solid is open: {_count(len(unpaired), 'edge')} with no neighbour on one side.",
            "A face is missing or not joined: close (stitch) the surfaces in the modelling program and export again.",
            where,
        )
    raise UnsoundSolid(
        f"The solid's faces contradict each other: neighbours face opposite ways at {_count(len(unpaired), 'edge')}.",
        "Repair the solid (make its normals consistent) in the modelling program and export again.",
        where,
    )


def _edge_balance(
    solid: TopoDS_Solid, faces: TopTools_IndexedMapOfShape
) -> tuple[Counter[int], Counter[int], dict[int, set[int]]]:
    """By edge: forward minus backward uses, number of uses, and the faces that use it."""
    edges = TopTools_IndexedMapOfShape()
    balance: Counter[int] = Counter()
    uses: Counter[int] = Counter()
    owners: dict[int, set[int]] = {}
    walk = TopExp_Explorer(solid, TopAbs_FACE)
    while walk.More():
        face = walk.Current()
        number = faces.FindIndex(face) - 1
        inner = TopExp_Explorer(face, TopAbs_EDGE)
        while inner.More():
            edge = inner.Current()
            side = {TopAbs_FORWARD: 1, TopAbs_REVERSED: -1}.get(edge.Orientation(), 0)
            if side and not BRep_Tool.Degenerated_s(TopoDS.Edge_s(edge)):
                key = edges.Add(edge)
                balance[key] += side
                uses[key] += 1
                owners.setdefault(key, set()).add(number)
            inner.Next()
        walk.Next()
    return balance, uses, owners


def _shells(solid: TopoDS_Solid) -> int:
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(solid, TopAbs_SHELL, found)
    return found.Extent()


def _volume(solid: TopoDS_Solid) -> float:
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, properties, False, False, False)
    return float(properties.Mass())


def _check_volume(volume: float, diagonal: float) -> None:
    if not abs(volume) > THINNEST_SHARE * diagonal**3:
        raise UnsoundSolid(
            f"The solid encloses no volume ({volume:.3g} mm3).",
            "Its faces lie on each other: give the model a thickness and export it again.",
        )
    if volume < 0:
        raise UnsoundSolid(
            f"The solid is inside out: its volume is {volume:.6g} mm3.",
            "Reverse the solid's normals in the modelling program and export it again.",
        )


def _check_sides(snapshot: Snapshot, step_ids: Sequence[int | None]) -> None:
    turned = set(turned_faces(snapshot))
    if turned:
        raise UnsoundSolid(
            f"The solid's volume is not sure: {_count(len(turned), 'round face')} with outlines that contradict their normals.",
            "Repair the solid (make its normals consistent) in the modelling program and export again; some programs write "
            "such faces for mirrored parts.",
            _name_faces(turned, step_ids),
        )


def _check_valid(
    solid: TopoDS_Solid, faces: TopTools_IndexedMapOfShape, step_ids: Sequence[int | None], only: list[int] | None
) -> None:
    """The kernel's own check of the solid, or of some of its faces."""
    numbers = only if only is not None else list(range(faces.Extent()))
    check = BRepCheck_Analyzer(solid if only is None else _together([faces.FindKey(i + 1) for i in only]), True)
    if check.IsValid():
        return
    wrong = {i for i in numbers if not check.IsValid(faces.FindKey(i + 1))}
    raise UnsoundSolid(
        f"The solid is not valid: {_count(len(wrong), 'face')} broken or crossing itself."
        if wrong
        else "The solid is not valid: its shells cross or do not belong together.",
        "Check and repair the solid in the modelling program, then export it again.",
        _name_faces(wrong, step_ids),
    )


def _together(shapes: list[TopoDS_Shape]) -> TopoDS_Compound:
    whole, builder = TopoDS_Compound(), BRep_Builder()
    builder.MakeCompound(whole)
    for shape in shapes:
        builder.Add(whole, shape)
    return whole


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _name_faces(indices: set[int], step_ids: Sequence[int | None]) -> str:
    """'face 3 (#120), face 7' for error messages; the first few only."""
    names = []
    for index in sorted(indices)[:_NAMED]:
        number = step_ids[index] if 0 <= index < len(step_ids) else None
        names.append(f"face {index}" + (f" (#{number})" if number else ""))
    rest = len(indices) - _NAMED
    return ", ".join(names) + (f" and {rest} more" if rest > 0 else "")
