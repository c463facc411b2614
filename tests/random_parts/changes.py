"""Changes to a part that must not change its features: each gives a STEP file and the truth after it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import cadquery as cq
import numpy as np
from OCP.BRepAlgoAPI import BRepAlgoAPI_Section
from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert, BRepBuilderAPI_Transform
from OCP.BRepFeat import BRepFeat_SplitShape
from OCP.gp import gp_Dir, gp_Pln, gp_Pnt, gp_Trsf
from OCP.Interface import Interface_Static
from OCP.STEPControl import STEPControl_AsIs, STEPControl_Controller, STEPControl_Writer
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Shape

from tests.random_parts.build import Block
from tests.random_parts.truth import Expected

Change = Callable[[Block, np.random.RandomState, Path], list[Expected]]


def write(shape: cq.Shape, path: Path, schema: str = "AP214IS", unit: str = "MM") -> None:
    """Writes a STEP file in a schema (AP203, AP214IS, AP242DIS) and a length unit (MM, INCH)."""
    STEPControl_Controller.Init_s()
    settings = {"write.step.schema": schema, "write.step.unit": unit}
    try:
        for key, value in settings.items():
            Interface_Static.SetCVal_s(key, value)
        writer = STEPControl_Writer()
        writer.Transfer(shape.wrapped, STEPControl_AsIs)
        writer.Write(str(path))
    finally:
        Interface_Static.SetCVal_s("write.step.schema", "AP214IS")
        Interface_Static.SetCVal_s("write.step.unit", "MM")


def _placed(block: Block, path: Path, matrix: np.ndarray, shift: np.ndarray, factor: float = 1.0) -> list[Expected]:
    placement = gp_Trsf()
    if np.linalg.det(matrix) < 0:
        placement.SetMirror(gp_Pnt(0, 0, 0))
    rows = (-matrix if np.linalg.det(matrix) < 0 else matrix), shift
    turn = gp_Trsf()
    turn.SetValues(*[float(v) for row, s in zip(*rows, strict=True) for v in (*(factor * row), s)])
    turn.Multiply(placement)
    moved = cq.Shape.cast(BRepBuilderAPI_Transform(block.shape.wrapped, turn, True).Shape())
    write(moved, path)
    return [e.moved(matrix, shift, factor) for e in block.truth]


def unchanged(block: Block, rng: np.random.RandomState, path: Path) -> list[Expected]:
    write(block.shape, path)
    return block.truth


def turned(block: Block, rng: np.random.RandomState, path: Path) -> list[Expected]:
    """Turned by a random rotation: the part's own axes are no longer the file's."""
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    return _placed(block, path, q * np.sign(np.linalg.det(q)), np.zeros(3))


def moved(block: Block, rng: np.random.RandomState, path: Path) -> list[Expected]:
    return _placed(block, path, np.eye(3), rng.uniform(-500, 500, 3))


def mirrored(block: Block, rng: np.random.RandomState, path: Path) -> list[Expected]:
    return _placed(block, path, np.diag([-1.0, 1.0, 1.0]), np.zeros(3))


def scaled(block: Block, rng: np.random.RandomState, path: Path) -> list[Expected]:
    return _placed(block, path, np.eye(3), np.zeros(3), float(rng.choice([0.2, 8.0])))


def in_inches(block: Block, rng: np.random.RandomState, path: Path) -> list[Expected]:
    write(block.shape, path, unit="INCH")
    return block.truth


def ap203(block: Block, rng: np.random.RandomState, path: Path) -> list[Expected]:
    write(block.shape, path, schema="AP203")
    return block.truth


def ap242(block: Block, rng: np.random.RandomState, path: Path) -> list[Expected]:
    write(block.shape, path, schema="AP242DIS")
    return block.truth


def shuffled(block: Block, rng: np.random.RandomState, path: Path) -> list[Expected]:
    """Entities in another order and with other numbers; the model is the same."""
    write(block.shape, path)
    head, data, tail = re.split(r"(?<=DATA;)\n|(?=ENDSEC;\nEND-ISO)", path.read_text())
    entities = [e.strip() for e in re.split(r";\s*\n", data) if e.strip()]
    new = rng.permutation(len(entities)) + 1
    numbers = {e.split("=")[0].strip(): f"#{n}" for e, n in zip(entities, new, strict=True)}
    rows = [re.sub(r"#\d+", lambda m: numbers[m.group()], e) for e in entities]
    path.write_text(head + "\n" + "".join(f"{rows[i]};\n" for i in rng.permutation(len(rows))) + tail)
    return block.truth


def split_faces(block: Block, rng: np.random.RandomState, path: Path) -> list[Expected]:
    """Every face that two upright planes meet is cut in two there; the solid stays one."""
    shape, box = block.shape.wrapped, block.shape.BoundingBox()
    low, high = np.array((box.xmin, box.ymin)), np.array((box.xmax, box.ymax))
    for normal in (gp_Dir(1, 0, 0), gp_Dir(0, 1, 0)):
        x, y = low + rng.uniform(0.15, 0.85, 2) * (high - low)
        shape = _imprinted(shape, gp_Pln(gp_Pnt(float(x), float(y), 0), normal))
    write(cq.Shape.cast(shape), path)
    return block.truth


def _imprinted(shape: TopoDS_Shape, plane: gp_Pln) -> TopoDS_Shape:
    section = BRepAlgoAPI_Section(shape, plane, False)
    section.ComputePCurveOn1(True)
    section.Approximation(True)
    section.Build()
    split = BRepFeat_SplitShape(shape)
    explorer = TopExp_Explorer(section.Shape(), TopAbs_EDGE)
    while explorer.More():
        edge, face = TopoDS.Edge_s(explorer.Current()), TopoDS_Shape()
        if section.HasAncestorFaceOn1(edge, face) and face.ShapeType() == TopAbs_FACE:
            split.Add(edge, TopoDS.Face_s(face))
        explorer.Next()
    split.Build()
    return split.Shape()


def as_splines(block: Block, rng: np.random.RandomState, path: Path) -> list[Expected]:
    """Every surface and curve as a B-spline, as some CAD systems write them."""
    write(cq.Shape.cast(BRepBuilderAPI_NurbsConvert(block.shape.wrapped, True).Shape()), path)
    return block.truth


CHANGES: dict[str, Change] = {
    f.__name__: f
    for f in (unchanged, turned, moved, mirrored, scaled, in_inches, ap203, ap242, shuffled, split_faces, as_splines)
}


def changed(block: Block, change: str, seed: int, folder: Path) -> tuple[Path, list[Expected]]:
    """The part after a change as a STEP file in `folder`, and its truth. Raises KeyError for an unknown change."""
    path = folder / f"{change}_{seed}.step"
    return path, CHANGES[change](block, np.random.RandomState(seed), path)
