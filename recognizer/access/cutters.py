"""The cutters of a file as arrays: which are stiff and long enough at a depth, and which shapes fit a bore or a cone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from shared.cutters import CutterTable, default_cutters
from shared.errors import UsageError
from shared.plan import Tool
from shared.reach import ReachLimits, Touch

Array = np.ndarray
HOLDERS = ((10.0, (28.0, 50.0)), (20.0, (50.0, 60.0)), (1e9, (63.0, 80.0)))
"""Holder assumed where the file gives none, by DC: diameter and length of a collet nut (ISO 15488 sizes, from memory)."""
MILLS = ("endmill", "bullnose_endmill", "ball_endmill")
DRILLS = ("twist_drill", "reamer", "boring_tool")
CONES = ("twist_drill", "center_drill", "countersink")
SIZE_MM = 0.011
ANGLE_DEG = 0.6
SPREAD = (20.0, 16.0, 12.0, 10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.0)
"""Sizes whose shares are written out where the user names none."""


def holder_of(tool: Tool) -> list[tuple[float, float]]:
    """Cylinders (diameter, length) behind the usable length: the file's, or the assumed collet nut."""
    return list(tool.holder) or [next(step for size, step in HOLDERS if size >= tool.DC)]


def usable_length(tool: Tool) -> float:
    """LU, or three diameters where the file gives none (common practice, no source)."""
    return tool.LU if tool.LU is not None else max(3 * tool.DC, tool.APMX or 0.0)


def round_edged(tool: Tool) -> bool:
    """Whether a milling cutter has an edge radius: it leaves that radius at the foot of a wall."""
    return tool.kind in MILLS and tool.RE > 0


@dataclass(frozen=True)
class Stack:
    """What stands behind a cutter's edge: cylinders (radius, mm above the tip at which it begins), each wider than those before.

    length: how far the cutter may stand out of its holder.
    """

    length: float
    steps: tuple[tuple[float, float], ...]


class Group:
    """Mills with the same holder, smallest first."""

    def __init__(self, key: tuple, mills: list[Tool], limits: ReachLimits) -> None:
        self.key, self.mills = key, mills
        self.diameter = np.array([t.DC for t in mills])
        self.length = np.array([min(usable_length(t), limits.fail * t.DC) for t in mills])
        self.holder = max((d / 2 for t in mills[:1] for d, _ in holder_of(t)), default=0.0)
        self.largest = float(self.diameter.max(initial=0.0)) / 2
        longest, best = -1, []
        for i, length in enumerate(self.length):
            longest = i if longest < 0 or length >= self.length[longest] else longest
            best.append(longest)
        self._longest = np.array([-1, *best])

    def first_deep(self, depth: Array) -> Array:
        """(n,) index of the smallest that goes so deep; -1 where none does."""
        if not len(self.mills):
            return np.full(len(depth), -1)
        # Longest of all up to each size: the first that is long enough is the smallest.
        most = np.maximum.accumulate(self.length)
        at = np.searchsorted(most, depth - 1e-6)
        return np.where(at < len(most), at, -1)

    def smallest_radius(self, depth: Array) -> Array:
        """(n,) radius of the smallest that goes so deep; inf where none does."""
        at = self.first_deep(depth)
        return np.where(at >= 0, self.diameter[at] / 2, np.inf) if len(self.mills) else np.full(len(depth), np.inf)

    def longest_within(self, room: Array) -> Array:
        """(n,) index of the longest of at most this radius; -1 where none is so small."""
        return self._longest[np.searchsorted(self.diameter / 2, room, side="right")]


def shop_of(table: CutterTable | None, limits: ReachLimits) -> Shop:
    """The cutters of a table; those of the default table, which nearly every part asks for, are put in order once."""
    if table is not None and table is not default_cutters():
        return Shop(table, limits)
    shop = _usual(limits.model_dump_json())
    shop.forget()
    return shop


@lru_cache(maxsize=4)
def _usual(limits: str) -> Shop:
    return Shop(default_cutters(), ReachLimits.model_validate_json(limits))


