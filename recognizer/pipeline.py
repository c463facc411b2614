"""STEP file -> features document: the stages, read top to bottom."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from recognizer.claims import settle
from recognizer.closure import closure_of
from recognizer.describe import features_of
from recognizer.families import FAMILIES
from recognizer.frame import FILE_AXES, Frame, frame_of, level_span
from recognizer.graph import PartGraph
from recognizer.near_misses import near_misses
from recognizer.parents import with_parents
from recognizer.patterns import patterns_of
from recognizer.reading import PartRead, read_snapshot
from recognizer.rule import Context
from recognizer.sharp_edges import sharp_edges
from recognizer.snapshot import Snapshot
from recognizer.thin_walls import thin_walls
from recognizer.whole_faces import findings_apart, told_apart, whole_faces
from shared.carried import CarriedReach
from shared.cutters import CutterTable
from shared.features import Box, Face, FeaturesDocument, Part
from shared.findings import Finding
from shared.names import readable
from shared.reach import ReachDocument
from shared.shape import CarriedShape
from shared.tolerances import DEFAULT, Tolerances


def recognize(
    path: str | Path | bytes, *, solid: int | None = None, tol: Tolerances = DEFAULT, may_cross: bool = False
) -> FeaturesDocument:
    """Features document of a STEP file.

    path: of the file, or the bytes of one that has no name. solid: 1-based number of the solid to take where the file holds several.
    may_cross: the faces of a solid that crosses itself are told too (no front door asks that: such a part cannot be
    planned). Raises shared.errors.UnusableFile and its kin; runs in this process, so a file that crashes the kernel
    takes the process with it (the service reads in a worker).
    """
    return read_part(path, solid=solid, tol=tol, may_cross=may_cross)[1]


def read_part(
    path: str | Path | bytes, *, solid: int | None = None, tol: Tolerances = DEFAULT, may_cross: bool = False
) -> tuple[Snapshot, FeaturesDocument]:
    """Snapshot and features document of a STEP file, for what is asked of the part itself; errors as `recognize`."""
    with uncollected():
        read = read_snapshot(path, solid, may_cross=may_cross)
        document = recognize_snapshot(read.snapshot, tol)
    part = document.part.model_copy(
        update={
            "file": "" if isinstance(path, bytes) else readable(Path(path).name),
            "sha256": read.sha256,
            "unit": read.unit,
            "step_schema": read.step_schema,
            "solids": read.solids,
        }
    )
    findings = list(document.findings)
    if read.loose_faces:
        findings.insert(0, _loose(read.loose_faces))
    if read.largest_gap > tol.near_miss_mm / 5:
        findings.insert(0, _gaps(read.largest_gap))
    document = document.model_copy(update={"part": part, "findings": findings})
    return read.snapshot, rejoined(document, read)


def rejoin(document: FeaturesDocument, path: str | Path | bytes, *, solid: int | None = None) -> FeaturesDocument:
    """A document that was read from JSON with its part, read once more: shape and reach go with it again; errors as `recognize`."""
    with uncollected():
        return rejoined(document, read_snapshot(path, solid))


def rejoined(document: FeaturesDocument, read: PartRead) -> FeaturesDocument:
    """The document, with the means to make the part's shape and to find out what cutters reach of it."""

    def reach(table: CutterTable) -> ReachDocument:
        from recognizer.access.pipeline import reach_of_snapshot

        return reach_of_snapshot(read.snapshot, document, table)

    document.carry(CarriedShape(read.shape), CarriedReach(reach))
    return document


@contextmanager
def uncollected() -> Iterator[None]:
    """Without the cyclic garbage collector: it walks all records of a large part again and again and finds nothing."""
    running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if running:
            gc.enable()


def _gaps(gap: float) -> Finding:
    return Finding(
        code="gaps",
        severity="warning",
        message=f"faces and edges of the model miss each other by up to {gap:.2g} mm: sizes are no surer than that",
        hint="often a sign of a converted or damaged model: ask for a new export where that is too much",
    )


def _loose(count: int) -> Finding:
    return Finding(
        code="loose_faces",
        message=f"the file holds {count} loose face(s) beside the solid; they were left out",
        hint="datum or construction planes are often exported with the part",
    )


def recognize_snapshot(snapshot: Snapshot, tol: Tolerances = DEFAULT) -> FeaturesDocument:
    """Features document of a snapshot: no kernel from here on."""
    split = PartGraph(snapshot, tol)
    whole, members = whole_faces(snapshot, split)
    graph = split if whole is snapshot else PartGraph(whole, tol)
    ctx = Context(whole, graph, frame_of(whole, tol), tol)
    for family in FAMILIES:
        ctx.claims += family(ctx)
    settle(ctx)
    features = with_parents(ctx, features_of(ctx))
    features, patterns = patterns_of(features)
    closure, volumes, notes = closure_of(ctx, features)
    features = [f.model_copy(update={"removal_volume": volumes.get(f.id, 0.0)}) for f in features]
    findings = _findings(ctx, {i: f.id for f in features for i in f.faces}) + notes
    edges = sharp_edges(ctx)
    if whole is not snapshot:
        features, findings = told_apart(features, members), findings_apart(findings, members)
        edges = [e.model_copy(update={"faces": snapshot.edges[e.index].faces}) for e in edges]
    owner = {i: f.id for f in features for i in f.faces}
    part, faces = _part(ctx), _faces(snapshot, ctx.frame, owner)
    ctx.forget()
    return FeaturesDocument(
        part=part, faces=faces, features=features, edges=edges, patterns=patterns, findings=findings, closure=closure
    )


def _part(ctx: Context) -> Part:
    frame = ctx.frame
    low, high = (
        (frame.low, frame.high)
        if frame.axes == FILE_AXES
        else zip(*(level_span(ctx.snapshot, a) for a in FILE_AXES), strict=True)
    )
    return Part(
        file="",
        sha256="",
        unit=ctx.snapshot.unit,
        step_schema=ctx.snapshot.step_schema,
        bounding_box=Box(min=low, max=high),
        volume=ctx.snapshot.volume,
        solids=ctx.snapshot.solids,
        frame=list(frame.axes),
        frame_box=Box(min=frame.low, max=frame.high),
    )


def _faces(snapshot: Snapshot, frame: Frame, owner: dict[int, str]) -> list[Face]:
    spans = [zip(*snapshot.levels(axis), strict=True) for axis in frame.axes]
    out = []
    for f, x, y, z in zip(snapshot.faces, *spans, strict=True):
        low, high = zip(x, y, z, strict=True)
        out.append(
            Face(
                index=f.index,
                step_id=f.step_id,
                surface=f.kind,
                area=f.area,
                feature=owner.get(f.index),
                box=Box(min=low, max=high),
                reason=None if f.index in owner else "no rule claims this face",
            )
        )
    return out


def _findings(ctx: Context, owner: dict[int, str]) -> list[Finding]:
    """Findings of the claims, with the ids of the features that they became."""
    out = list(ctx.findings)
    for claim in ctx.claims:
        ids = sorted({owner[f] for f in claim.faces if f in owner})
        out += [f.model_copy(update={"features": ids}) for f in claim.findings]
    for note in [*near_misses(ctx), *thin_walls(ctx)]:
        out.append(note.model_copy(update={"features": sorted({owner[f] for f in note.faces if f in owner})}))
    return out
