"""Pictures of the workpiece as it stands in each setup, as it is after it, with what stays and what is gouged at the end."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from service.report.content import standing
from service.report.pictures import Scene, draw_each
from service.study import workpiece_rows
from service.worker import Limits, Worker
from shared.errors import UsageError
from shared.features import FeaturesDocument
from shared.plan import PlanDocument
from shared.units import Vector

RAW = "#d9c9a8"
BEFORE = "#e4e6e9"
NOW = "#8fc1e3"
LEFT = "#d55e00"
GOUGED = "#1c1c1c"
"""Sand where the block is raw, grey what earlier setups cut, light blue what this one cut. Vermilion for what stays and
black for what is missing: people who see few colours still tell them from all the others (the set of Okabe and Ito)."""

Rows = list[tuple[dict[str, Any], bytes]]
"""What is said of each mesh of the workpiece, and its bytes."""

CANNOT = "This machine cannot draw without a screen."
HINT = "Debian: apt-get install libegl1 libgl1-mesa-dri"


def write_pictures(features: FeaturesDocument, plan: PlanDocument, folder: str, limits: Limits) -> list[Path]:
    """Draws the stages into PNG files in a folder, which is made; drawing runs in a worker.

    Raises UsageError where the folder cannot be written, where this machine cannot draw, or where the part's shape is
    not at hand.
    """
    target = Path(folder)
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{folder} cannot be made: {error.strerror}.", "Name a folder.", "--pictures") from None
    if features.shape is None:
        raise UsageError("There is no shape to draw.", "Repair the model: its triangles do not close.", "--pictures")
    rows = [(about, mesh.to_bytes()) for about, mesh in workpiece_rows(features, plan, features.shape)]
    names, meshes, scenes = stages(features, plan, rows)
    try:
        with Worker(limits) as worker:
            drawn: list[bytes] = worker.start(draw_each, meshes, scenes).result()
    except (ImportError, RuntimeError):
        raise UsageError(CANNOT, HINT, "--pictures") from None
    paths = [target / f"{name}.png" for name in names]
    for path, data in zip(paths, drawn, strict=True):
        path.write_bytes(data)
    return paths


def starts(features: FeaturesDocument, plan: PlanDocument, rows: Rows) -> list[tuple[int, Scene]]:
    """A scene for each setup with the number of its mesh: the workpiece as it is put between the jaws, its origin drawn."""
    place = {about["name"]: k for k, (about, _) in enumerate(rows)}
    frame = features.part.frame
    before, scenes = "stock", []
    for setup in plan.setups:
        if setup.id in place and before in place:
            towards, up, axes = standing(setup)
            jaws = tuple((_corner(a), _corner(b)) for a, b in rows[place[setup.id]][0]["jaws"])
            seen = Scene({0: RAW}, towards, up, setup.origin, axes, frame=(frame[0], frame[1], frame[2]), jaws=jaws)
            scenes.append((place[before], seen))
        before = setup.id
    return scenes


def stages(
    features: FeaturesDocument, plan: PlanDocument, rows: Rows
) -> tuple[list[str], list[bytes], list[tuple[int, Scene]]]:
    """Names of the pictures, the meshes, and a scene for each picture with the number of its mesh.

    One for each setup (its id), and `end`, seen from the other side too (`end_below`), where something stays or is gouged.
    """
    place = {about["name"]: k for k, (about, _) in enumerate(rows)}
    frame = features.part.frame
    axes = (frame[0], frame[1], frame[2])
    wrong = tuple((rows[place[n]][1], colour) for n, colour in (("left", LEFT), ("gouged", GOUGED)) if n in place)
    names, scenes, count = [], [], 0
    for setup in plan.setups:
        if setup.id not in place:
            continue
        before, count = count, count + len(setup.operations)
        colours = {0: RAW} | {n: BEFORE if n <= before else NOW for n in range(1, count + 1)}
        towards, up, work_axes = standing(setup)
        jaws = tuple((_corner(a), _corner(b)) for a, b in rows[place[setup.id]][0]["jaws"])
        over = wrong if setup is plan.setups[-1] else ()
        names.append(setup.id)
        scenes.append(
            (place[setup.id], Scene(colours, towards, up, setup.origin, work_axes, frame=axes, over=over, jaws=jaws))
        )
    if wrong and scenes:
        last = scenes[-1][0]
        plain = {n: BEFORE for n in range(count + 1)} | {0: RAW}
        way, up, _ = standing(plan.setups[-1])
        for name, side in (("end", 1.0), ("end_below", -1.0)):
            towards = (side * way[0], side * way[1], side * way[2])
            names.append(name)
            scenes.append((last, Scene(plain, towards, up, frame=axes, over=wrong)))
    return names, [mesh for _, mesh in rows], scenes


def _corner(values: list[float]) -> Vector:
    return (values[0], values[1], values[2])
