"""Cutters: they fit the gap, the corner and the floor, have the hole's diameter, and are long enough."""

from __future__ import annotations

import math
from collections.abc import Iterator

from planner.checks.index import DIAMETER, LEVEL, Index, Placed, dot, fault
from shared.features import HOLE_KINDS, Feature, View
from shared.findings import Finding

MILLS = ("endmill", "bullnose_endmill", "ball_endmill", "facemill")
SLIVER = 0.5
"""Mm: no passage for a cutter where the region is ten times as wide."""
NEAREST = 0.1 + 1e-6
"""Mm that a hole may be too small where the plan says that no drill has its size."""
ENCLOSED = ("slot", "open_pocket", "closed_pocket")


def fits(index: Index) -> Iterator[Finding]:
    """A milling cutter fits into the region; one that finishes walls passes the narrowest gap and turns in corners."""
    for p, name, view in index.views():
        if p.op.tool.kind not in MILLS or index.features[name].kind in HOLE_KINDS or view.kind not in ENCLOSED:
            continue
        room = view.largest_cutter or view.width
        if room and room + DIAMETER < p.op.tool.DC:
            text = f"{p.op.id}: a {p.op.tool.DC:g} mm cutter does not fit into {name}, {room:g} mm wide"
            yield fault("cutter_too_large", text, features=[name])
        yield from _walls(index, p, name, view)


def _walls(index: Index, p: Placed, name: str, view: View) -> Iterator[Finding]:
    walls = set(index.features[name].walls) & set(p.op.faces)
    told = any(name in f.features and "corner" in f.code for f in index.plan.findings)
    if not walls or "side" not in p.op.kind or "rough" in p.op.kind or p.op.tool.kind == "ball_endmill":
        return
    gap, room = view.narrowest_gap or 0.0, view.largest_cutter or view.width or 0.0
    sliver = gap < SLIVER and room > 10.0 * gap  # of the outline, not a passage: no cutter is judged by it
    left = any(name in f.features for f in index.said("gap_left"))
    if gap and not sliver and not left and gap + DIAMETER < p.op.tool.DC:
        text = (
            f"{p.op.id}: a {p.op.tool.DC:g} mm cutter finishes {name}, whose narrowest gap is {view.narrowest_gap:g} mm"
        )
        yield fault("cutter_too_large_for_gap", text, features=[name])
    told = told or _turned_after(index, p, name, view)
    if view.corner_radius and 2.0 * view.corner_radius + DIAMETER < p.op.tool.DC and not told:
        text = f"{p.op.id}: a {p.op.tool.DC:g} mm cutter cannot make the {view.corner_radius:g} mm corners of {name}"
        yield fault("cutter_too_large_for_corner", text, features=[name])


def _turned_after(index: Index, p: Placed, name: str, view: View) -> bool:
    """Whether a later cutter that turns in the corners goes along the same walls."""
    return any(
        q.number > p.number
        and 2.0 * (view.corner_radius or 0.0) + DIAMETER >= q.op.tool.DC
        and set(p.op.faces) <= set(q.op.faces)
        and q.deepest <= p.deepest + LEVEL
        for q in index.by_feature[name]
    )


def _corner_said(index: Index, name: str) -> bool:
    """Whether the plan says that a corner of a feature stays."""
    return any(name in f.features for f in index.plan.findings if f.code == "corner_left")


def edge_radius(index: Index) -> Iterator[Finding]:
    """A cutter that finishes the foot of a wall has no larger edge radius than the floor."""
    for p, name, view in index.views():
        feature = index.features[name]
        own = set(feature.bottom) | set(feature.walls)
        if view.floor_radius is None or p.op.tool.kind not in MILLS or not own & set(p.op.faces):
            continue
        if feature.kind in HOLE_KINDS or p.deepest > view.bottom + LEVEL:
            continue
        if p.op.kind == "freeform_operation" and _corner_said(index, name):
            continue  # a ball on a leaning floor: the plan says what it leaves at the foot
        if view.floor_radius + DIAMETER < p.op.tool.RE and not _milled_after(index, p, name, view):
            text = f"{p.op.id}: edge radius {p.op.tool.RE:g} mm, but the floor of {name} has {view.floor_radius:g} mm"
            yield fault("edge_radius_too_large", text, features=[name])


def _milled_after(index: Index, p: Placed, name: str, view: View) -> bool:
    """Whether a later cutter with a small enough radius goes down to the floor as well."""
    return any(
        q.number > p.number
        and (view.floor_radius or 0.0) + DIAMETER >= q.op.tool.RE
        and q.deepest <= view.bottom + LEVEL
        for q in index.by_feature[name]
    )


def hole_diameter(index: Index) -> Iterator[Finding]:
    """A drill is never larger than its hole, and one that brings a cylinder to size has its diameter."""
    for p in index.placed:
        for name in p.op.features:
            feature = index.features.get(name)
            if feature is None or not feature.steps or p.op.kind == "center_drilling":
                continue
            yield from _drill(p, feature, any(name in f.features for f in index.said("nearest_drill")))
            yield from _counterbore(p, feature)
            yield from _mill(p, feature)