class Shop:
    """The file's cutters, by what reach asks of them."""

    def __init__(self, table: CutterTable, limits: ReachLimits) -> None:
        self.table, self.limits = table, limits
        square = (t for t in table.of("endmill") if not round_edged(t))
        self._touches: dict[tuple[str, float], Touch] = {}
        self._keys: dict[str, tuple[Tool, tuple]] = {}
        self.mills = sorted(square, key=lambda t: (t.DC, usable_length(t), t.id))

    def forget(self) -> None:
        """Lets go of what belongs to one part."""
        self._touches.clear()

    @cached_property
    def by_id(self) -> dict[str, Tool]:
        """All cutters by their ids."""
        return {t.id: t for t in self.table.tools}

    @cached_property
    def bulls(self) -> list[Tool]:
        """Mills with an edge radius, smallest first, but for those that another one replaces: no thicker, no shorter and of no
        larger radius. Where square mills do it all, none is left.
        """
        found = [t for t in self.table.of("endmill", "bullnose_endmill") if round_edged(t)]
        found.sort(key=lambda t: (t.DC, t.RE, -self.length_of(t), t.id))
        measures = [(t.DC, self.length_of(t), t.RE) for t in [*self.mills, *found]]
        size, length, edge = np.array(measures).reshape(-1, 3).T
        kept, ids = [], np.arange(len(self.mills))
        for i, t in enumerate(found, len(self.mills)):
            if not ((size[ids] <= size[i]) & (length[ids] >= length[i]) & (edge[ids] <= edge[i])).any():
                kept.append(t)
                ids = np.append(ids, i)
        return kept

    @cached_property
    def largest(self) -> float:
        """Largest radius of a flat end mill or face mill."""
        sizes = [t.DC / 2 for t in self.table.of("endmill", "bullnose_endmill")]
        return max(sizes, default=10.0)

    @cached_property
    def groups(self) -> list[Group]:
        """Flat end mills by their holders."""
        found: dict[tuple, list[Tool]] = {}
        for t in self.mills:
            found.setdefault(self.key_of(t), []).append(t)
        return [Group(key, mills, self.limits) for key, mills in found.items()]

    def group_of(self, tool: Tool) -> Group | None:
        """The flat end mills with the same holder."""
        return next((g for g in self.groups if g.key == self.key_of(tool)), None)

    @cached_property
    def all(self) -> Group:
        """All flat end mills, whatever their holders."""
        return Group(("all",), self.mills, self.limits)

    @cached_property
    def balls(self) -> Group:
        """Ball cutters; the widest of their holders stands for all."""
        found = sorted(self.table.of("ball_endmill"), key=lambda t: (t.DC, usable_length(t), t.id))
        group = Group(("balls",), found, self.limits)
        group.holder = max((d / 2 for t in found for d, _ in holder_of(t)), default=0.0)
        return group

    def smallest_radius(self, depth: Array) -> Array:
        """(n,) radius of the smallest flat end mill that goes so deep; inf where none does."""
        return self.all.smallest_radius(depth)

    @cached_property
    def _by_size(self) -> tuple[list[Tool], Array, Array, Array]:
        """Flat end mills from the largest down, of a size the shortest first: radius, length, and which group."""
        mills = sorted(self.mills, key=lambda t: (-t.DC, usable_length(t), t.id))
        place = {g.key: k for k, g in enumerate(self.groups)}
        group = np.array([place[self.key_of(t)] for t in mills], int)
        return mills, np.array([t.DC / 2 for t in mills]), np.array([self.length_of(t) for t in mills]), group

    def largest_mills(self, radius: Array, needs: Array) -> list[Tool | None]:
        """For each the largest flat end mill of at most this radius (n,) that is long enough for its holder; the shortest of
        that size. needs: (n, groups) stick-out by holders' groups.
        """
        mills, size, length, group = self._by_size
        if not mills:
            return [None] * len(radius)
        good = (radius[:, None] + 1e-3 >= size) & (length >= needs[:, group] - 1e-6)
        first = good.argmax(axis=1).tolist()
        return [mills[k] if ok else None for k, ok in zip(first, np.any(good, axis=1).tolist(), strict=True)]

    def largest_mill(self, radius: float, needs: dict[tuple, float]) -> Tool | None:
        """The same for one; needs by key of the holders' groups."""
        row = np.array([[needs[g.key] for g in self.groups]])
        return self.largest_mills(np.array([radius]), row)[0]

    def smallest_mill(self, needs: dict[tuple, float]) -> Tool | None:
        """The smallest flat end mill that is long enough for its holder, of a size the shortest."""
        mills, size, length, group = self._by_size
        if not mills:
            return None
        good = length >= np.array([needs[g.key] for g in self.groups])[group] - 1e-6
        if not good.any():
            return None
        return mills[int(np.flatnonzero(good & (size == size[good].min()))[0])]

    def touch(self, cutter: str, share: float) -> Touch:
        """The document's words for a cutter's share; most are all or nothing, and the same for many faces."""
        if (cutter, share) not in self._touches:
            self._touches[cutter, share] = Touch.model_construct(cutter=cutter, share=share)
        return self._touches[cutter, share]

    @cached_property
    def widest(self) -> dict[tuple, float]:
        """Largest radius of the flat end mills of each group of holders, by its key."""
        return {g.key: g.largest for g in self.groups}

    def key_of(self, tool: Tool) -> tuple:
        """Key of the group of a tool's holder."""
        if tool.id not in self._keys or self._keys[tool.id][0] is not tool:
            self._keys[tool.id] = tool, tuple(holder_of(tool))
        return self._keys[tool.id][1]

    @cached_property
    def reach(self) -> float:
        """How far beside the part anything of a cutter or its holder gets, mm."""
        holders = {step for t in self.table.tools for step in (t.holder or ())} | {step for _, step in HOLDERS}
        return max([self.largest, *(t.DC / 2 for t in self.table.tools), *(d / 2 for d, _ in holders)]) * 2

    def length_of(self, tool: Tool) -> float:
        """How far it may stand out."""
        return min(usable_length(tool), self.limits.fail * tool.DC)

    def stack(self, tool: Tool) -> Stack:
        """The cylinders behind its edge, each wider than those before."""
        steps, at, widest = [], self.length_of(tool), tool.DC / 2
        for diameter, long in holder_of(tool):
            if diameter / 2 > widest:
                widest = diameter / 2
                steps.append((widest, at))
            at += long
        return Stack(self.length_of(tool), tuple(steps))

    def bore_cutter(self, diameter: float, depth: float) -> Tool | None:
        """A drill, reamer or boring tool that makes a cylinder of this diameter so deep."""
        for tool in self.table.of(*DRILLS):
            top = tool.DCX if tool.kind == "boring_tool" and tool.DCX else tool.DC
            if (
                tool.DC - SIZE_MM <= diameter <= top + SIZE_MM
                and min(usable_length(tool), self.limits.drill_fail * diameter) >= depth
            ):
                return tool
        return None

    def cone_cutter(self, angle: float, small: float, large: float, depth: float) -> Tool | None:
        """A drill, spot drill or countersink whose point makes a cone of this included angle and these end diameters."""
        for tool in self.table.of(*CONES):
            widest = tool.DCX or tool.DC
            tip = 0.0 if tool.kind != "countersink" else tool.DC
            fits = tip <= small + SIZE_MM and widest >= large - SIZE_MM
            if tool.SIG and abs(tool.SIG - angle) <= ANGLE_DEG and fits and usable_length(tool) >= depth:
                return tool
        return None

    def named(self, ids: Sequence[str]) -> list[Tool]:
        """These cutters. Raises UsageError for one that the table does not hold."""
        known = self.by_id
        for name in ids:
            if name not in known:
                hint = f"known, among others: {', '.join(list(known)[:8])}"
                raise UsageError(f"The cutter table has no cutter '{name}'.", hint, "--cutters")
        return [known[name] for name in ids]

    def spread(self) -> list[Tool]:
        """Ten end mills of usual sizes, the longest of each, largest first; with an edge radius where there is no square one."""
        mills = self.mills or self.bulls
        out: list[Tool] = []
        for size in SPREAD:
            same = [t for t in mills if abs(t.DC - size) < SIZE_MM]
            if same:
                out.append(max(same, key=lambda t: (usable_length(t), t.id)))
        if not out:
            sizes = sorted({t.DC for t in mills}, reverse=True)[:10]
            out = [max((t for t in mills if size == t.DC), key=usable_length) for size in sizes]
        return out
