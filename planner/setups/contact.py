"""What jaws find to press on: how high they must stand on a pair of sides, raw or finished, and how wide the part is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from shapely import box
from shapely.geometry.base import BaseGeometry

from planner.stock import Stock, dot
from shared.plan import Vise
from shared.units import Mm, Vector

GAP: Mm = 1.0
"""Room between the jaws' top and the lowest cut over them; common practice, no source."""
JAW_THICK: Mm = 20.0
"""How thick a jaw is: so far it stands out beyond the workpiece on its sides, and over its ends; common practice, no source."""
END_GAP: Mm = 2.0
"""Room between a jaw's end and a wall that is cut beside it; common practice, no source."""
STRIP_GAP: Mm = 12.4
"""Room between a jaw's end and a strip across the part's corner that is cut beside it, at 45 degrees: a cutter of 20 mm runs on
by its radius and 2 mm, 8.5 mm of that along the jaw, stands out 10 less 7.1 mm there, and passes 1 mm away."""
SMALLEST: Mm = 25.0
"""Mm2 in contact below which nothing is held, whatever the part's size; common practice, no source."""
ENOUGH: Mm = 500.0
"""Mm2 in contact that are enough for a part of any size; common practice, no source."""
SHARE = 0.02
"""Share of a side's area that jaws or parallels must touch, up to `ENOUGH`; common practice, no source."""
SPREAD = 0.2
"""Share of the part's length along the jaws that contact must spread over, up to 20 mm; common practice, no source."""


