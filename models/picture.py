"""A picture of a demo part, each feature family in a colour of its own: `python -m models.picture PART OUT.png`.

Needs OpenGL without a screen (Debian: libegl1 libgl1-mesa-dri) and VTK, which comes with cadquery. Colours are those
of Okabe and Ito, which people with any common colour blindness can tell apart.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")

COLOURS = {
    "planar_face": (0.92, 0.92, 0.92),
    "step": (0.34, 0.71, 0.91),  # sky blue
    "open_pocket": (0.00, 0.45, 0.70),  # blue
    "slot": (0.00, 0.45, 0.70),
    "closed_pocket": (0.00, 0.62, 0.45),  # bluish green
    "round_hole": (0.90, 0.62, 0.00),  # orange
    "counterbore_hole": (0.84, 0.37, 0.00),  # vermillion
    "countersunk_hole": (0.84, 0.37, 0.00),
    "stepped_hole": (0.84, 0.37, 0.00),
    "chamfer": (0.80, 0.47, 0.65),  # reddish purple
    "edge_round": (0.80, 0.47, 0.65),
    "undercut": (0.94, 0.89, 0.26),  # yellow
    "region": (0.94, 0.89, 0.26),
}
OTHER = (0.60, 0.60, 0.60)
VIEW = ((1.0, -1.15, 0.95), (0.0, 0.0, 1.0))
SIZE = (900, 640)
SMOOTH = (0.05, 0.2)  # mm from the surface, radians between neighbouring facets


def main(part: str = "altitude_carrier", out: str = "") -> None:
    """Draws a demo part to a PNG file: beside its STEP file, or to `out`."""
    here = Path(__file__).parent
    draw(here / f"{part}.step", Path(out) if out else here / f"{part}.png")


def draw(step: Path, png: Path) -> None:
    """Recognises the part and writes its picture. Faces are coloured by the kind of their feature."""
    import cadquery as cq

    from recognizer import recognize

    document = recognize(step)
    kinds = {feature.id: str(feature.kind) for feature in document.features}
    shape = cq.importers.importStep(str(step)).solids().val()
    drawn = [_lines(shape)]
    for face, said in zip(shape.Faces(), document.faces, strict=True):
        drawn.append(_surface(face, COLOURS.get(kinds.get(said.feature or "", ""), OTHER)))
    _write(drawn, png)


def _surface(face: Any, colour: tuple[float, float, float]) -> Any:
    from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

    mapper = vtkPolyDataMapper()
    mapper.SetInputData(face.toVtkPolyData(*SMOOTH, normals=True))
    mapper.ScalarVisibilityOff()
    mapper.SetResolveCoincidentTopologyToPolygonOffset()
    actor = vtkActor()
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(*colour)
    actor.GetProperty().SetAmbient(0.4)
    actor.GetProperty().SetDiffuse(0.75)
    return actor


def _lines(shape: Any) -> Any:
    """The edges of the solid as thin dark lines."""
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
    from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

    points, cells = vtkPoints(), vtkCellArray()
    for edge in shape.Edges():
        places = edge.positions([i / 24 for i in range(25)] if edge.geomType() != "LINE" else [0, 1])
        cells.InsertNextCell(len(places))
        for place in places:
            cells.InsertCellPoint(points.InsertNextPoint(place.x, place.y, place.z))
    data = vtkPolyData()
    data.SetPoints(points)
    data.SetLines(cells)
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(data)
    actor = vtkActor()
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(0.1, 0.1, 0.1)
    actor.GetProperty().SetLineWidth(1.6)
    actor.GetProperty().LightingOff()
    return actor


def _write(actors: list[Any], png: Path) -> None:
    import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  (registers the drawing back end)
    from vtkmodules.vtkIOImage import vtkPNGWriter
    from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow, vtkWindowToImageFilter

    renderer, window, image, writer = vtkRenderer(), vtkRenderWindow(), vtkWindowToImageFilter(), vtkPNGWriter()
    for actor in actors:
        renderer.AddActor(actor)
    renderer.SetBackground(1, 1, 1)
    camera = renderer.GetActiveCamera()
    camera.SetPosition(*VIEW[0])
    camera.SetViewUp(*VIEW[1])
    camera.ParallelProjectionOn()
    renderer.ResetCamera()
    camera.Zoom(1.35)
    window.SetOffScreenRendering(1)
    window.SetMultiSamples(8)
    window.SetSize(*SIZE)
    window.AddRenderer(renderer)
    window.Render()
    image.SetInput(window)
    writer.SetFileName(str(png))
    writer.SetInputConnection(image.GetOutputPort())
    writer.Write()


if __name__ == "__main__":
    main(*sys.argv[1:3])
