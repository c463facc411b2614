"""What changed features change in the plan: setups, operations, cutters, minutes.

Setups pair up by direction and by turn in the sequence; operations by the features they serve, what they do and with
which cutter, then by features and job alone (another cutter), then by job and cutter (another number of equal holes).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable

from service.comparing.shapes import Matrix, apply
from shared.compare import OperationChange, PlanChanges, SetupChange
from shared.plan import Operation, PlanDocument, Setup, Tool
from shared.units import Vector

SAME_MINUTES = 0.005
SAME_MM = 0.01


def plan_changes(old: PlanDocument, new: PlanDocument, rotation: Matrix, names: dict[str, str]) -> PlanChanges:
    """Differences of two plans; `names`: feature of the new model -> what it was called in the old one."""
    setups = _setup_pairs(old, new, rotation)
    pairs = _operation_pairs(old, new, setups, names)
    operations = [change for a, b in pairs if (change := _operation_change(a, b, setups, names))]
    changed = [_setup_change(a, b, operations, rotation) for a, b in setups]
    shown = [c for c in changed if c.because]
    return PlanChanges(
        totals_old=old.totals,
        totals_new=new.totals,
        setups=shown,
        setups_equal=len(changed) - len(shown),
        operations=operations,
        operations_equal=len(pairs) - len(operations),
        cutters_added=_missing(new.tools, old.tools),
        cutters_removed=_missing(old.tools, new.tools),
        unplanned_old=[u.feature for u in old.unplanned],
        unplanned_new=[u.feature for u in new.unplanned],
    )


def _missing(here: list[Tool], there: list[Tool]) -> list[Tool]:
    known = {t.id for t in there}
    return [t for t in here if t.id not in known]


SetupPair = tuple[Setup | None, Setup | None]
Placed = tuple[Setup, Operation]
OperationPair = tuple[Placed | None, Placed | None]


def _setup_pairs(old: PlanDocument, new: PlanDocument, rotation: Matrix) -> list[SetupPair]:
    def key(direction: Vector) -> tuple[float, ...]:
        return tuple(round(c, 3) + 0.0 for c in direction)

    waiting: dict[tuple[float, ...], list[Setup]] = defaultdict(list)
    for setup in new.setups:
        waiting[key(apply(rotation, setup.direction))].append(setup)
    pairs: list[SetupPair] = []
    for setup in old.setups:
        same = waiting[key(setup.direction)]
        pairs.append((setup, same.pop(0) if same else None))
    return pairs + [(None, s) for s in new.setups if any(s is w for rest in waiting.values() for w in rest)]


def _placed(plan: PlanDocument) -> list[Placed]:
    return [(setup, op) for setup in plan.setups for op in setup.operations]


def _operation_pairs(
    old: PlanDocument, new: PlanDocument, setups: list[SetupPair], names: dict[str, str]
) -> list[OperationPair]:
    was = {b.id: a.id for a, b in setups if a and b}
    rest_old, rest_new = _placed(old), _placed(new)

    def of_old(p: Placed) -> tuple[str, tuple[str, ...], str, str]:
        return p[0].id, tuple(sorted(p[1].features)), p[1].name, p[1].tool.id

    def of_new(p: Placed) -> tuple[str, tuple[str, ...], str, str]:
        features = tuple(sorted(names.get(f, f"new {f}") for f in p[1].features))
        return was.get(p[0].id, f"new {p[0].id}"), features, p[1].name, p[1].tool.id

    found: dict[int, OperationPair] = {}
    for pick in ((0, 1, 2, 3), (1, 2, 3), (0, 1, 2), (1, 2), (0, 2, 3)):
        shared = pick == (0, 2, 3)
        rest_old, rest_new, pairs = _pair(rest_old, rest_new, _keyed(of_old, pick), _keyed(of_new, pick), shared, names)
        found |= {id(a[1]): (a, b) for a, b in pairs}
    order: list[OperationPair] = [found.get(id(p[1]), (p, None)) for p in _placed(old)]
    return order + [(None, p) for p in rest_new]


def _keyed(of: Callable[[Placed], tuple], pick: tuple[int, ...]) -> Callable[[Placed], Hashable]:
    return lambda p: tuple(of(p)[i] for i in pick)


def _pair(
    old: list[Placed],
    new: list[Placed],
    of_old: Callable[[Placed], Hashable],
    of_new: Callable[[Placed], Hashable],
    shared: bool,
    names: dict[str, str],
) -> tuple[list[Placed], list[Placed], list[tuple[Placed, Placed]]]:
    """Pairs of equal keys in order; with `shared` only where a feature of the one is one of the other's."""
    waiting: dict[Hashable, list[Placed]] = defaultdict(list)
    for p in new:
        waiting[of_new(p)].append(p)
    pairs, left = [], []
    for p in old:
        fit = [q for q in waiting[of_old(p)] if not shared or _share(p[1].features, q[1].features, names)]
        if fit:
            waiting[of_old(p)].remove(fit[0])
            pairs.append((p, fit[0]))
        else:
            left.append(p)
    taken = {id(b[1]) for _, b in pairs}
    return left, [p for p in new if id(p[1]) not in taken], pairs