def _cylinders(feature: Feature) -> list[float]:
    return [s.diameter for s in feature.steps if s.surface == "cylinder"]


def _drill(p: Placed, feature: Feature, nearest: bool) -> Iterator[Finding]:
    sizes = _cylinders(feature)
    if p.op.tool.kind not in ("twist_drill", "reamer") or not sizes:
        return
    if max(sizes) + DIAMETER < p.op.tool.DC:
        yield fault("drill_too_large", f"{p.op.id}: a {p.op.tool.DC:g} mm drill in {feature.id}", features=[feature.id])
    made = [s.diameter for s in feature.steps if s.surface == "cylinder" and set(s.faces) & set(p.op.faces)]
    if made and not any(-DIAMETER <= d - p.op.tool.DC <= (NEAREST if nearest else DIAMETER) for d in made):
        text = f"{p.op.id}: a {p.op.tool.DC:g} mm drill makes a cylinder of {made[0]:g} mm in {feature.id}"
        yield fault("drill_diameter", text, features=[feature.id])


def _counterbore(p: Placed, feature: Feature) -> Iterator[Finding]:
    """A counterbore has the diameter that it makes; its pilot, or the neck that goes through the hole, fits the hole."""
    tool, made = p.op.tool, [s for s in feature.steps if s.surface == "cylinder" and set(s.faces) & set(p.op.faces)]
    if tool.kind not in ("counterbore", "backside_counterbore") or not made:
        return
    if abs(made[0].diameter - tool.DC) > DIAMETER:
        text = f"{p.op.id}: a {tool.DC:g} mm counterbore makes a cylinder of {made[0].diameter:g} mm in {feature.id}"
        yield fault("drill_diameter", text, features=[feature.id])
    if (tool.DN or 0.0) > min(_cylinders(feature)) + DIAMETER or (tool.kind == "backside_counterbore" and not tool.DN):
        text = f"{p.op.id}: {tool.DN or 0:g} mm of pilot or neck do not pass the hole of {feature.id}"
        yield fault("cutter_too_large", text, features=[feature.id])


def _mill(p: Placed, feature: Feature) -> Iterator[Finding]:
    made = [s.diameter for s in feature.steps if s.surface == "cylinder" and set(s.faces) & set(p.op.faces)]
    if p.op.tool.kind in MILLS and made and min(made) + DIAMETER < p.op.tool.DC:
        text = f"{p.op.id}: a {p.op.tool.DC:g} mm end mill in a cylinder of {min(made):g} mm of {feature.id}"
        yield fault("cutter_too_large", text, features=[feature.id])


def tap_size(index: Index) -> Iterator[Finding]:
    """A tap is larger than its hole, by no more than about its pitch and a third."""
    for p in index.placed:
        for name in p.op.features if p.op.kind == "tapping" else []:
            sizes = _cylinders(index.features[name]) if name in index.features else []
            tool = p.op.tool
            if tool.kind != "tap":
                yield fault("wrong_tool", f"{p.op.id} taps with a {tool.kind}", features=[name])
            elif sizes and not any(0.0 < tool.DC - d < 1.35 * (tool.TP or 0.25 * tool.DC) + DIAMETER for d in sizes):
                yield fault("tap_size", f"{p.op.id}: {tool.TDZ} does not suit holes of {sizes} mm", features=[name])


def long_enough(index: Index) -> Iterator[Finding]:
    """The usable length covers the depth from the feature's mouth; one level is not deeper than the cutting edge."""
    for p, name, view in index.views():
        tool = p.op.tool
        walled = view.closed_sides > 0 or view.kind in HOLE_KINDS
        depth = (max(view.top, p.op.levels.top) if walled else p.op.levels.top) - p.deepest
        if tool.LU is not None and depth - LEVEL > tool.LU and p.op.kind != "center_drilling":
            text = f"{p.op.id}: {tool.LU:g} mm of usable length for a depth of {depth:.1f} mm in {name}"
            yield fault("cutter_too_short", text, features=[name])
    for p in index.placed:
        tool, passes = p.op.tool, p.op.passes
        if tool.kind in MILLS and tool.APMX is not None and passes.axial_depth > tool.APMX + LEVEL:
            text = f"{p.op.id}: {passes.axial_depth:g} mm a level, but the cutting edge is {tool.APMX:g} mm long"
            yield fault("cut_too_deep", text, features=p.op.features)


