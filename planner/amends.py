"""What the simulation says against a plan becomes a limit for the next one: smaller cutters, or another side.

A recipe knows its feature and the walls it names, not all that stands beside the way its cutter takes. The simulation
does: a cutter that takes material off the finished part is too large there, or the side is wrong. The feature is then
planned again without it, until nothing is cut off the part, or nothing is left to try; what was refused is said.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from shared.cutters import CutterTable
from shared.features import FeaturesDocument
from shared.findings import Finding
from shared.plan import Operation, PlanDocument, Setup, Tool
from shared.proof import NO_ROOM, Collision
from shared.units import Vector

ROUNDS = 10
"""Plans that are made again at most; fewer of a part with many operations."""
LONG = 400
"""Operations of all plans that are made again, in sum: two plans are made again in any case."""
LEAST_GOUGE = 0.1
"""Mm3 off the part below which a cut is no reason to plan again: chords against arcs leave as much; said as a fault all
the same."""
LEAST_REST = 1.0
"""Mm3 left on followed faces below which no smaller cutter is tried."""
SHRINK = 0.5
"""Share of its diameter that a cutter is cut down to at most from the second refusal of its feature on."""
TRIES = 3
"""Refusals of like cutters of a feature from one side after which the side is shut."""
GAIN = 0.8
"""Share of what an operation cut off the part before that it must not reach with a smaller cutter, or the side is shut."""
SHUT_LAST = 3
"""Rounds beyond which the last two, not the last alone, shut the sides that are still wrong instead of trying smaller."""
SMALLEST = 0.5
"""Mm: below this no cutter is asked for, the side itself is refused."""
MILLS = ("facemill", "endmill", "bullnose_endmill", "ball_endmill")
BALLS = ("ball_endmill",)
"""A ball that leaves too much on a surface says nothing of the end mill that roughs it."""
FORMS = ("countersink", "corner_rounding_mill")

Place = tuple[str, Vector]
"""A feature's id, and the direction that it is cut from, rounded."""


@dataclass(frozen=True)
class Limit:
    """What is refused to a feature from one side. `largest`: mm that cutters of `kinds` stay below; 0 shuts the side.

    `name`: the operation's, and `volume` the mm3 that it cut off the part, or left on it. `soft`: the side is left only
    where the feature has another one. `rest`: a rest is the reason, which never shuts a side.
    """

    kinds: tuple[str, ...]
    largest: float
    why: str
    name: str = ""
    volume: float = 0.0
    faces: tuple[int, ...] = ()
    soft: bool = False
    rest: bool = False


@dataclass(frozen=True)
class Limits:
    """All refusals of one plan, by place."""

    by_place: tuple[tuple[Place, Limit], ...] = ()

    def at(self, feature: str, direction: Vector) -> list[Limit]:
        """What is refused to a feature from a direction: of limits for the same cutters the narrowest."""
        wanted = (feature, _rounded(direction))
        narrowest: dict[tuple[str, ...], Limit] = {}
        for place, limit in self.by_place:
            if place == wanted and (limit.kinds not in narrowest or limit.largest <= narrowest[limit.kinds].largest):
                narrowest[limit.kinds] = limit
        return list(narrowest.values())

    def table(self, features: list[str], direction: Vector, table: CutterTable) -> CutterTable:
        """The cutters that are left for features from a direction."""
        found = [x for name in features for x in self.at(name, direction) if not x.soft]
        if not found:
            return table
        kept = [t for t in table.tools if all(t.kind not in x.kinds or size_of(t) < x.largest - 1e-6 for x in found)]
        return replace(table, tools=tuple(kept))

    def findings(self) -> Iterator[Finding]:
        """What was refused, once for each feature, side and sort of cutter."""
        for feature, direction in dict.fromkeys(place for place, _ in self.by_place):
            for limit in self.at(feature, direction):
                yield Finding(
                    code="refused_by_simulation",
                    message=f"{feature}: {limit.why}",
                    hint="this plan does without it",
                    features=[feature],
                    faces=list(limit.faces),
                )


def size_of(tool: Tool) -> float:
    """The largest diameter that cuts, mm."""
    return tool.DCX or tool.DC


