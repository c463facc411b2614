"""Extents of a shape along any axes: how far a stock model reaches along the part's own axes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from OCP.Bnd import Bnd_Box
from OCP.BRepBndLib import BRepBndLib
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt, gp_Trsf
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Shape

from recognizer.kernel.read import read_solid
from shared.features import Box
from shared.units import Vector


def box_along(shape: TopoDS_Shape, frame: Sequence[Vector]) -> Box:
    """The shape's box along three right-handed unit axes: levels (dot products) in mm, exact to 1e-6 or so."""
    x_axis, _, z_axis = frame
    turn = gp_Trsf()
    turn.SetTransformation(gp_Ax3(gp_Pnt(0, 0, 0), gp_Dir(*z_axis), gp_Dir(*x_axis)))
    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape.Moved(TopLoc_Location(turn)), box, False, False)
    low, high = box.CornerMin(), box.CornerMax()
    return Box(min=(low.X(), low.Y(), low.Z()), max=(high.X(), high.Y(), high.Z()))


def read_box(path: str | Path, frame: Sequence[Vector]) -> tuple[Box, float]:
    """Box of the one solid in a STEP file along `frame`, and the share of that box that the solid fills.

    Raises what `read_solid` raises.
    """
    solid = read_solid(path)
    box = box_along(solid.shape, frame)
    room = 1.0
    for low, high in zip(box.min, box.max, strict=True):
        room *= high - low
    return box, solid.volume / room
