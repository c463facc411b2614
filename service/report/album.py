"""All pictures of a part and its plan by name: the part, the workpiece before and after each setup, what is wrong at the
end.
"""

from __future__ import annotations

from dataclasses import replace

from service.report.content import Papers, part_scene, scenes
from service.report.pictures import Scene, draw_each
from service.report.stages import CANNOT, HINT, Rows, stages, starts
from shared.errors import SidewiseError
from shared.features import FeaturesDocument
from shared.mesh import unpacked
from shared.plan import PlanDocument

Album = tuple[list[bytes], dict[str, tuple[int, Scene]]]
"""Meshes, and by name a scene with the number of its mesh."""
PART = "part"


class CannotDraw(SidewiseError):
    """This machine makes no pictures."""

    code = "cannot_draw"


class NoPicture(SidewiseError):
    """There is no picture of that name."""

    exit_code = 2
    code = "not_found"


def album(features: FeaturesDocument, plan: PlanDocument | None, mesh: bytes, rows: Rows) -> Album:
    """The pictures `part`, and for each setup its id and `ID_before`; `end` and `end_below` where something is wrong.

    mesh: the part's. rows: the workpieces. Without a plan there is the part only.
    """
    meshes, shown = [mesh], {PART: (0, part_scene(features))}
    if plan is None or not rows:
        return meshes, shown
    names, pieces, after = stages(features, plan, rows)
    meshes += pieces
    held = [setup.id for setup in plan.setups if setup.id in names]
    for setup, (number, scene) in zip(held, starts(features, plan, rows), strict=False):
        shown[f"{setup}_before"] = (number + 1, scene)
    shown |= {name: (number + 1, scene) for name, (number, scene) in zip(names, after, strict=True)}
    return meshes, shown


def picture_bytes(
    features: str, plan: str | None, mesh: bytes, pack: bytes | None, name: str, size: tuple[int, int]
) -> bytes:
    """One picture as PNG from the documents' JSON texts, the part's mesh and its packed workpieces. Runs in a worker.

    size: pixels wide and high. Raises NoPicture or CannotDraw.
    """
    planned = PlanDocument.from_json(plan) if plan else None
    rows = unpacked(pack) if pack else []
    meshes, shown = album(FeaturesDocument.from_json(features), planned, mesh, rows)
    if name not in shown:
        raise NoPicture(f"There is no picture {name}.", f"There are {', '.join(shown)}.")
    number, scene = shown[name]
    try:
        return draw_each([meshes[number]], [(0, replace(scene, size=size))])[0]
    except (ImportError, RuntimeError):
        raise CannotDraw(CANNOT, HINT) from None


def sheet_pictures(papers: Papers, mesh: bytes, rows: Rows) -> dict[str, list[bytes]]:
    """PNGs for a report: of the part under `part`; under each setup's id the workpiece as it is clamped and after the
    cuts, or the finished part in that place where there are no workpieces. Raises ImportError or RuntimeError where this
    machine cannot draw.
    """
    meshes, shown = album(papers.features, papers.plan, mesh, rows)
    wanted: list[tuple[str, tuple[int, Scene]]] = [(PART, shown[PART])]
    for setup, finished in zip(papers.plan.setups, scenes(papers)[1:], strict=True):
        if setup.id in shown:
            wanted += [(setup.id, shown[f"{setup.id}_before"]), (setup.id, shown[setup.id])]
        else:
            wanted.append((setup.id, (0, finished)))
    wanted += [("end", shown[name]) for name in ("end", "end_below") if name in shown]
    out: dict[str, list[bytes]] = {}
    for (name, _), png in zip(wanted, draw_each(meshes, [scene for _, scene in wanted]), strict=True):
        out.setdefault(name, []).append(png)
    return out
