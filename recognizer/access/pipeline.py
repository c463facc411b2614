"""Snapshot, features and cutters -> reach document: the stages, read top to bottom."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from recognizer.access.accuracy import Rough, accuracy_of, rough_of, with_errors
from recognizer.access.cutters import Shop, shop_of
from recognizer.access.directions import candidates
from recognizer.access.document import direction_of, face_reach, feature_reach, findings_of
from recognizer.access.judge import Judge
from recognizer.access.lollipops import lollipops_of
from recognizer.access.look import look
from recognizer.access.mesh import Mesh, mesh_of
from recognizer.access.said import Said
from recognizer.access.together import Together
from recognizer.access.undercuts import undercuts_of
from recognizer.frame import frame_of
from recognizer.pipeline import read_part, uncollected
from recognizer.snapshot import Snapshot
from shared.cutters import CutterTable
from shared.features import FeaturesDocument
from shared.plan import Tool
from shared.reach import FaceReach, ReachDocument, ReachLimits, Verdict
from shared.units import Vector

MORE = 1.25
"""Discs are measured up to this many times the largest cutter."""
AT_ONCE = 20_000
"""Directions go through one pass while the sides of their pieces are no more than so many."""

FEW_LOOKS = 8
"""So many looks are kept as they are."""


def reach(
    path: str | Path,
    *,
    solid: int | None = None,
    table: CutterTable | None = None,
    cutters: Sequence[str] | None = None,
    directions: Sequence[Vector] | None = None,
    limits: ReachLimits | None = None,
    axes: int = 3,
) -> ReachDocument:
    """Reach document of a STEP file.

    table: the shop's cutters, or the default table. cutters: ids of those whose shares are written out. directions: unit
    vectors from the part towards the tool, instead of all candidates; axes 5 adds a sampled sphere. Raises as
    `recognize`, and UsageError for a cutter that the table does not hold.
    """
    snapshot, features = read_part(path, solid=solid)
    return reach_of_snapshot(snapshot, features, table, directions, limits, axes, cutters)


def features_and_reach(
    path: str | Path,
    *,
    solid: int | None = None,
    table: CutterTable | None = None,
    limits: ReachLimits | None = None,
    axes: int = 3,
) -> tuple[FeaturesDocument, ReachDocument]:
    """Both documents of a STEP file from one reading: what a plan that asks for reach needs. Options and errors as `reach`."""
    snapshot, features = read_part(path, solid=solid)
    return features, reach_of_snapshot(snapshot, features, table, None, limits, axes)


def reach_of_snapshot(
    snapshot: Snapshot,
    features: FeaturesDocument,
    table: CutterTable | None = None,
    directions: Sequence[Vector] | None = None,
    limits: ReachLimits | None = None,
    axes: int = 3,
    ids: Sequence[str] | None = None,
) -> ReachDocument:
    """The reach document of a part that is read and recognised. No kernel from here on."""
    with uncollected():
        return _reach(snapshot, features, table, directions, limits, axes, ids)


def _reach(
    snapshot: Snapshot,
    features: FeaturesDocument,
    table: CutterTable | None,
    directions: Sequence[Vector] | None,
    limits: ReachLimits | None,
    axes: int,
    ids: Sequence[str] | None,
) -> ReachDocument:
    limits = limits or ReachLimits()
    shop = shop_of(table, limits)
    table = shop.table
    cutters = shop.named(ids) if ids else shop.spread()
    chosen = candidates(frame_of(snapshot), features, directions, axes)
    mesh = mesh_of(snapshot)
    judges, said, rough = _judged(mesh, [d for d, _ in chosen], shop, cutters)
    names = [name_of(d) for d, _ in chosen]
    inexact = set().union(*(one.inexact for one in rough))
    faces = _faces(snapshot, features, judges, said, inexact, cutters, shop, names)
    faces = with_errors(faces, rough)
    areas = [f.area for f in snapshot.faces]
    sides = [direction_of(d, source, one, areas) for (d, source), one in zip(chosen, said, strict=True)]
    undercuts, faces = undercuts_of(features, faces, sides, table, limits)
    rounds, faces = lollipops_of(snapshot, features, faces, sides, table, limits)
    undercuts += rounds
    owned = feature_reach(features, faces, limits, shop.by_id, undercuts, cutters)
    voids = {i for f in features.features if f.kind == "enclosed_void" for i in f.faces}
    return ReachDocument(
        part=features.part,
        verdict=_verdict(faces),
        tools=table.name,
        limits=limits,
        directions=sides,
        cutters=cutters,
        faces=faces,
        features=owned,
        undercuts=undercuts,
        findings=findings_of(owned, faces, voids),
        accuracy=accuracy_of(rough, faces),
    )


def _judged(
    mesh: Mesh, directions: list[Vector], shop: Shop, cutters: list[Tool]
) -> tuple[list[Judge], list[dict[int, Said]], list[Rough]]:
    """(judges, what each direction says of faces, how rough it is). Where many looks are needed, each lets go of what can be
    made again: a hundred directions of a large part would not fit into memory.
    """
    judges, said, rough = [], [], []
    batches = _batches(mesh, directions)
    for some in batches:
        judge = Judge(look(mesh, some, MORE * shop.largest, shop.reach), shop, cutters)
        judges.append(judge)
        said += judge.faces()
        rough.append(rough_of(judge))
        if len(batches) > FEW_LOOKS:
            judge.forget()
    return judges, said, rough


def _batches(mesh: Mesh, directions: list[Vector]) -> list[list[Vector]]:
    """The directions in as many passes as keep arrays small."""
    size = max(1, AT_ONCE // max(len(mesh.pieces.side_piece), 1))
    return [directions[k : k + size] for k in range(0, len(directions), size)]


def _faces(
    snapshot: Snapshot,
    features: FeaturesDocument,
    judges: list[Judge],
    said: list[dict[int, Said]],
    inexact: set[int],
    cutters: list[Tool],
    shop: Shop,
    names: list[str],
) -> list[FaceReach]:
    owner = {i: f.id for f in features.features for i in f.faces}
    together = Together()
    tiles = [(judge, k) for judge in judges for k in range(judge.scene.count)]
    out = []
    for face in snapshot.faces:
        views = [(k, one[face.index]) for k, one in enumerate(said) if face.index in one]
        best = max((one.touched for _, one in views), default=0.0)
        partly = [k for k, one in views if one.touched > 0]
        union = best
        if best < 1 - shop.limits.share and len(partly) > 1:
            union = max(best, together.touched([_view(*tiles[k], face.index) for k in partly]))
        exact = face.index not in inexact
        out.append(
            face_reach(
                face.index, face.kind, face.area, owner.get(face.index), views, union, exact, cutters, shop, names
            )
        )
    return out


def _view(judge: Judge, tile: int, face: int) -> tuple[Judge, int]:
    return judge, tile * judge.scene.part_faces + face


def _verdict(faces: list[FaceReach]) -> Verdict:
    for verdict in ("not_reached", "warning"):
        if any(f.verdict == verdict for f in faces):
            return verdict  # type: ignore[return-value]
    return "reached"


def name_of(d: Vector) -> str:
    """'+z' along an axis of the file, else the vector."""
    for axis, value in zip("xyz", d, strict=True):
        if abs(abs(value) - 1) < 1e-6:
            return ("+" if value > 0 else "-") + axis
    return "(" + ", ".join(f"{v:.3f}".rstrip("0").rstrip(".") for v in d) + ")"
