"""Whether a solid is sound enough to plan on: closed, right side out, of sensible size, valid face by face."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Tool
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.ShapeAnalysis import ShapeAnalysis_ShapeTolerance, ShapeAnalysis_Shell
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_FORWARD, TopAbs_REVERSED
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Solid
from OCP.TopTools import TopTools_IndexedMapOfShape

from shared.errors import UnsoundSolid

LARGEST_MM = 100_000.0
SMALLEST_MM = 0.1
THINNEST_SHARE = 1e-7
"""A solid that fills less of its box's cubed diagonal than this has no thickness: a 100 mm plate of 0.3 um."""

WIDEST_GAP_SHARE = 0.01
"""Edges and faces that miss each other by more than this share of the solid's size are no solid."""

_NAMED = 5


@dataclass(frozen=True)
class Soundness:
    """Figures of a sound solid: volume in mm3; widest gap in mm that the kernel bridged between faces and edges."""

    volume: float
    largest_gap: float


def check_sound(solid: TopoDS_Solid, faces: TopTools_IndexedMapOfShape, step_ids: Sequence[int | None]) -> Soundness:
    """Figures of a sound solid. Raises UnsoundSolid naming what is wrong and, where known, the faces.

    faces: the solid's faces in MapShapes order; step_ids: their record numbers. Checked, cheapest first: size, gaps,
    closed and consistently oriented shells, positive volume, and validity of every vertex, edge, wire and face.
    """
    diagonal = _check_size(solid)
    gap = _check_gaps(solid, diagonal)
    _check_closed(solid, faces, step_ids)
    volume = _check_volume(solid, diagonal)
    _check_valid(solid, faces, step_ids)
    return Soundness(volume, gap)


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
    if gap > WIDEST_GAP_SHARE * diagonal:
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


def _check_volume(solid: TopoDS_Solid, diagonal: float) -> float:
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, properties, False, False, False)
    volume = properties.Mass()
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
    return volume


def _check_valid(solid: TopoDS_Solid, faces: TopTools_IndexedMapOfShape, step_ids: Sequence[int | None]) -> None:
    check = BRepCheck_Analyzer(solid, True)
    if check.IsValid():
        return
    wrong = {i - 1 for i in range(1, faces.Extent() + 1) if not check.IsValid(faces.FindKey(i))}
    raise UnsoundSolid(
        f"The solid is not valid: {_count(len(wrong), 'face')} broken or crossing itself."
        if wrong
        else "The solid is not valid: its shells cross or do not belong together.",
        "Check and repair the solid in the modelling program, then export it again.",
        _name_faces(wrong, step_ids),
    )


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
