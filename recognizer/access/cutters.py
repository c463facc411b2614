"""The cutters of a file as arrays: which are stiff and long enough at a depth, and which shapes fit a bore or a cone."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from shared.cutters import CutterTable
from shared.errors import UsageError
from shared.plan import Tool
from shared.reach import ReachLimits

Array = np.ndarray
HOLDERS = ((10.0, (28.0, 50.0)), (20.0, (50.0, 60.0)), (1e9, (63.0, 80.0)))
"""Holder assumed where the file gives none, by DC: diameter and length of a collet nut (ISO 15488 sizes, from memory)."""
DRILLS = ("twist_drill", "reamer", "boring_tool")
CONES = ("twist_drill", "center_drill", "countersink")
SIZE_MM = 0.011
ANGLE_DEG = 0.6
SPREAD = (20.0, 16.0, 12.0, 10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.0)
"""Sizes whose shares are written out where the user names none."""


def holder_of(tool: Tool) -> list[tuple[float, float]]:
    """Cylinders (diameter, length) behind the usable length: the file's, or the assumed collet nut."""
    return tool.holder or [next(step for size, step in HOLDERS if size >= tool.DC)]


def usable_length(tool: Tool) -> float:
    """LU, or three diameters where the file gives none (common practice, no source)."""
    return tool.LU if tool.LU is not None else max(3 * tool.DC, tool.APMX or 0.0)


class Shop:
    """The file's cutters, by what reach asks of them."""

    def __init__(self, table: CutterTable, limits: ReachLimits) -> None:
        self.table, self.limits = table, limits
        self.mills = sorted(table.of("endmill"), key=lambda t: (t.DC, usable_length(t), t.id))

    @cached_property
    def diameter(self) -> Array:
        """DC of the flat end mills, smallest first."""
        return np.array([t.DC for t in self.mills])

    @cached_property
    def length(self) -> Array:
        """How deep each may go: its usable length, and no deeper than the limit of length over diameter."""
        lengths = np.array([usable_length(t) for t in self.mills])
        return np.minimum(lengths, self.limits.fail * self.diameter) if len(lengths) else lengths

    @cached_property
    def largest(self) -> float:
        """Largest radius of a flat end mill or face mill."""
        sizes = [t.DC / 2 for t in self.table.of("endmill", "bullnose_endmill")]
        return max(sizes, default=10.0)

    def smallest_radius(self, depth: Array) -> Array:
        """(n,) radius of the smallest flat end mill that goes so deep; inf where none does."""
        if not len(self.mills):
            return np.full(len(depth), np.inf)
        # Deepest of all mills up to each size: the first that is deep enough is the smallest.
        deep = self.length[None, :] >= depth[:, None] - 1e-6
        first = deep.argmax(axis=1)
        return np.where(deep.any(axis=1), self.diameter[first] / 2, np.inf)

    def largest_mill(self, radius: float, depth: float) -> Tool | None:
        """The largest flat end mill of at most this radius that goes so deep; the shortest of that size."""
        fit = [
            t
            for t, length in zip(self.mills, self.length, strict=True)
            if radius + 1e-3 >= t.DC / 2 and length >= depth - 1e-6
        ]
        return min(fit, key=lambda t: (-t.DC, usable_length(t), t.id)) if fit else None

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
        known = {t.id: t for t in self.table.tools}
        for name in ids:
            if name not in known:
                hint = f"known, among others: {', '.join(list(known)[:8])}"
                raise UsageError(f"The cutter table has no cutter '{name}'.", hint, "--cutters")
        return [known[name] for name in ids]

    def spread(self) -> list[Tool]:
        """Ten flat end mills of usual sizes, the longest of each, largest first."""
        out = []
        for size in SPREAD:
            same = [t for t in self.mills if abs(t.DC - size) < SIZE_MM]
            if same:
                out.append(max(same, key=lambda t: (usable_length(t), t.id)))
        if not out:
            sizes = sorted({t.DC for t in self.mills}, reverse=True)[:10]
            out = [max((t for t in self.mills if size == t.DC), key=usable_length) for size in sizes]
        return out
