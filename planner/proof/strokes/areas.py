"""Steps, slots and pockets: their outline is cleared, then its walls are followed."""

from __future__ import annotations

from dataclasses import replace

import shapely

from planner.proof.cutter import profile_of
from planner.proof.regions import Region, centres, edge, region_of
from planner.proof.scene import LEVEL, SAME, Job
from planner.proof.strokes.faces import enclosed
from planner.proof.strokes.stroke import Stroke, milled


def area(job: Job) -> Stroke:
    """The sweep of a cut in a view with an outline: along its walls where only these are finished, else all over it."""
    view, op = job.view, job.operation
    assert view is not None
    if not view.outline:
        return Stroke.nothing("the view has no outline")
    profile = profile_of(op.tool)
    region = _with_rim(job, _with_bosses(job, region_of(view, job.plane, job.scene.frame, job.solid)))
    where = centres(region, profile.radius, op.passes.allowance_side)
    if op.name in ("finish walls", "cut floor radius"):
        near = region.walls.buffer(profile.radius + op.passes.allowance_side + 0.01)
        where = edge(where).intersection(near)
    elif op.name == "finish leaning walls":
        return Stroke.nothing("leaning walls are not followed")
    return milled(job, profile, where)


def _with_rim(job: Job, region: Region) -> Region:
    """Where an open side lies on the part's box, the raw rim beyond it belongs to the region too."""
    rim = job.scene.rectangle(job.plane).difference(job.scene.rectangle(job.plane, raw=False))
    if rim.is_empty:
        return region
    opens = edge(region.area).difference(region.walls.buffer(LEVEL))
    if opens.is_empty:
        return region
    depth = max(
        abs(a - b)
        for a, b in zip(
            job.scene.rectangle(job.plane).bounds, job.scene.rectangle(job.plane, raw=False).bounds, strict=True
        )
    )
    more = opens.buffer(depth + 1e-3, cap_style="flat").intersection(rim.buffer(1e-3))
    return replace(region, area=region.area.union(more))


def _with_bosses(job: Job, region: Region) -> Region:
    """Bosses that stand on a planar face are walls in it, and its other inner rings are holes: no walls."""
    view = job.view
    if view is None or view.kind != "planar_face":
        return region
    standing = []
    for f in job.scene.features.values():
        if f.kind != "boss":
            continue
        seen = [
            v
            for v in f.views
            if sum(a * b for a, b in zip(v.direction, view.direction, strict=True)) > SAME
            and abs(v.bottom - view.bottom) < LEVEL
        ]
        if seen:
            standing.append(enclosed(job.scene, f.faces, job.plane))
    bosses = shapely.union_all(standing)
    whole = shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(region.area)])
    if job.operation.whole_block:
        whole = job.scene.rectangle(job.plane)
    return Region(whole.difference(bosses), edge(bosses))
