"""The order of operations: what `after` says, parents first, facing first, rough before finish, holes, edges last."""

from __future__ import annotations

from collections.abc import Iterator

from planner.checks.index import LEVEL, Index, Placed, dot, fault
from shared.features import HOLE_KINDS, Edge
from shared.findings import Finding

HOLE_STAGES = {
    "center_drilling": 0,
    "drilling": 1,
    "multistep_drilling": 1,
    "boring": 2,
    "back_boring": 2,
    "reaming": 2,
    "counter_sinking": 2,
    "tapping": 3,
}
"""Stage of a hole's operations by ISO 14649-11 kind; a later stage never comes before an earlier one."""


def after(index: Index) -> Iterator[Finding]:
    """What `after` names exists and is done before."""
    number = {p.op.id: p.number for p in index.placed}
    for p in index.placed:
        for name in p.op.after:
            if name not in number:
                yield fault("after_unknown", f"{p.op.id} waits for {name}, which does not exist")
            elif number[name] >= p.number:
                yield fault("after_violated", f"{p.op.id} is cut before {name}, which it waits for")


def parents(index: Index) -> Iterator[Finding]:
    """A feature is cut only after what it opens on, and says so in `after` (directly or through others)."""
    told = {(finding.features[0], finding.features[1]) for finding in index.said("order_cycle")}
    for name, placed in index.by_feature.items():
        if name not in index.features or index.features[name].kind == "planar_face":
            continue
        for parent in index.parents(name):
            if _below(index, parent, name, placed):
                continue
            own = [p for p in index.by_feature[parent] if name not in p.op.features and not p.breaks_edges]
            if own and max(p.number for p in own) > placed[0].number and (name, parent) not in told:
                yield fault(
                    "parent_after_child",
                    f"{placed[0].op.id} cuts {name} before {parent}, on which it opens, is done",
                    features=[name, parent],
                )


def _below(index: Index, parent: str, name: str, placed: list[Placed]) -> bool:
    """Whether all of a parent lies below the mouth that the feature is cut from: it does not open on it from there."""
    boxes = {f.index: f.box for f in index.document.faces}
    for p in placed:
        view, d = index.view(name, p.setup.direction), p.setup.direction
        if view is None:
            return False
        for box in (boxes.get(i) for i in index.features[parent].faces):
            if box is None:
                return False
            share = [dot(axis, d) for axis in index.document.part.frame]
            top = sum(max(s * low, s * high) for s, low, high in zip(share, box.min, box.max, strict=True))
            if top > view.top - LEVEL:
                return False
    return True


def facing_first(index: Index) -> Iterator[Finding]:
    """In a setup nothing is cut before the raw layer on its side is off."""
    for setup in index.plan.setups:
        level = index.box_level(setup.direction)
        if level is None or index.allowance(setup.direction) <= LEVEL:
            continue
        facing = [p for p in index.placed if _takes_off(p, setup.direction, level)]
        owners = {f.id for f in index.side_features(setup.direction)}
        facing += [p for name in owners for p in index.by_feature.get(name, []) if p not in facing]
        first = next((p for p in index.placed if p.setup is setup), None)
        for p in facing:
            if (
                first is not None
                and p.number > first.number
                and not (p.setup is setup and _only_facing(index, first, p))
            ):
                text = f"{first.op.id} is cut before {p.op.id} takes the raw layer off above it"
                yield fault("facing_not_first", text, features=first.op.features)
        if first is not None and not facing and not _profiled(index, first):
            yield fault("raw_layer_left", f"{setup.id}: the raw layer on its side is never taken off")


def _profiled(index: Index, first: Placed) -> bool:
    """Whether an outside profile has been cut round the part before, from a direction square to this one."""
    return any(
        p.number < first.number
        and view.kind == "outside_profile"
        and abs(dot(view.direction, first.setup.direction)) < 0.03
        for p, _, view in index.views()
    )


def _takes_off(p: Placed, direction: tuple[float, float, float], level: float) -> bool:
    turned = sum(a * b for a, b in zip(p.setup.direction, direction, strict=True))
    return turned > 1.0 - 1e-5 and p.op.name == "face" and abs(p.op.levels.bottom - level) <= LEVEL


def _only_facing(index: Index, first: Placed, last: Placed) -> bool:
    return all(p.op.name == "face" for p in index.placed[first.number : last.number])


