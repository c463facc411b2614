"""Operations on their way into the plan: where each is cut, and what must be done before it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from shared.features import HOLE_KINDS, Feature
from shared.plan import Operation

PHASES = ("face", "rough", "clear", "semi", "finish", "spot", "drill", "bore", "ream", "sink", "tap", "break")
"""First words of operation names in the order in which they are preferred where nothing else decides."""

EASING = ("chamfer", "edge_round")
"""Kinds of features that ease an edge."""


@dataclass
class Draft:
    """An operation with its slot (0-based setup), the features it serves, and the keys of drafts to be done before."""

    key: str
    slot: int
    operation: Operation
    features: list[str]
    after: set[str] = field(default_factory=set)
    first: bool = False
    last: bool = False

    @property
    def rank(self) -> tuple[int, float, str]:
        """Preferred order: face, rough, finish, holes, edges; larger cutters before smaller; then by key."""
        word = self.operation.name.split()[0].lower()
        phase = PHASES.index(word) if word in PHASES else PHASES.index("rough")
        if self.first or self.last:
            phase = -1 if self.first else len(PHASES)
        return phase, -self.operation.tool.DC, self.key


def drafts_of(name: str, slot: int, operations: Iterable[Operation], features: list[str], **flags: bool) -> list[Draft]:
    """Drafts of one recipe's operations: keys are `name:local id`, precedence is the recipe's own."""
    return [
        Draft(
            f"{name}:{op.id}",
            slot,
            own_copy(op),
            list(features),
            {f"{name}:{a}" for a in op.after},
            **flags,
        )
        for op in operations
    ]


def own_copy(operation: Operation) -> Operation:
    """An operation with lists, levels and passes of its own; the cutter, which nobody changes, is shared."""
    copy = operation.model_copy(
        update={"levels": operation.levels.model_copy(), "passes": operation.passes.model_copy()}
    )
    fields = copy.__dict__
    fields.update({name: list(value) for name, value in fields.items() if type(value) is list})
    return copy


def link(drafts: list[Draft], parents: dict[str, list[str]]) -> None:
    """Adds what the whole plan asks for: parents before children, facing first and edges last in their setup."""
    by_feature: dict[str, list[Draft]] = defaultdict(list)
    for draft in drafts:
        for feature in draft.features:
            by_feature[feature].append(draft)
    for draft in drafts:
        if draft.last:
            continue  # breaking an edge of a parent does not hold its children up
        for feature in draft.features:
            for parent in parents.get(feature, []):
                draft.after |= {d.key for d in by_feature[parent] if not d.last and feature not in d.features}
    for slot in {d.slot for d in drafts}:
        here = [d for d in drafts if d.slot == slot]
        first = {d.key for d in here if d.first}
        for draft in here:
            if not draft.first:
                draft.after |= first
            if draft.last:
                draft.after |= {d.key for d in here if not d.last}


def group_alike(drafts: list[Draft], features: dict[str, Feature]) -> list[Draft]:
    """Operations that are alike on equal holes of one setup become one that lists all the holes; so do chamfers and rounds.

    Alike: same setup, cutter, levels, passes, data and name, and the same place in their recipes; of chamfers and rounds
    whatever their length. A grouping that would make the order circular is not done.
    """
    out = _grouped(drafts, features, (*HOLE_KINDS, *EASING))
    return out or _grouped(drafts, features, HOLE_KINDS) or drafts


def _grouped(drafts: list[Draft], features: dict[str, Feature], kinds: Sequence[str]) -> list[Draft] | None:
    """The drafts with those of some kinds of features put together where they are alike; None where that is circular."""
    merged: dict[object, Draft] = {}
    alias: dict[str, str] = {}
    for draft in drafts:
        kind = features[draft.features[0]].kind if draft.features else ""
        key = _likeness(draft, whole=kind not in EASING) if kind in kinds else draft.key
        if key in merged:
            _join(merged[key], draft)
            alias[draft.key] = merged[key].key
        else:
            merged[key] = Draft(
                draft.key, draft.slot, own_copy(draft.operation), list(draft.features), set(draft.after),
                draft.first, draft.last,
            )  # fmt: skip
    out = list(merged.values())
    for draft in out:
        draft.after = {alias.get(a, a) for a in draft.after}
    if any(d.key in d.after for d in out) or not acyclic(out):
        return None
    for draft in out:
        if len(draft.features) > 1:
            what = "edges alike" if features[draft.features[0]].kind in EASING else "equal holes"
            draft.operation.because.append(f"{len(draft.features)} {what} in one go")
    return out


def _likeness(draft: Draft, *, whole: bool) -> str:
    """What operations have in common that are alike; `whole`: the length of their paths too."""
    op = draft.operation
    return "|".join(
        str(v)
        for v in (
            draft.slot, op.id, op.name, op.kind, op.tool.id, _close(op.levels.top), _close(op.levels.bottom),
            op.levels.break_through, *map(_close, op.passes.model_dump().values()), op.strategy, op.entry,
            round(op.speed, 3), round(op.feed, 3), _close(op.path_length) if whole else 0.0,
        )
    )  # fmt: skip


def _close(value: float) -> float:
    return round(value, 2) + 0.0


def _join(into: Draft, other: Draft) -> None:
    into.features += other.features
    into.after |= other.after
    op, more = into.operation, other.operation
    op.features = into.features
    op.faces = sorted({*op.faces, *more.faces})
    op.path_length += more.path_length
    op.minutes += more.minutes


def acyclic(drafts: list[Draft]) -> bool:
    """Whether some order keeps every `after`."""
    waiting = {d.key: {a for a in d.after} for d in drafts}
    while waiting:
        ready = [k for k, after in waiting.items() if not after & waiting.keys()]
        if not ready:
            return False
        for key in ready:
            del waiting[key]
    return True