def _share(old: Iterable[str], new: Iterable[str], names: dict[str, str]) -> bool:
    old, now = set(old), {names.get(f, "") for f in new}
    return bool(old & now) or not old and not now


def _operation_change(
    a: Placed | None, b: Placed | None, setups: list[SetupPair], names: dict[str, str]
) -> OperationChange | None:
    if a is None or b is None:
        one = a or b
        assert one is not None
        op = one[1]
        what = "removed" if a else "added"
        return OperationChange(
            what=what,  # type: ignore[arg-type]
            name=op.name,
            old=op.id if a else None,
            new=None if a else op.id,
            features_old=op.features if a else [],
            features_new=[] if a else op.features,
            minutes_old=op.minutes if a else 0.0,
            minutes_new=0.0 if a else op.minutes,
            because=[f"{op.name} with {op.tool.id}, {op.minutes:.2f} min"],
        )
    because = _differences(a, b, setups, names)
    if not because:
        return None
    return OperationChange(
        what="changed",
        name=b[1].name,
        old=a[1].id,
        new=b[1].id,
        features_old=a[1].features,
        features_new=b[1].features,
        minutes_old=a[1].minutes,
        minutes_new=b[1].minutes,
        because=because,
    )


def _differences(a: Placed, b: Placed, setups: list[SetupPair], names: dict[str, str]) -> list[str]:
    """What is different, in words. Levels count by their height: where a model lies is no difference of its plan."""
    x, y = a[1], b[1]
    out = []
    if not any(s is a[0] and t is b[0] for s, t in setups):
        out.append(f"in another setup: {b[0].id} of the new plan, {a[0].id} of the old one")
    if x.tool.id != y.tool.id:
        out.append(f"cutter {y.tool.id} instead of {x.tool.id}")
    now = sorted(names.get(f, f) for f in y.features)
    if sorted(x.features) != now:
        out.append(f"cuts {len(y.features)} features instead of {len(x.features)}" if len(x.features) != len(now)
                   else "cuts other features")  # fmt: skip
    heights = [op.levels.top - op.levels.bottom for op in (x, y)]
    if abs(heights[0] - heights[1]) > SAME_MM:
        out.append(f"{heights[1]:.2f} mm high instead of {heights[0]:.2f}")
    if (x.passes.axial_count, x.passes.radial_count) != (y.passes.axial_count, y.passes.radial_count):
        out.append(
            f"{y.passes.axial_count} x {y.passes.radial_count} passes instead of "
            f"{x.passes.axial_count} x {x.passes.radial_count}"
        )
    if len(x.edges) != len(y.edges):
        out.append(f"{len(y.edges)} edges instead of {len(x.edges)}")
    for name, old, new, unit in (("speed", x.speed, y.speed, "rev/min"), ("feed", x.feed, y.feed, "mm/min")):
        if abs(old - new) > 0.005 * max(old, new):
            out.append(f"{name} {new:.0f} instead of {old:.0f} {unit}")
    if abs(x.minutes - y.minutes) > SAME_MINUTES:
        out.append(f"{y.minutes:.2f} min instead of {x.minutes:.2f}")
    return out


def _setup_change(a: Setup | None, b: Setup | None, operations: list[OperationChange], rotation: Matrix) -> SetupChange:
    mine = [
        c
        for c in operations
        if (a and c.old and c.old.startswith(f"{a.id}-")) or (b and c.new and c.new.startswith(f"{b.id}-"))
    ]
    count = {what: sum(c.what == what for c in mine) for what in ("added", "removed", "changed")}
    minutes = (a.minutes if a else 0.0, b.minutes if b else 0.0)
    because = []
    if a is None:
        because.append("a new setup: nothing was cut from here before")
    elif b is None:
        because.append("no longer needed: all that was cut from here is gone or cut from elsewhere")
    because += [f"{n} operation(s) {what}" for what, n in count.items() if n]
    if a and b and abs(minutes[0] - minutes[1]) > SAME_MINUTES:
        because.append(f"{minutes[1]:.2f} min instead of {minutes[0]:.2f}")
    one = a or b
    assert one is not None
    return SetupChange(
        old=a.id if a else None,
        new=b.id if b else None,
        direction=one.direction if a else apply(rotation, one.direction),
        minutes_old=minutes[0],
        minutes_new=minutes[1],
        operations_added=count["added"],
        operations_removed=count["removed"],
        operations_changed=count["changed"],
        because=because,
    )


def operations_of(plan: PlanDocument, feature: str) -> tuple[list[str], float]:
    """Ids of the operations that cut a feature, and its share of their minutes."""
    mine = [op for setup in plan.setups for op in setup.operations if feature in op.features]
    return [op.id for op in mine], sum(op.minutes / len(op.features) for op in mine)