def rough_before_finish(index: Index) -> Iterator[Finding]:
    """A feature's roughing comes before its finishing, and so that nothing is roughed on a finished face."""
    for name, placed in index.by_feature.items():
        if name in index.features and index.features[name].kind in HOLE_KINDS:
            continue
        finished: Placed | None = None
        for p in placed:
            if finished and "rough" in p.op.kind and p.setup is finished.setup and not _gets_further(p, finished):
                yield fault(
                    "rough_after_finish", f"{p.op.id} roughs {name} after {finished.op.id} finished it", features=[name]
                )
            if "finish" in p.op.kind and p.op.name.split()[0] in ("finish", "clear", "face"):
                finished = p


def _gets_further(p: Placed, finished: Placed) -> bool:
    """Whether a cut takes what the larger cutter that finished did not reach, down to the floor where that one made it; or
    what a cut before it left on a floor that lies deeper, as on the next of several."""
    if p.op.name.startswith("rest") and p.deepest < finished.deepest - LEVEL:
        return True
    floor = finished.op.kind == "plane_finish_milling"
    to_it = p.op.passes.allowance_bottom == 0.0 and abs(p.op.levels.bottom - finished.op.levels.bottom) < 1e-6
    return finished.op.tool.DC > p.op.tool.DC and (to_it or not floor)


def hole_stages(index: Index) -> Iterator[Finding]:
    """Spot before drill before ream or sink before tap, from either end; and a tap needs a hole."""
    for name, placed in index.by_feature.items():
        reached: dict[tuple[float, ...], int] = {}
        for p in placed:
            stage = HOLE_STAGES.get(p.op.kind)
            if stage is None:
                continue
            end = tuple(round(c, 3) + 0.0 for c in p.setup.direction)
            done = reached.get(end, -1)
            if stage < done and not (stage == 1 and done == 2 and _another_step(p, placed)):
                yield fault("hole_order", f"{p.op.id} ({p.op.name}) comes too late for {name}", features=[name])
            reached[end] = max(done, stage)
        taps = [p for p in placed if p.op.kind == "tapping"]
        if taps and not any(p.number < taps[0].number and p.op.kind != "center_drilling" for p in placed):
            yield fault("tap_without_hole", f"{taps[0].op.id} taps {name} before a hole is made", features=[name])


def _another_step(p: Placed, placed: list[Placed]) -> bool:
    """A stepped hole drills its next step after the one before was brought to size."""
    drilled = [q.op.tool.DC for q in placed if q.number < p.number and q.op.kind in ("drilling", "multistep_drilling")]
    return any(abs(d - p.op.tool.DC) > LEVEL for d in drilled)


def edges_last(index: Index) -> Iterator[Finding]:
    """Edges are broken last in their setup, once both their faces are cut."""
    for setup in index.plan.setups:
        broken = None
        for op in setup.operations:
            if broken and op.features:
                yield fault("edges_not_last", f"{op.id} is cut after {broken} broke the edges", features=op.features)
            if op.edges and not op.features:
                broken = op.id
    maker = {f: p for p in reversed(index.placed) for f in p.op.faces}
    by_index = {e.index: e for e in index.document.edges}
    for p in index.placed:
        for edge in (by_index[e] for e in p.op.edges if e in by_index):
            late = [f for f in edge.faces if f in maker and maker[f].number > p.number]
            if late and not (len(late) == 1 and _ahead_of_its_wall(index, p, edge)):
                yield fault(
                    "edge_too_early", f"{p.op.id} breaks edge {edge.index} before face {late[0]} is cut", faces=late
                )


def _ahead_of_its_wall(index: Index, p: Placed, edge: Edge) -> bool:
    """Whether nothing stands beside an edge on the level that it is broken on: a groove there is left as the break when the
    wall is cut to it. So on the outermost level, and where all of the block was cleared down to the edge before.
    """
    top = index.box_level(p.setup.direction)
    if top is None or p.op.features:
        return False
    level = min(dot(edge.start, p.setup.direction), dot(edge.end, p.setup.direction))
    cleared = any(
        q.setup is p.setup and q.number < p.number and q.op.whole_block
        and abs(q.op.levels.bottom - q.op.passes.allowance_bottom - level) < LEVEL
        for q in index.placed
    )  # fmt: skip
    return cleared or level >= top - LEVEL


def doubled(index: Index) -> Iterator[Finding]:
    """Nothing is done twice: a second run of the same cut moves through air."""
    seen: dict[str, str] = {}
    for p in index.placed:
        own = {"id", "after", "because", "minutes", "removed"}
        key = f"{p.setup_number} {p.op.model_dump_json(exclude=own)}"
        if key in seen:
            yield fault("done_twice", f"{p.op.id} cuts what {seen[key]} has cut, the same way", features=p.op.features)
        seen.setdefault(key, p.op.id)


CHECKS = (after, parents, facing_first, rough_before_finish, hole_stages, edges_last, doubled)
