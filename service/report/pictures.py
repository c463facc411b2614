"""Pictures of a part without a display: coloured faces, edges, the stock, a setup's axes. PNG bytes.

Needs VTK (it comes with the CAD kernel) and OpenGL without a screen (Debian: libegl1 libgl1-mesa-dri). Drawing runs in
a worker process: a graphics driver may crash too.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from shared.mesh import Mesh
from shared.units import Vector

COLOURS: dict[str, str] = {
    "planar_face": "#c9cdd2",
    "outside_profile": "#9aa3ad",
    "step": "#9ecae9",
    "slot": "#3f8fd2",
    "open_pocket": "#1f5fa8",
    "closed_pocket": "#12876f",
    "boss": "#8fd3bd",
    "round_hole": "#f2b134",
    "counterbore_hole": "#d9691e",
    "countersunk_hole": "#a8480f",
    "stepped_hole": "#7a2f0b",
    "chamfer": "#e9dfa0",
    "edge_round": "#d8c765",
    "undercut": "#8e4a9c",
    "region": "#cfa3d6",
    "enclosed_void": "#1c1c1c",
}
"""One colour a kind, as on the page (service/page/src/colours.ts)."""
PLAIN = "#e4e6e9"
JAW_COLOUR = "#4a5560"
AXIS_COLOURS = ("#c62f2f", "#2c8a3c", "#2455c3")


@dataclass(frozen=True)
class Scene:
    """What is to be seen. Lengths mm, in the file's axes.

    colours: by face index; others are plain. towards: unit vector from the part to the eye. up: upwards on the picture.
    over: other meshes (their bytes) drawn whole in a colour of their own. jaws: corners (2, 3) of boxes along frame.
    origin, axes: a work plane to draw, or None. box: corners (2, 3) of the stock along frame (3, 3), or None.
    """

    colours: Mapping[int, str]
    towards: Vector
    up: Vector
    origin: Vector | None = None
    axes: tuple[Vector, Vector, Vector] | None = None
    box: tuple[Vector, Vector] | None = None
    frame: tuple[Vector, Vector, Vector] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    size: tuple[int, int] = (900, 620)
    over: tuple[tuple[bytes, str], ...] = ()
    jaws: tuple[tuple[Vector, Vector], ...] = ()


def draw(mesh: bytes, scenes: list[Scene]) -> list[bytes]:
    """A PNG for each scene of a mesh (its bytes, shared/mesh.py). Runs in a worker process.

    Raises ImportError or RuntimeError where pictures cannot be made on this machine.
    """
    return draw_each([mesh], [(0, scene) for scene in scenes])


def draw_each(meshes: list[bytes], scenes: list[tuple[int, Scene]]) -> list[bytes]:
    """A PNG for each scene, with the number of its mesh. Else as draw()."""
    os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")
    import vtkmodules.vtkRenderingOpenGL2  # noqa: F401 - registers what draws
    from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow

    parts = [Mesh.from_bytes(mesh) for mesh in meshes]
    ready = [(part, _surface(part), _edges(part)) for part in parts]
    window = vtkRenderWindow()
    window.SetOffScreenRendering(1)
    window.SetMultiSamples(8)
    out = []
    for number, scene in scenes:
        part, surface, lines = ready[number]
        renderer = vtkRenderer()
        renderer.SetBackground(1, 1, 1)
        for actor in (_coloured(surface, part, scene.colours), lines, *_extras(scene, part)):
            renderer.AddActor(actor)
        _look(renderer, scene, part)
        window.SetSize(*scene.size)
        window.AddRenderer(renderer)
        window.Render()
        out.append(_png(window))
        window.RemoveRenderer(renderer)
    return out


def _surface(part: Mesh) -> Any:
    from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
    from vtkmodules.vtkFiltersCore import vtkPolyDataNormals

    points = vtkPoints()
    points.SetData(numpy_to_vtk(np.ascontiguousarray(part.points, np.float32), deep=True))
    cells = vtkCellArray()
    corners = np.hstack([np.full((len(part.triangles), 1), 3), part.triangles]).astype(np.int64).ravel()
    cells.SetCells(len(part.triangles), numpy_to_vtkIdTypeArray(corners, deep=True))
    data = vtkPolyData()
    data.SetPoints(points)
    data.SetPolys(cells)
    normals = vtkPolyDataNormals()
    normals.SetInputData(data)
    normals.SplittingOff()
    normals.ConsistencyOff()
    normals.Update()
    return normals.GetOutput()


def _coloured(surface: Any, part: Mesh, colours: Mapping[int, str]) -> Any:
    from vtkmodules.util.numpy_support import numpy_to_vtk
    from vtkmodules.vtkCommonDataModel import vtkPolyData
    from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

    table = np.array([_rgb(colours.get(n, PLAIN)) for n in range(int(part.faces.max()) + 1)], np.uint8)
    data = vtkPolyData()
    data.ShallowCopy(surface)
    data.GetCellData().SetScalars(numpy_to_vtk(table[part.faces], deep=True))
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(data)
    mapper.SetResolveCoincidentTopologyToPolygonOffset()
    actor = vtkActor()
    actor.SetMapper(mapper)
    actor.GetProperty().SetAmbient(0.35)
    actor.GetProperty().SetDiffuse(0.75)
    return actor


def _edges(part: Mesh) -> Any:
    runs = [np.arange(a, b) for a, b in zip(part.edge_starts, part.edge_starts[1:], strict=False)]
    return _lines(part.edge_points, runs, "#22262b", 1.3)


def _lines(points: Any, runs: list[Any], colour: str, width: float) -> Any:
    from vtkmodules.util.numpy_support import numpy_to_vtk
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
    from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

    held = vtkPoints()
    held.SetData(numpy_to_vtk(np.ascontiguousarray(points, np.float32), deep=True))
    cells = vtkCellArray()
    for run in runs:
        cells.InsertNextCell(len(run))
        for index in run:
            cells.InsertCellPoint(int(index))
    data = vtkPolyData()
    data.SetPoints(held)
    data.SetLines(cells)
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(data)
    actor = vtkActor()
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(*(v / 255 for v in _rgb(colour)))
    actor.GetProperty().SetLineWidth(width)
    actor.GetProperty().LightingOff()
    return actor


def _extras(scene: Scene, part: Mesh) -> list[Any]:
    extras = [_whole(Mesh.from_bytes(mesh), colour) for mesh, colour in scene.over]
    extras += [_block(jaw, scene) for jaw in scene.jaws]
    if scene.box:
        extras.append(_box(scene))
    if scene.origin and scene.axes:
        length = 0.22 * _diagonal(part)
        for axis, colour in zip(scene.axes, AXIS_COLOURS, strict=True):
            end = np.array(scene.origin) + length * np.array(axis)
            extras.append(_lines(np.array([scene.origin, end]), [np.arange(2)], colour, 4))
        extras += [
            _label(np.array(scene.origin) + 1.12 * length * np.array(axis), text, colour)
            for axis, text, colour in zip(scene.axes, "XYZ", AXIS_COLOURS, strict=True)
        ]
    return extras


def _whole(mesh: Mesh, colour: str) -> Any:
    """A mesh in one colour that no shade dims, in front of what it touches."""
    actor = _coloured(_surface(mesh), mesh, {n: colour for n in np.unique(mesh.faces).tolist()})
    actor.GetMapper().SetRelativeCoincidentTopologyPolygonOffsetParameters(-2.0, -2.0)
    actor.GetProperty().SetAmbient(0.7)
    return actor


def _block(corners: tuple[Vector, Vector], scene: Scene) -> Any:
    """A jaw: a box along the frame's axes that one looks through."""
    from vtkmodules.vtkCommonTransforms import vtkTransform
    from vtkmodules.vtkFiltersGeneral import vtkTransformPolyDataFilter
    from vtkmodules.vtkFiltersSources import vtkCubeSource
    from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

    low, high = np.array(corners)
    cube = vtkCubeSource()
    cube.SetBounds(*np.column_stack([low, high]).ravel())
    turn = vtkTransform()
    turn.SetMatrix([*np.hstack([np.array(scene.frame).T, np.zeros((3, 1))]).ravel(), 0.0, 0.0, 0.0, 1.0])
    placed = vtkTransformPolyDataFilter()
    placed.SetInputConnection(cube.GetOutputPort())
    placed.SetTransform(turn)
    mapper = vtkPolyDataMapper()
    mapper.SetInputConnection(placed.GetOutputPort())
    actor = vtkActor()
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(*(v / 255 for v in _rgb(JAW_COLOUR)))
    actor.GetProperty().SetOpacity(0.35)
    return actor


