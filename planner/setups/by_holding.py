"""Whether some number of setups will do where each setup is a clamping of its own: exact, without a solver.

With directions and ways to hold given slot after slot, what remains of the rules says of single units in which slots they
are not cut, and what waits for what. Then cutting everything as early as it may be cut is never worse, so one pass tells
whether all gets done. Rules that say "not both" are split into two ways to hold: one without the first, one without the
second. The sequences of directions that order allows are gone through; in each, what can be cut in one slot only rules
out ways to hold, and these rule out slots of units, until nothing changes or nothing is left.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from copy import copy
from dataclasses import dataclass
from functools import reduce
from itertools import chain
from operator import and_

from planner.setups.by_order import Sets
from planner.setups.data import Cuts, Mode, SetupProblem, Slot
from planner.setups.jaws import clashing, eating, end_sides, unlifting
from planner.setups.rules.fixtures import anywhere, has_vise, needs_fixture, where_forced
from planner.setups.variables import Variables

MAX_STEPS = 1_000
"""Sequences that are tried before the search gives up: about a tenth of a second."""
Policy = Callable[[Variables], None]
Masks = tuple[int, ...]
"""Units as bits for each direction."""


@dataclass(frozen=True)
class Hold:
    """A mode in one slot: units not cut in it, not cut before it (by the direction that they are cut from), not after it."""

    mode: Mode
    now: int
    before: Masks
    after: int = 0

    def asks_less(self, other: Hold) -> bool:
        """Whether all that it keeps from being cut the other one keeps too. A fixture is not taken for a better vise."""
        if self.mode.fixture and not other.mode.fixture:
            return False
        pairs = ((self.now, other.now), (self.after, other.after), *zip(self.before, other.before, strict=True))
        return all(not mine & ~theirs for mine, theirs in pairs)


class Holding:
    """The holding rules of a problem, as sets of units by slot."""

    def __init__(self, problem: SetupProblem, policy: Policy) -> None:
        self.problem, self.policy, self.sets = problem, policy, Sets(problem)
        self.range = range(len(problem.directions))
        self.first = [self._holds(d, first=True) for d in self.range]
        self.later = [self._holds(d, first=False) for d in self.range]

    def only(self, ids: frozenset[str]) -> Holding:
        """The same for some of the units."""
        part = copy(self)
        part.problem = self.problem.only(ids)
        part.sets = Sets(part.problem, self.sets.bit)
        there = part.sets.all
        part.first, part.later = (
            [[h for h in row if not h.after & ~there] for row in x] for x in (self.first, self.later)
        )
        return part

    def _masks(self, *sorts: Cuts) -> Masks:
        """The units of cuts, by direction."""
        out = [0] * len(self.range)
        for name, d in chain(*sorts):
            out[d] |= self.sets.bit[name]
        return tuple(out)

    def _holds(self, d: int, *, first: bool) -> list[Hold]:
        """Ways to hold a slot from a direction, without those that ask for more than another one of the same kind."""
        found = [h for m in self.problem.modes if d in m.directions for h in self._ways(m, d, first)]
        out: list[Hold] = []
        for hold in found:
            if not any(kept.asks_less(hold) for kept in out):
                out = [kept for kept in out if not hold.asks_less(kept)] + [hold]
        return out

    def _ways(self, mode: Mode, d: int, first: bool) -> Iterable[Hold]:
        none = (0,) * len(self.range)
        if mode.fixture:
            if self.policy is anywhere or not has_vise(self.problem, mode.directions):
                return [Hold(mode, 0, none)]
            forced = [u for u in self.problem.units if self.policy is where_forced and needs_fixture(self.problem, u)]
            bits = [self.sets.bit[u.id] for u in forced if d in u.directions]
            return [Hold(mode, 0, (bit,) * len(self.range), bit) for bit in bits]
        gone, problem = self._gone(mode), self.problem
        now = gone[d] | self._masks(clashing(problem, mode, "yes"), *map(problem.cuts_of, sorted(mode.sides)))[d]
        plain = Hold(mode, now, none if first else gone)
        return [h for one in self._lifted(plain, d, first) for h in self._one_end(one, d)]

    def _gone(self, mode: Mode) -> Masks:
        """Cuts that take away for good what a mode holds."""
        lasting = mode.sides - self.problem.flat | mode.sides & mode.raw | ({mode.rest or ""} if mode.grip else set())
        eaten = eating(self.problem, mode) if mode.raw or mode.grip else ()
        return self._masks(eaten, *map(self.problem.cuts_of, sorted(lasting)))

    def _lifted(self, hold: Hold, d: int, first: bool) -> list[Hold]:
        """Cuts that clear the jaws only while raw stock lies below: not made, or what takes that away is not made before."""
        mode = hold.mode
        low = 0 if first else self._masks(clashing(self.problem, mode, "while_raw"))[d]
        if not low:
            return [hold]
        kept = tuple(a | b for a, b in zip(hold.before, self._masks(unlifting(self.problem, mode)), strict=True))
        return [Hold(mode, hold.now, kept), Hold(mode, hold.now | low, hold.before)]

    def _one_end(self, hold: Hold, d: int) -> list[Hold]:
        """Of the two ends beside jaws that are too wide, only one is cut."""
        ends = end_sides(hold.mode)
        if ends is None:
            return [hold]
        cuts = [self._masks(self.problem.cuts_of(side))[d] for side in ends]
        if not all(cut & ~hold.now for cut in cuts):
            return [hold]
        return [Hold(hold.mode, hold.now | cut, hold.before) for cut in cuts]


@dataclass(frozen=True)
class Within:
    """Setups that do, or None; whether it is proven that there are none (else steps ran out); steps that it took."""

    slots: tuple[Slot, ...] | None
    never: bool
    steps: int


def within(holding: Holding, count: int, max_steps: int = MAX_STEPS) -> Within:
    """Whether `count` setups cut all units, for problems in which each setup is a clamping of its own.

    The setups are the first that are found, not the best ones.
    """
    assert not holding.problem.several_setups_a_clamping
    search = _Search(holding, max_steps)
    found = search.go_on((), 0, count)
    return Within(search.slots() if found else None, not found and search.steps < max_steps, search.steps)


class _Search:
    """Sequences of directions in depth, then the ways to hold their slots."""

    def __init__(self, holding: Holding, max_steps: int) -> None:
        self.holding, self.sets, self.max_steps, self.steps = holding, holding.sets, max_steps, 0
        self.known: dict[tuple[int, int], bool] = {}
        self.found: list[tuple[int, Hold, int]] = []

    def go_on(self, directions: tuple[int, ...], done: int, left: int) -> bool:
        """Whether a start, after which order alone allows `done`, can be gone on with to the end."""
        if not left:
            return self.hold(directions, self._rows(directions))
        return any(
            self.in_time(after, left - 1) and self.go_on((*directions, d), after, left - 1)
            for d in self.holding.range
            for after in (self.sets.after(done, d),)
        )

    def in_time(self, done: int, left: int) -> bool:
        """Whether order alone allows the rest in so many slots."""
        if done == self.sets.all or not left:
            return done == self.sets.all
        key = (done, left)
        if key not in self.known:
            self.known[key] = any(
                after != done and self.in_time(after, left - 1)
                for after in (self.sets.after(done, d) for d in self.holding.range)
            )
        return self.known[key]

    def _rows(self, directions: tuple[int, ...]) -> list[list[Hold]]:
        return [(self.holding.later if k else self.holding.first)[d] for k, d in enumerate(directions)]

    def hold(self, directions: tuple[int, ...], rows: list[list[Hold]]) -> bool:
        """Whether some of the ways to hold each slot let all units be cut; `found` are then the slots."""
        self.steps += 1
        if self.steps >= self.max_steps:
            return False
        slots = range(len(directions))
        barred = [0] * len(directions)
        while True:
            allowed = self._allowed(directions, barred)
            if allowed is None:
                return False
            fewer = _fitting(directions, rows, allowed)
            if not all(fewer):
                return False
            closed = [_barred(directions, fewer, k) | barred[k] for k in slots]
            if closed == barred:
                break
            rows, barred = fewer, closed
        open_ = [k for k in slots if len(rows[k]) > 1]
        if not open_:
            self._keep(directions, rows, barred)
            return True
        k = min(open_, key=lambda k: len(rows[k]))
        return any(self.hold(directions, [*rows[:k], [hold], *rows[k + 1 :]]) for hold in rows[k])

    def _allowed(self, directions: tuple[int, ...], barred: list[int]) -> list[int] | None:
        """Units that can be cut in each slot, as bits; None where not all can be."""
        done, out = 0, []
        for d, shut in zip(directions, barred, strict=True):
            done = self.sets.after(done, d, shut)
            out.append(self.sets.open_to(done, d) & ~shut)
        return out if done == self.sets.all else None

    def _keep(self, directions: tuple[int, ...], rows: list[list[Hold]], barred: list[int]) -> None:
        done = 0
        for d, (hold,), shut in zip(directions, rows, barred, strict=True):
            after = self.sets.after(done, d, shut)
            self.found.append((d, hold, after & ~done))
            done = after

    def slots(self) -> tuple[Slot, ...]:
        """The setups that were found."""
        units, bit = self.holding.problem.units, self.sets.bit
        return tuple(
            Slot(d, hold.mode, False, tuple(u.id for u in units if bit[u.id] & here)) for d, hold, here in self.found
        )


def _fitting(directions: tuple[int, ...], rows: list[list[Hold]], allowed: list[int]) -> list[list[Hold]]:
    """The ways to hold each slot without those that bar a unit from the only slot that it can be cut in."""
    once, twice = 0, 0
    for here in allowed:
        twice |= once & here
        once |= here
    only = [here & ~twice for here in allowed]
    return [
        [
            h
            for h in row
            if not h.now & only[k]
            and not any(h.before[d] & must for d, must in zip(directions[:k], only[:k], strict=True))
            and not (h.after and any(h.after & must for must in only[k + 1 :]))
        ]
        for k, row in enumerate(rows)
    ]


def _barred(directions: tuple[int, ...], rows: list[list[Hold]], k: int) -> int:
    """Units that every way to hold slot k, or every one of some other slot, bars from slot k."""
    d = directions[k]
    barred = reduce(and_, [h.now for h in rows[k]])
    for row in rows[k + 1 :]:
        barred |= reduce(and_, [h.before[d] for h in row])
    for row in rows[:k]:
        barred |= reduce(and_, [h.after for h in row])
    return barred
