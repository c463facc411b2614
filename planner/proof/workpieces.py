"""The workpiece as a mesh: raw, after each setup, what is left on it at the end and what is missing."""

from __future__ import annotations

from dataclasses import dataclass, field

import manifold3d
import numpy as np
from manifold3d import Manifold

from planner.proof.bodies import beyond, block, body_of
from planner.proof.cutting import strokes_of
from planner.proof.fixtures import Extent, Jaw, ends_cut, jaws_of
from planner.proof.outside import mesh_of
from planner.proof.prove import TOLERANCE, breaks_edges
from planner.proof.scene import Scene, scene_of
from shared.features import FeaturesDocument
from shared.mesh import Mesh
from shared.plan import PlanDocument
from shared.shape import Shape


@dataclass(frozen=True)
class Piece:
    """A state of the workpiece, or what is wrong with it at the end.

    name: `stock`, the id of the setup after which it is so, `left` (more than TOLERANCE off the part) or `gouged`
    (missing by more than that). mesh: in the file's axes; `faces` are 0 for the raw block and n for what the n-th
    operation of the document cut. volume: mm3 inside the mesh. jaws: those of the setup, as boxes in the part's own axes.
    """

    name: str
    mesh: Mesh
    volume: float
    jaws: list[Jaw] = field(default_factory=list)


def workpieces(plan: PlanDocument, features: FeaturesDocument, shape: Shape) -> list[Piece]:
    """The raw block, the workpiece after each setup, and `left` and `gouged` where the proof found any."""
    scene = scene_of(plan, features, shape)
    solid = block(scene.raw_low, scene.raw_high)
    labels = {solid.original_id(): 0}
    solids = [("stock", solid)]
    clampings = {c.id: c for c in plan.clampings}
    jaws: dict[str, list[Jaw]] = {}
    number, bevels = 0, list[Manifold]()
    for setup in plan.setups:
        bodies = []
        for operation in setup.operations:
            number += 1
            for stroke in strokes_of(scene, setup, operation):
                for sweep in stroke.sweeps:
                    body = body_of(sweep, scene).as_original()
                    labels[body.original_id()] = number
                    bodies.append(body)
                    bevels += [body] if breaks_edges(operation) else []
        jaws[setup.id] = jaws_of(clampings[setup.clamping], _extent(solid), ends_cut(scene, plan, setup.clamping))
        solid = Manifold.batch_boolean([solid, *bodies], manifold3d.OpType.Subtract)
        solids.append((setup.id, solid))
    part = part_of(scene)
    if plan.proof.left_uncut:
        solids.append(("left", beyond(solid, part, TOLERANCE)))
    if plan.proof.gouged:
        # Broken edges take off the part as drawn what they are to take.
        cut = [beyond(part, solid, TOLERANCE), *bevels]
        solids.append(("gouged", Manifold.batch_boolean(cut, manifold3d.OpType.Subtract)))
    kept = [(name, body) for name, body in solids if not body.is_empty()]
    return [Piece(n, mesh_of(body, labels, scene.frame), body.volume(), jaws.get(n, [])) for n, body in kept]


def _extent(solid: Manifold) -> Extent:
    def extent(axis: int, other: int, low: float, high: float) -> tuple[float, float] | None:
        way, body = np.eye(3)[other], solid
        if np.isfinite(low):
            body = body.trim_by_plane(way.tolist(), low).trim_by_plane((-way).tolist(), -high)
        box = body.bounding_box()
        return None if body.is_empty() else (float(box[axis]), float(box[axis + 3]))

    return extent


def part_of(scene: Scene) -> Manifold:
    """The part's own triangles as a solid."""
    points, index = np.unique(np.round(scene.corners.reshape(-1, 3), 7), axis=0, return_inverse=True)
    triangles = index.reshape(-1, 3)
    whole = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
    return Manifold(manifold3d.Mesh64(points, triangles[whole].astype(np.uint64)))