def _box(scene: Scene) -> Any:
    assert scene.box
    ends = np.array(scene.box)
    corners = np.array([[ends[(n >> k) & 1][k] for k in range(3)] for n in range(8)]) @ np.array(scene.frame)
    sides = [np.array((a, a | 1 << k)) for a in range(8) for k in range(3) if not a & 1 << k]
    return _lines(corners, sides, "#8a6a2b", 1.5)


def _label(at: Any, text: str, colour: str) -> Any:
    from vtkmodules.vtkRenderingCore import vtkBillboardTextActor3D

    actor = vtkBillboardTextActor3D()
    actor.SetInput(text)
    actor.SetPosition(*at)
    actor.GetTextProperty().SetFontSize(22)
    actor.GetTextProperty().SetBold(True)
    actor.GetTextProperty().SetColor(*(v / 255 for v in _rgb(colour)))
    return actor


def _look(renderer: Any, scene: Scene, part: Mesh) -> None:
    """All of the part, its stock and its axes fill the picture, seen without perspective."""
    low, high = part.points.min(axis=0).astype(float), part.points.max(axis=0).astype(float)
    middle = (low + high) / 2
    eye = np.array(scene.towards)
    side = np.cross(np.array(scene.up), eye)
    side /= np.linalg.norm(side)
    upward = np.cross(eye, side)
    corners = np.array([[(low, high)[(n >> k) & 1][k] for k in range(3)] for n in range(8)]) - middle
    margin = 1.12 if scene.axes is None else 1.3
    tall, wide = np.abs(corners @ upward).max(), np.abs(corners @ side).max()
    camera = renderer.GetActiveCamera()
    camera.ParallelProjectionOn()
    camera.SetFocalPoint(*middle)
    camera.SetPosition(*(middle + 3 * _diagonal(part) * eye))
    camera.SetViewUp(*scene.up)
    camera.SetParallelScale(margin * max(tall, wide * scene.size[1] / scene.size[0]))
    renderer.ResetCameraClippingRange()


def _diagonal(part: Mesh) -> float:
    return float(np.linalg.norm(part.points.max(axis=0) - part.points.min(axis=0)))


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _png(window: Any) -> bytes:
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkIOImage import vtkPNGWriter
    from vtkmodules.vtkRenderingCore import vtkWindowToImageFilter

    grab = vtkWindowToImageFilter()
    grab.SetInput(window)
    grab.ReadFrontBufferOff()
    writer = vtkPNGWriter()
    writer.SetInputConnection(grab.GetOutputPort())
    writer.WriteToMemoryOn()
    writer.Write()
    return vtk_to_numpy(writer.GetResult()).tobytes()