def amended(first: PlanDocument, features: FeaturesDocument, attempt: Callable[[Limits], PlanDocument]) -> PlanDocument:
    """The soundest of the given plan and those made again after what the simulation refuses; the given one among equals.

    `attempt` makes and simulates a plan within limits.
    """
    limits, best, last = Limits(), first, first
    operations = max(1, sum(len(s.operations) for s in first.setups))
    rounds = max(2, min(ROUNDS, LONG // operations))
    for k in range(rounds):
        more = _learnt(limits, last, features, at_once=k >= rounds - (2 if rounds > SHUT_LAST else 1))
        if more == limits:
            break
        limits, last = more, attempt(more)
        if _faults(last) < _faults(best):
            best = last
    return best


def _faults(plan: PlanDocument) -> tuple[float, int, int, float, int, int, int]:
    """How unsound a plan is, smaller is better.

    Mm3 cut off the part; what meets that must not; features left out; mm3 left that nothing explains; setups that no vise holds, all setups; last what
    meets a holder that is only assumed.
    """
    proof = plan.proof
    left = sum(lump.volume for lump in proof.left if lump.named is None)
    hits = [c for c in proof.collisions if c.operation]
    none = sum(NO_ROOM in why for why in (proof.simulation.not_cut.values() if proof.simulation else ()))
    return (
        round(proof.gouged or 0.0, 1),
        sum(not c.assumed for c in hits) + none,
        len(plan.unplanned),
        round(left, 0),
        sum(c.device == "fixture" for c in plan.clampings),
        len(plan.setups),
        len({c.operation for c in hits if c.assumed}),
    )


def _learnt(limits: Limits, plan: PlanDocument, features: FeaturesDocument, *, at_once: bool) -> Limits:
    """The limits with what the simulation of a plan made within them adds. `at_once`: sides are shut, nothing is tried smaller."""
    known = list(limits.by_place)
    for setup in plan.setups:
        for op in setup.operations:
            limit = _limit(op, setup, plan, limits) if op.features else None
            if limit and at_once:
                limit = None if limit.rest else replace(limit, largest=0.0)
            for name in op.features:
                if limit is None:
                    break
                if not limit.soft or _another_side(name, setup.direction, features, limits):
                    known.append(((name, _rounded(setup.direction)), limit))
    return Limits(tuple(dict.fromkeys(known)))


def _limit(op: Operation, setup: Setup, plan: PlanDocument, limits: Limits) -> Limit | None:
    """What the simulation refuses of one operation; None where it is sound."""
    lumps = [g for g in plan.proof.gouges if g.operation == op.id]
    volume = sum(g.volume for g in lumps)
    if volume > LEAST_GOUGE:
        deep = max(g.thickness for g in lumps)
        faces = tuple(sorted({g.face for g in lumps if g.face is not None}))
        text = f"cuts {volume:.1f} mm3 off the part, up to {deep:.2f} mm deep"
        text += f" at face {', '.join(map(str, faces[:6]))}" if faces else ""
        kinds, largest = _smaller(op, setup, deep, volume, limits)
        return Limit(kinds, largest, f"{_from(setup)} a {op.tool.id} ({op.name}) {text}", op.name, volume, faces)
    simulation = plan.proof.simulation
    if simulation and NO_ROOM in simulation.not_cut.get(op.id, ""):
        kinds, largest = _smaller(op, setup, 0.0, 0.0, limits)
        return Limit(kinds, largest, f"{_from(setup)} a {op.tool.id} ({op.name}) fits nowhere in its region", op.name)
    if op.kind == "freeform_operation" and op.faces and (limit := _too_large_for_its_faces(op, setup, plan, limits)):
        return limit
    hit = next((c for c in plan.proof.collisions if c.operation == op.id), None)
    return None if hit is None else Limit((), 0.0, f"{_from(setup)} {_said(op, hit)}", soft=True)


def _too_large_for_its_faces(op: Operation, setup: Setup, plan: PlanDocument, limits: Limits) -> Limit | None:
    """A cutter that follows faces keeps off the rest of the part: what it does not come near to stays, and is less of a smaller one."""
    lumps = [x for x in plan.proof.left if x.operation == op.id and x.named is None]
    volume = sum(x.volume for x in lumps)
    if volume < LEAST_REST:
        return None
    kinds, largest = _smaller(op, setup, 0.0, volume, limits)
    text = f"leaves {volume:.1f} mm3 on its faces, up to {max(x.thickness for x in lumps):.2f} mm thick"
    why = f"{_from(setup)} a {op.tool.id} ({op.name}) {text}"
    return Limit(kinds, largest, why, op.name, volume, rest=True) if largest else None


def _smaller(op: Operation, setup: Setup, by: float, volume: float, limits: Limits) -> tuple[tuple[str, ...], float]:
    """Which cutters are refused, and from what size on; 0, the side itself, where smaller ones do not help.

    `by`: mm that the cutter has too much. `volume`: mm3 that it cut off the part.
    """
    groups = (BALLS, MILLS, FORMS) if op.kind == "freeform_operation" and not by else (MILLS, FORMS)
    kinds = next((group for group in groups if op.tool.kind in group), ())
    if not kinds:
        return (op.tool.kind,), 0.0
    feature = op.features[0]
    place = (feature, _rounded(setup.direction))
    before = [x for at, x in limits.by_place if at == place and x.kinds == kinds and x.largest]
    size = size_of(op.tool)
    largest = min(size, size - by, SHRINK * size if before else math.inf)
    no_better = any(x.name == op.name and 0.0 < GAIN * x.volume <= volume for x in before)
    tried = len({x.largest for x in before if x.name == op.name}) >= TRIES - 1
    return kinds, 0.0 if no_better or tried or largest < SMALLEST else largest


def _from(setup: Setup) -> str:
    return "from (" + ", ".join(f"{c + 0.0:.3g}" for c in setup.direction) + ")"


def _said(op: Operation, hit: Collision) -> str:
    return f"{op.tool.id} ({op.name}) is in the way: {hit.message.split(': ', 1)[-1]}"


def _another_side(name: str, direction: Vector, features: FeaturesDocument, limits: Limits) -> bool:
    """Whether the feature is seen from a side that nothing was said against yet."""
    feature = next((f for f in features.features if f.id == name), None)
    views = feature.views if feature else []
    return any(
        v.reachable and _rounded(v.direction) != _rounded(direction) and not limits.at(name, v.direction) for v in views
    )


def _rounded(direction: Vector) -> Vector:
    x, y, z = (round(c, 4) + 0.0 for c in direction)
    return x, y, z
