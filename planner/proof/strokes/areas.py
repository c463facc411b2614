"""Steps, slots and pockets: their outline is cleared, then its walls are followed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.cutter import Profile, profile_of
from planner.proof.regions import Region, centres
from planner.proof.scene import LEVEL, SAME, Job
from planner.proof.sides import edge
from planner.proof.strokes.faces import enclosed, filled, flat_image
from planner.proof.strokes.stroke import Stroke, milled, tips_of
from shared.proof import NO_ROOM

SAME_RADIUS = 0.01
"""Mm that a floor radius may differ from the cutter's."""
TRACES = 8
"""Passes round a floor radius that are followed at most; they stand for all."""


def area(job: Job) -> Stroke:
    """The sweep of a cut in a view with an outline: along its walls where only these are finished, else all over it."""
    view, op = job.view, job.operation
    assert view is not None
    if not view.outline:
        return Stroke.nothing("the view has no outline")
    profile = profile_of(op.tool)
    key = ("area", job.feature and job.feature.id, job.setup.direction, op.whole_block)
    region = job.scene.once(key, lambda: _with_rim(job, _with_bosses(job, job.region)))
    region = _off_terraces(job, region)
    spare = (view.floor_radius or 0.0) - op.tool.RE
    if op.name == "cut floor radius" and spare > SAME_RADIUS:
        return _traced(job, region, profile, spare)
    if not region.leans or view.kind == "planar_face":
        return milled(job, profile, _centres(job, region, profile))
    out = Stroke(tip=job.bottom)
    for tip in tips_of(job):
        depth = max(view.top - tip, 0.0)
        one = milled(job, profile, _centres(job, region.at_depth(depth, op.tool.RE), profile), tip)
        out.sweeps += one.sweeps
        if one.sweeps:
            out.stations.append((one.centres, tip))
            out.centres = shapely.union_all([out.centres, one.centres]) if not out.centres.is_empty else one.centres
    return out if out.sweeps else Stroke.nothing(NO_ROOM)


def _traced(job: Job, region: Region, profile: Profile, spare: float) -> Stroke:
    """A floor radius that is `spare` larger than the cutter's own: its corner's centre runs round a quarter circle."""
    count = min(max(job.operation.passes.axial_count, 2), TRACES)
    out = Stroke(tip=job.bottom)
    for turn in np.linspace(0.0, 0.5 * math.pi, count):
        off, up = spare * (1.0 - math.sin(turn)), spare * (1.0 - math.cos(turn))
        where = centres(region, profile.radius, off)
        one = milled(
            job, profile, edge(where).intersection(region.kept_off(profile.radius + off + 0.01)), job.bottom + up
        )
        out.sweeps += one.sweeps
        out.centres = one.centres
    return out if out.sweeps else Stroke.nothing(NO_ROOM)


def _centres(job: Job, region: Region, profile: Profile) -> BaseGeometry:
    """Where the cutter goes: all over the region, or along its walls alone."""
    op = job.operation
    where = centres(region, profile.radius, op.passes.allowance_side)
    if op.name in ("finish walls", "finish corners", "cut floor radius", "finish leaning walls"):
        near = region.kept_off(profile.radius + op.passes.allowance_side + 0.01)
        where = edge(where).intersection(near)
    return where


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
    return replace(region, area=region.area.union(more), rim=more, _centres={})


def _off_terraces(job: Job, region: Region) -> Region:
    """Flat floors of the feature that lie above both the cutter's tip and the lowest floor, as ribs and terraces do, stand in
    the region; not those that the operation itself is to bring to size.
    """
    view, feature = job.view, job.feature
    if view is None or feature is None or view.kind == "planar_face" or len(feature.bottom) < 2:
        return region
    scene, higher = job.scene, []
    least = max(job.bottom, view.bottom) + LEVEL
    for face in feature.bottom:
        if face in job.operation.faces:
            continue
        chosen = scene.triangles([face])
        levels = scene.corners[chosen] @ job.plane.d
        flat = len(chosen) and np.ptp(levels) < LEVEL and (scene.normals[chosen] @ job.plane.d > SAME).all()
        if flat and levels.min() > least:
            higher.append(face)
    if not higher:
        return region
    floors = flat_image(scene, higher, job.plane)
    inside = edge(floors).intersection(region.area.buffer(-LEVEL))
    if inside.is_empty:
        return region
    walls = shapely.union_all([region.walls, inside])
    return replace(region, area=region.area.difference(floors), walls=walls, _centres={})


def _with_bosses(job: Job, region: Region) -> Region:
    """Bosses that stand on a planar face, or over it within a groove round their foot, are walls in it; its other inner
    rings are holes: no walls.
    """
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
            and v.bottom > view.bottom - LEVEL
        ]
        if seen:
            body = enclosed(job.scene, f.faces, job.plane)
            standing.append(filled(flat_image(job.scene, f.faces, job.plane)) if body.is_empty else body)
    bosses = shapely.union_all(standing)
    whole = shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(region.area)])
    if job.operation.whole_block:
        whole = job.scene.rectangle(job.plane)
    return Region(whole.difference(bosses), edge(bosses))
