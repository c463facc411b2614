"""The setup problem in its own words: units to cut, directions, sides of the stock, ways to hold it. Checks itself."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

T = TypeVar("T")

Heights = Mapping[tuple[str, str], float]
"""(rest side, side) -> mm above the finished rest side."""
Cuts = tuple[tuple[str, int], ...]
"""Units, each with the direction it is cut from."""


@dataclass(frozen=True)
class Unit:
    """Features that are cut together, and what that asks for.

    `directions`: indices of the directions it can be cut from, best first. `after`: units cut before it, in an earlier
    setup or the same one. `uncovers`: per direction the unit that takes the raw layer off above it, `before` others that
    come before it only where it is cut from there. `cuts`: per
    direction the stock sides that it brings to size. `tools`, `minutes`: per direction, for the secondary goals.
    `opens`, `over`: per direction, how high its lowest cut lies above a finished rest side where it runs out over a side
    of the stock, or where the cutter comes in across that side; keys are (rest side, side), rest "" between ends. `ends`:
    per direction how much of the part's ends along an axis jaws leave free for strips across its corners.
    `slender`: directions from which a cutter mills deeper than it is stiff.
    """

    id: str
    directions: tuple[int, ...]
    after: frozenset[str] = frozenset()
    uncovers: Mapping[int, str] = field(default_factory=dict)
    cuts: Mapping[int, frozenset[str]] = field(default_factory=dict)
    tools: Mapping[int, frozenset[str]] = field(default_factory=dict)
    minutes: Mapping[int, float] = field(default_factory=dict)
    opens: Mapping[int, Heights] = field(default_factory=dict)
    over: Mapping[int, Heights] = field(default_factory=dict)
    before: Mapping[int, frozenset[str]] = field(default_factory=dict)
    ends: Mapping[int, Mapping[str, float]] = field(default_factory=dict)
    slender: frozenset[int] = frozenset()

    def waits(self, direction: int) -> frozenset[str]:
        """Units that come before this one where it is cut from a direction."""
        layer = self.uncovers.get(direction)
        here = self.before.get(direction, frozenset()) | ({layer} if layer else frozenset())
        return (self.after | here) - {self.id}


@dataclass(frozen=True)
class Mode:
    """A way to hold the workpiece: the directions it leaves open, and the sides it needs.

    `sides` must exist (raw, or cut flat before) and are not cut while held so. `grip`: the jaws hold the raw layer
    below the part on the rest side, so that the pair may be cut above them; only a first clamping can.
    `fixture`: rests and clamps on nothing that the plan knows of. `rotary`: the axis that a fourth axis turns about.
    `raw`: sides of these that hold only while they are raw and nothing has run out over them. `need`: mm above the
    finished rest side that jaws take up, with the gap above them; `below`: raw mm that the rest side still has under it.
    `ends`: the axis along the jaws, where no jaws at hand are short enough to leave both ends of the part free.
    `cost`: how little it is liked among equals, 0 best.
    """

    id: str
    directions: frozenset[int]
    rest: str | None = None
    pair: str | None = None
    between_ends: bool = False
    grip: bool = False
    fixture: bool = False
    rotary: str | None = None
    raw: frozenset[str] = frozenset()
    need: float = 0.0
    below: float = 0.0
    ends: str | None = None
    cost: int = 0

    @property
    def sides(self) -> frozenset[str]:
        """Sides that may not be cut while held so."""
        pair = set() if self.pair is None or self.grip else {"-" + self.pair, "+" + self.pair}
        return frozenset(pair | ({self.rest} if self.rest else set()))


@dataclass(frozen=True)
class EdgeGroup:
    """Sharp edges alike: broken once `units` are cut, in a setup from one of `directions`; `count` of them.

    `ahead`: (unit, direction) pairs: once that unit faces their side, a setup from there breaks them ahead of their wall.
    """

    units: frozenset[str]
    directions: frozenset[int]
    count: int
    ahead: frozenset[tuple[str, int]] = frozenset()


@dataclass(frozen=True)
class SetupProblem:
    """All that the setup search knows. `flat`: sides that are flat, so that they can be held, once they are cut."""

    directions: tuple[str, ...]
    units: tuple[Unit, ...]
    modes: tuple[Mode, ...]
    flat: frozenset[str] = frozenset()
    several_setups_a_clamping: bool = False
    edges: tuple[EdgeGroup, ...] = ()
    _made: dict[Hashable, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, made at the first call with this key."""
        if key not in self._made:
            self._made[key] = make()
        found: T = self._made[key]
        return found

    def __post_init__(self) -> None:
        names = {u.id for u in self.units}
        if len(names) != len(self.units):
            raise ValueError("two units share an id")
        for unit in self.units:
            if not unit.directions:
                raise ValueError(f"unit {unit.id} has no direction to be cut from")
            unknown = unit.after.union(unit.uncovers.values(), *unit.before.values()) - names
            if unknown:
                raise ValueError(f"unit {unit.id} waits for unknown units {sorted(unknown)}")
            if any(not 0 <= d < len(self.directions) for d in unit.directions):
                raise ValueError(f"unit {unit.id} names a direction that is not listed")

    def cuts_of(self, side: str) -> Cuts:
        """All cuts that take something off a side of the stock."""
        return self.once(
            ("cuts", side),
            lambda: tuple((u.id, d) for u in self.units for d in u.directions if side in u.cuts.get(d, frozenset())),
        )

    def only(self, ids: frozenset[str]) -> SetupProblem:
        """The same problem with some of the units; waiting for a unit left out passes on to what that one waited for."""
        by_id = {u.id: u for u in self.units}

        def waits(unit: Unit, seen: frozenset[str] = frozenset()) -> frozenset[str]:
            out: set[str] = set()
            for name in unit.after - seen:
                out |= {name} if name in ids else waits(by_id[name], seen | {name})
            return frozenset(out)

        kept = tuple(
            Unit(
                u.id, u.directions, waits(u) - {u.id}, {d: n for d, n in u.uncovers.items() if n in ids}, u.cuts, u.tools,
                u.minutes, u.opens, u.over, {d: n & ids for d, n in u.before.items()}, u.ends,
                u.slender,
            )
            for u in self.units
            if u.id in ids
        )  # fmt: skip
        return SetupProblem(self.directions, kept, self.modes, self.flat, self.several_setups_a_clamping)


@dataclass(frozen=True)
class Slot:
    """One setup of the answer: direction index, mode, whether the clamping of the setup before goes on, units."""

    direction: int
    mode: Mode
    same_clamping: bool
    units: tuple[str, ...]


@dataclass(frozen=True)
class SetupSolution:
    """Setups in order with what is proven of their number, and the units that force it; clampings and their bound."""

    slots: tuple[Slot, ...]
    lower_bound: int
    status: str
    core: tuple[str, ...] = ()
    clamping_forces: bool = False
    notes: tuple[str, ...] = ()
    clampings: int = 0
    least_clampings: int = 0
