"""Faces of one surface that a line splits, made whole before the rules see them, and told apart again afterwards.

Imprinted lines, half cylinders and coplanar pieces that touch are one face to a cutter. The rules read the whole face;
the document speaks of the file's own faces.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from recognizer.graph import PartGraph, connected
from recognizer.snapshot import Edge, Face, Snapshot, Triangles
from recognizer.vector import cross, dot, length, sub
from shared.features import Feature
from shared.findings import Finding
from shared.units import Vector

Members = list[list[int]]
"""The file's faces of each whole face."""
Loop = list[tuple[int, bool]]


def whole_faces(snapshot: Snapshot, graph: PartGraph) -> tuple[Snapshot, Members]:
    """Snapshot with touching faces of one surface made one, and the faces of the file that each is made of."""
    members = connected(range(len(snapshot.faces)), ((a, b) for a, b, _, sign in graph.joints if sign == "same"))
    if len(members) == len(snapshot.faces):
        return snapshot, members
    whole = {f: k for k, group in enumerate(members) for f in group}
    edges = tuple(_edge(e, whole) for e in snapshot.edges)
    faces = tuple(_face(snapshot, k, group, edges) for k, group in enumerate(members))
    facets, normals = (_gathered(triangles, members) for triangles in (snapshot.facets, snapshot.normals))
    return replace(snapshot, faces=faces, edges=edges, facets=facets, normals=normals), members


def _gathered(triangles: Triangles, members: Members) -> Triangles:
    """Triangles of the whole faces; faces that have none are left out."""
    return {
        k: tuple(t for f in group for t in triangles.get(f, ()))
        for k, group in enumerate(members)
        if any(f in triangles for f in group)
    }


def _edge(e: Edge, whole: dict[int, int]) -> Edge:
    """Edge between whole faces; a line inside one has that face alone, so that it links nothing."""
    return replace(e, faces=tuple(dict.fromkeys(whole[f] for f in e.faces)))


def _face(snapshot: Snapshot, index: int, group: list[int], edges: tuple[Edge, ...]) -> Face:
    first = snapshot.faces[group[0]]
    if len(group) == 1:
        return replace(first, index=index)
    rim = [
        (e, way) for f in group for loop in snapshot.faces[f].loops for e, way in loop if _on_rim(snapshot, e, group)
    ]
    loops = _outer_first(_chained(rim, edges), edges, first.surface.axis)
    if first.kind == "cone" and loops:
        loops[0] += _ruling(snapshot, group)
    return replace(
        first,
        index=index,
        loops=tuple(tuple(loop) for loop in loops),
        area=sum(snapshot.faces[f].area for f in group),
        span=_span(snapshot, group),
    )


def _ruling(snapshot: Snapshot, group: list[int]) -> Loop:
    """A straight edge inside a cone, there and back, as a seam: it holds the point where the cone comes to a tip.

    Of several, where lines split the seam too, the one that comes nearest to the axis.
    """
    s = snapshot.faces[group[0]].surface
    inner = {e for f in group for e in snapshot.face_edges[f] if not _on_rim(snapshot, e, group)}
    lines = sorted(e for e in inner if snapshot.edges[e].curve == "line")
    if not lines:
        return []
    ends = {e: (snapshot.edges[e].start, snapshot.edges[e].end) for e in lines}
    nearest = min(lines, key=lambda e: min(round(length(cross(sub(p, s.origin), s.axis)), 4) for p in ends[e]))
    return [(nearest, True), (nearest, False)]


def _on_rim(snapshot: Snapshot, edge: int, group: list[int]) -> bool:
    """Whether a face outside the group lies beyond an edge; seams and lines inside are no rim."""
    return any(f not in group for f in snapshot.edges[edge].faces)


def _chained(rim: Loop, edges: tuple[Edge, ...]) -> list[Loop]:
    """Directed edges strung together into closed loops, in the order in which they are found."""
    starts: dict[Vector, Loop] = {}
    for e, way in rim:
        starts.setdefault(_key(edges[e].start if way else edges[e].end), []).append((e, way))
    loops, used = [], set()
    for step in rim:
        if step in used:
            continue
        loop: Loop = []
        while step not in used:
            used.add(step)
            loop.append(step)
            end = _key(edges[step[0]].end if step[1] else edges[step[0]].start)
            step = next((s for s in starts.get(end, []) if s not in used), step)
        loops.append(loop)
    return loops


def _key(p: Vector) -> Vector:
    return (round(p[0], 4) + 0.0, round(p[1], 4) + 0.0, round(p[2], 4) + 0.0)


def _outer_first(loops: list[Loop], edges: tuple[Edge, ...], normal: Vector) -> list[Loop]:
    """The loop round the largest area first, as in a face of the file."""
    if len(loops) < 2:
        return loops
    sizes = [abs(_area(loop, edges, normal)) for loop in loops]
    k = max(range(len(loops)), key=lambda i: round(sizes[i], 6))
    return [loops[k], *loops[:k], *loops[k + 1 :]]


def _area(loop: Loop, edges: tuple[Edge, ...], normal: Vector) -> float:
    points: list[Vector] = []
    for e, way in loop:
        run = edges[e].points
        points.extend(run[:-1] if way else run[:0:-1])
    o = points[0]
    return sum(dot(cross(sub(a, o), sub(b, o)), normal) for a, b in zip(points, points[1:], strict=False)) / 2


def _span(snapshot: Snapshot, group: list[int]) -> float:
    """Degrees round the axis: pieces side by side add up, pieces one behind the other do not."""
    faces = [snapshot.faces[f] for f in group]
    axis = faces[0].surface.axis
    rows = []
    for f in faces:
        levels = [dot(p, axis) for e in snapshot.face_edges[f.index] for p in snapshot.edges[e].points]
        rows.append((min(levels), max(levels), f.span))
    widest = max(r[2] for r in rows)
    for low, high, _ in rows:
        middle = (low + high) / 2
        widest = max(widest, sum(span for a, b, span in rows if a <= middle <= b))
    return min(360.0, widest)


def told_apart(features: list[Feature], members: Members) -> list[Feature]:
    """Features that speak of the file's faces again."""

    def own(faces: Iterable[int]) -> list[int]:
        return sorted(f for k in faces for f in members[k])

    out = []
    for f in features:
        views = [
            v.model_copy(
                update={
                    "blocked_by": own(v.blocked_by),
                    "sides": [s.model_copy(update={"faces": own(s.faces)}) for s in v.sides],
                }
            )
            for v in f.views
        ]
        steps = [s.model_copy(update={"faces": own(s.faces)}) for s in f.steps]
        faces = {name: own(getattr(f, name)) for name in ("faces", "bottom", "walls", "blends")}
        chains = [own(chain) for chain in f.blend_chains]
        out.append(f.model_copy(update={**faces, "blend_chains": chains, "views": views, "steps": steps}))
    return out


def findings_apart(findings: list[Finding], members: Members) -> list[Finding]:
    """Findings that speak of the file's faces again."""
    return [f.model_copy(update={"faces": sorted(i for k in f.faces for i in members[k])}) for f in findings]