@dataclass(frozen=True)
class Grips:
    """The vise and the finished part's flat outlines by side; a side without an entry or with None is flat all over."""

    stock: Stock
    vise: Vise
    flats: Mapping[str, BaseGeometry | None] = field(default_factory=dict)

    def size(self, axis: str) -> Mm:
        """The finished part along one of its axes."""
        return self.stock.part_level("+" + axis) + self.stock.part_level("-" + axis)

    def raw_size(self, axis: str) -> Mm:
        """The stock along one of the part's axes."""
        return self.stock.raw_level("+" + axis) + self.stock.raw_level("-" + axis)

    def states(self, rest: str, pair: str) -> Iterator[tuple[frozenset[str], Mm]]:
        """(sides that must still be raw, height that the jaws need) of each state that holds, least asked first.

        A state that asks for more is listed only where those that ask for less do not hold.
        """
        low, high = "-" + pair, "+" + pair
        found: list[frozenset[str]] = []
        for pressed in (frozenset[str](), frozenset({low}), frozenset({high}), frozenset({low, high})):
            for below in (frozenset[str](), frozenset({rest})):
                raw = pressed | below
                if any(done <= raw for done in found) or not all(map(self.stock.extra, raw)):
                    continue
                need = self.needed(rest, pair, raw)
                if need is not None:
                    found.append(raw)
                    yield raw, need

    def needed(self, rest: str, pair: str, raw: frozenset[str]) -> Mm | None:
        """The least height above the finished rest side at which jaws hold enough; None where they never do."""
        if rest not in raw and not self.rests(rest, pair):
            return None
        width = None if self.on_table(pair) else self.jaws_between(self.along(rest, pair)) or max(self.vise.jaw_widths)
        most = min(self.vise.jaw_height, self.size(rest[1]) + self.stock.extra(rest) - GAP)
        height = self.vise.least_grip
        while height <= most + 1e-6:
            if self.touch(rest, pair, raw, height, width) is not None:
                return height
            height = height + self.vise.least_grip
        return None

    def rests(self, rest: str, pair: str) -> bool:
        """Whether the finished rest side offers enough to rest on."""
        flat = self._outline(rest, raw=False)
        along = self.along(rest, pair)
        return flat.area >= self._enough(rest) and _extent(flat, rest, along) >= self._spread(along)

    def touch(self, rest: str, pair: str, raw: frozenset[str], height: Mm, width: Mm | None = None) -> Mm | None:
        """Mm2 that face each other between jaws of that height (and width, in the middle); None where it is too little."""
        area, length = self.facing(rest, pair, raw, height, width)
        along = self.along(rest, pair)
        enough = area >= min(self._enough("+" + pair), height * min(self.size(along), width or 1e9)) - 1e-6
        return area if enough and length >= self._spread(along) - 1e-6 else None

    def facing(self, rest: str, pair: str, raw: frozenset[str], height: Mm, width: Mm | None = None) -> tuple[Mm, Mm]:
        """(mm2, mm along the jaws) of the flat outlines that face each other up to a height above the finished rest side."""
        both = self._outline("-" + pair, "-" + pair in raw).intersection(self._outline("+" + pair, "+" + pair in raw))
        along = self.along(rest, pair)
        level, far = self.stock.part_level(rest), 1e6
        span = (-level - far, -level + height) if rest[0] == "-" else (level - height, level + far)
        middle = (self.stock.part_level("+" + along) - self.stock.part_level("-" + along)) / 2.0
        reach = (middle - width / 2.0, middle + width / 2.0) if width else (-far, far)
        u, v = (span, reach) if rest[1] < along else (reach, span)
        held = both.intersection(box(u[0], v[0], u[1], v[1]))
        return held.area, _extent(held, "+" + pair, along)

    def along(self, rest: str, pair: str) -> str:
        """The axis along the jaws."""
        return next(a for a in "xyz" if a not in (rest[1], pair))

    def jaws_between(self, along: str, free: Mm = END_GAP) -> Mm | None:
        """The widest jaws that leave so much of both ends of the finished part free; None where all at hand are too wide."""
        return max((w for w in self.vise.jaw_widths if w <= self.size(along) - 2.0 * free), default=None)

    def beside(self, rest: str, side: str, points: Sequence[Vector]) -> bool:
        """Whether strips with these corners, in the part's coordinates, pass the ends of jaws that press on a side.

        Never where no jaws at hand are short enough, or such short ones hold too little.
        """
        along, pair = self.along(rest, side[1]), side[1]
        width = self.jaws_between(along, self.taken(along, points)) if points else None
        need = None if width is None else self.needed(rest, pair, frozenset())
        return need is not None and self.touch(rest, pair, frozenset(), need, width) is not None

    def taken(self, along: str, points: Sequence[Vector]) -> Mm:
        """How far strips with these corners reach in from the ends of the part along an axis, with room for their cutter."""
        out = self.stock.direction("+" + along)
        ends = self.stock.part_level("+" + along), self.stock.part_level("-" + along)
        return max(min(ends[0] - dot(p, out), ends[1] + dot(p, out)) for p in points) + STRIP_GAP

    def on_table(self, pair: str) -> bool:
        """Whether the stock is too wide for the vise: it is clamped from its sides on the machine table."""
        return self.raw_size(pair) > self.vise.opening

    def blocked_ends(self, rest: str, pair: str) -> str | None:
        """The axis along the jaws where they would stand in the way at both ends; side clamps on a table are short."""
        along = self.along(rest, pair)
        return None if self.on_table(pair) or self.jaws_between(along) is not None else along

    def thick(self, rest: str) -> bool:
        """Whether the raw layer below is worth gripping: not where the part itself is as thin."""
        return self.stock.extra(rest) >= 0.02 * self.size(rest[1])

    def cost(self, rest: str, pair: str) -> int:
        """How little a way is liked among equals: tall on a narrow base, wide jaws, side clamps on the table."""
        tall = self.size(rest[1]) / max(1e-6, min(self.size(pair), self.size(self.along(rest, pair))))
        wide = self.raw_size(pair) / self.vise.opening
        return int(min(20.0, 4.0 * tall)) + int(min(4.0, 4.0 * wide)) + (6 if self.on_table(pair) else 0)

    def _outline(self, side: str, raw: bool) -> BaseGeometry:
        flat = self.flats.get(side)
        if not raw and flat is not None:
            return flat
        a, b = (axis for axis in "xyz" if axis != side[1])
        level = self.stock.raw_level if raw else self.stock.part_level
        return box(-level("-" + a), -level("-" + b), level("+" + a), level("+" + b))

    def _enough(self, side: str) -> Mm:
        a, b = (self.size(axis) for axis in "xyz" if axis != side[1])
        return max(SMALLEST, min(SHARE * a * b, ENOUGH))

    def _spread(self, along: str) -> Mm:
        return min(20.0, SPREAD * self.size(along))


def _extent(outline: BaseGeometry, side: str, axis: str) -> Mm:
    """Length of an outline on a side along one of the axes across it."""
    if outline.is_empty:
        return 0.0
    low_u, low_v, high_u, high_v = outline.bounds
    first = next(a for a in "xyz" if a != side[1])
    return high_u - low_u if axis == first else high_v - low_v
