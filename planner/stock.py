"""The raw block: a box round the part in the part's own axes, with an allowance on each of its six sides."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from shared.errors import UsageError
from shared.features import Box, Part
from shared.plan import Job, StockBox
from shared.tolerances import DEFAULT, Tolerances
from shared.units import Mm, Vector

SIDES = ("-x", "+x", "-y", "+y", "-z", "+z")
"""Names of the stock's sides along the part's own axes, in the order of the six allowances."""
LARGEST: Mm = 1000.0
"""Largest allowance taken for meant: more is a slip of the keyboard or of the unit."""
HINT = "give one number, six numbers in the order -x +x -y +y -z +z, or a STEP file of the stock"


def opposite(side: str) -> str:
    """The side across: +x of -x."""
    return ("-" if side[0] == "+" else "+") + side[1]


@dataclass(frozen=True)
class Stock:
    """The part's box in its own axes and the raw material around it; levels of a side are along its outward direction."""

    frame: tuple[Vector, Vector, Vector]
    low: Vector
    high: Vector
    allowance: tuple[float, ...]
    source: str
    tolerances: Tolerances = DEFAULT

    def direction(self, side: str) -> Vector:
        """Outward unit vector of a side, in the part's coordinates."""
        return self._outward[side]

    @cached_property
    def _outward(self) -> dict[str, Vector]:
        back = [(-x + 0.0, -y + 0.0, -z + 0.0) for x, y, z in self.frame]
        return {side: (back if side[0] == "-" else self.frame)["xyz".index(side[1])] for side in SIDES}

    @cached_property
    def _sides_of(self) -> dict[Vector, str | None]:
        """What side_of() has answered: documents hold few directions, which are asked for again and again."""
        return {}

    def side_of(self, direction: Vector) -> str | None:
        """The side that a direction is the outward normal of, within `angle_deg`; None when it is tilted."""
        if direction not in self._sides_of:
            self._sides_of[direction] = self._side_of(direction)
        return self._sides_of[direction]

    def _side_of(self, direction: Vector) -> str | None:
        limit = math.cos(math.radians(self.tolerances.angle_deg))
        size = math.sqrt(dot(direction, direction))  # documents round to 6 decimals: cosines must not hang on that
        for side in SIDES:
            out = self.direction(side)
            if dot(out, direction) >= limit * size * math.sqrt(dot(out, out)):
                return side
        return None

    def part_level(self, side: str) -> Mm:
        """Level of the finished side: the part's box along the side's outward direction."""
        i = "xyz".index(side[1])
        return self.high[i] if side[0] == "+" else -self.low[i]

    def extra(self, side: str) -> Mm:
        """Allowance on a side; differences under `length_mm` are none."""
        value = self.allowance[SIDES.index(side)]
        return value if value > self.tolerances.length_mm else 0.0

    def raw_level(self, side: str) -> Mm:
        """Level of the raw side."""
        return self.part_level(side) + self.extra(side)

    def document(self) -> StockBox:
        """As the plan document says it."""
        size = tuple(self.raw_level("+" + a) + self.raw_level("-" + a) for a in "xyz")
        return StockBox(allowance=[self.extra(s) for s in SIDES], size=size, source=self.source)  # type: ignore[arg-type]


def dot(a: Vector, b: Vector) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def stock_of(job: Job, part: Part) -> Stock:
    """The stock that the job asks for. Raises UsageError for a stock that cannot be or does not hold the part."""
    allowance, source = _allowance(job, part)
    frame = tuple(part.frame)
    return Stock(frame, part.frame_box.min, part.frame_box.max, allowance, source)  # type: ignore[arg-type]


def _allowance(job: Job, part: Part) -> tuple[tuple[float, ...], str]:
    if job.stock_box is not None:
        name = job.stock if isinstance(job.stock, str) else "given box"
        return _around(job.stock_box, part.frame_box), f"box of {name}"
    if isinstance(job.stock, str):
        raise UsageError(f"stock {job.stock!r} was not read: the planner takes boxes, not files", HINT, "stock")
    values = job.stock if isinstance(job.stock, list) else [job.stock] * 6
    if len(values) != 6:
        raise UsageError(f"stock has {len(values)} numbers", HINT, "stock")
    if not all(math.isfinite(v) and v >= 0 for v in values):
        raise UsageError(f"stock allowances must be zero or more: {values}", HINT, "stock")
    if max(values) > LARGEST:
        raise UsageError(f"a stock allowance of {max(values):g} mm is more than {LARGEST:g} mm", HINT, "stock")
    text = f"{values[0]:g} mm a side" if len(set(values)) == 1 else " ".join(f"{v:g}" for v in values) + " mm"
    return tuple(float(v) for v in values), f"the part's box with an allowance of {text}"


def _around(stock: Box, part: Box) -> tuple[float, ...]:
    out: list[float] = []
    for i in range(3):
        out += [part.min[i] - stock.min[i], stock.max[i] - part.max[i]]
    if not all(map(math.isfinite, out)) or max(out) > LARGEST:
        raise UsageError(
            f"the stock's box is more than {LARGEST:g} mm larger than the part, or not finite", HINT, "stock"
        )
    if min(out) < -DEFAULT.near_miss_mm:
        side = SIDES[out.index(min(out))]
        raise UsageError(
            f"the stock does not hold the part: {-min(out):.3f} mm missing on {side}",
            "stock and part must lie in the same coordinates",
            "stock",
        )
    return tuple(max(0.0, v) for v in out)