def edges_within_reach(index: Index) -> Iterator[Finding]:
    """An edge that is broken lies no deeper below the part's top than the chamfer cutter is long."""
    by_index = {e.index: e for e in index.document.edges}
    for p in index.placed:
        top = index.box_level(p.setup.direction)
        for edge in (by_index[e] for e in p.op.edges if e in by_index):
            levels = [
                at
                for d, at in zip(edge.directions, edge.levels, strict=False)
                if dot(d, p.setup.direction) > 1.0 - 1e-5
            ]
            if top is not None and p.op.tool.LU is not None and levels and top - levels[0] > p.op.tool.LU + LEVEL:
                text = f"{p.op.id} breaks edge {edge.index}, {top - levels[0]:.1f} mm below the part's top"
                yield fault("edge_too_deep", f"{text}, with {p.op.tool.LU:g} mm of usable length")


def cover(index: Index) -> Iterator[Finding]:
    """A roughing operation's levels together cover its height; counts are at least one."""
    for p in index.placed:
        passes, levels = p.op.passes, p.op.levels
        if passes.axial_count < 1 or passes.radial_count < 1 or passes.axial_depth <= 0:
            yield fault("passes_empty", f"{p.op.id}: no pass", features=p.op.features)
        elif "rough" in p.op.kind and passes.axial_depth * passes.axial_count < levels.top - levels.bottom - LEVEL:
            text = f"{p.op.id}: {passes.axial_count} levels of {passes.axial_depth:g} mm do not cover its height"
            yield fault("passes_do_not_cover", text, features=p.op.features)


def right_kind(index: Index) -> Iterator[Finding]:
    """Drilling takes a drill, milling a mill."""
    for p in index.placed:
        kind, tool = p.op.kind, p.op.tool.kind
        wrong = (kind in ("drilling", "multistep_drilling") and tool != "twist_drill") or (
            kind.endswith("_milling")
            and tool in ("twist_drill", "tap", "reamer", "boring_tool", "counterbore", "backside_counterbore")
        )
        if wrong:
            yield fault("wrong_tool", f"{p.op.id}: {kind} with a {tool}", features=p.op.features)


def stepover(index: Index) -> Iterator[Finding]:
    """Passes beside each other lie no further apart than the cutter is wide: ridges would stay between them."""
    for p in index.placed:
        tool, passes = p.op.tool, p.op.passes
        if tool.kind in MILLS and passes.radial_count > 1 and passes.radial_depth > tool.DC + DIAMETER:
            text = f"{p.op.id}: passes {passes.radial_depth:g} mm apart with a {tool.DC:g} mm cutter leave ridges"
            yield fault("stepover_too_wide", text, features=p.op.features)
        elif tool.kind == "facemill" and passes.radial_depth > tool.DC + DIAMETER:
            text = f"{p.op.id}: one pass of {passes.radial_depth:g} mm with a {tool.DC:g} mm cutter"
            yield fault("stepover_too_wide", text, features=p.op.features)


def cusps(index: Index) -> Iterator[Finding]:
    """Who brings faces to size with a round edge leaves cusps no higher than counts as none.

    Plane geometry: rows s apart with a corner radius RE and a flat middle of DC - 2 RE leave RE - sqrt(RE^2 - (s - DC + 2 RE)^2 / 4).
    """
    for p in index.placed:
        tool, wide = p.op.tool, p.op.passes.radial_depth
        over = 0.5 * (wide - tool.DC + 2.0 * tool.RE)
        if tool.kind not in MILLS or not p.op.faces or p.op.passes.radial_count < 2 or not 0.0 < over <= tool.RE:
            continue
        height = tool.RE - math.sqrt(tool.RE**2 - over**2)
        if "side_finish" not in p.op.kind.replace("bottom_and_", "") and height > LEVEL:
            text = f"{p.op.id}: rows {wide:g} mm apart leave cusps of {height:.3f} mm"
            yield fault("cusps_left", text, features=p.op.features)


def slender(index: Index) -> Iterator[Finding]:
    """No mill stands out so far that it bends away from the work, whatever it reaches."""
    for p in index.placed:
        if p.op.tool.kind in MILLS and p.op.tool.LU and p.op.tool.LU > SLENDEREST * p.op.tool.DC:
            text = f"{p.op.id}: a {p.op.tool.DC:g} mm mill that stands out {p.op.tool.LU:g} mm"
            yield fault("cutter_too_slender", text, features=p.op.features)


SLENDEREST = 20.0
"""Diameters of usable length beyond which no mill is sold or cuts: common practice, no source."""


def edge_size(index: Index) -> Iterator[Finding]:
    """Edges are broken, not chamfered: what the drawing does not show takes no more than a hair off the part."""
    for p in index.placed:
        size = max(p.op.passes.axial_depth, p.op.passes.radial_depth)
        if p.breaks_edges and size > LARGEST_BREAK:
            text = f"{p.op.id}: a break of {size:g} mm is a chamfer that the part does not have"
            yield fault("edge_break_too_large", text)


LARGEST_BREAK = 1.0
"""Mm: the coarsest usual state of an edge without a burr, ISO 13715 (from memory)."""

CHECKS = (
    fits, edge_radius, hole_diameter, tap_size, long_enough, edges_within_reach, cover, right_kind, stepover, cusps,
    slender, edge_size,
)  # fmt: skip
