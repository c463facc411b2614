"""The quote document: what a quoter wants to know of a part, from its plan and the shop's rates.

Times minutes, lengths mm, masses kg, money in the rates' currency.
"""

from __future__ import annotations

from typing import Any

from pydantic import Field

from shared.findings import Finding
from shared.plan import CAUTIONS, Tool, Unplanned
from shared.units import Vector
from shared.wire import Document

SCHEMA = "sidewise.quote/1"
PRICE_CAUTION = (
    "The price is an estimate from assumed or given rates and computed minutes: check it against your own experience."
)


class SpecialCutter(Document):
    """A cutter that a shop does not have in every drawer, and why."""

    tool: Tool
    why: str
    operations: list[str]


class Minutes(Document):
    """Where the time goes. `cycle` is cutting, rapids and cutter changes: the plan's total."""

    cutting: float = Field(description="at feed, a part")
    rapids: float = Field(description="between cuts, a part")
    cutter_changes: float = Field(description="a part")
    cycle: float = Field(description="a part")
    loading: float = Field(description="loading, clamping and inspection, a part")
    making_ready: float = Field(description="clampings, cutters and proving out, a batch")
    programming: float = Field(description="once")


class Stock(Document):
    """The raw block."""

    size: Vector
    mass: float = Field(description="kg; 0 where the material's density is not known")
    part_mass: float
    chips_share: float = Field(description="share of the block that becomes chips")


class Price(Document):
    """What one part costs when so many are made at once; `parts` adds up to `each`."""

    quantity: int
    each: float
    total: float
    parts: dict[str, float] = Field(description="programming, making_ready, cutting, ... a part, markup apart")


class Driver(Document):
    """Something that makes the part dear, what it costs a part at each quantity, and what would lower it."""

    what: str
    costs: list[float] = Field(description="a part, markup included, in the order of `prices`")
    text: str
    features: list[str] = Field(default_factory=list)


class QuoteDocument(Document):
    """Counts, minutes, prices and what drives them."""

    schema_: str = Field(SCHEMA, alias="schema")
    part: dict[str, Any]
    job: dict[str, Any]
    rates: dict[str, Any]
    cautions: list[str] = Field(default_factory=lambda: [PRICE_CAUTION, *CAUTIONS])
    counts: dict[str, int] = Field(description="features by kind")
    setups: int
    setups_status: str = Field(description="optimal: proven fewest")
    clampings: int
    operations: int
    cutters: list[Tool]
    cutter_changes: int
    special_cutters: list[SpecialCutter] = Field(default_factory=list)
    stock: Stock
    minutes: Minutes
    prices: list[Price]
    drivers: list[Driver] = Field(description="dearest first, at the middle quantity")
    unplanned: list[Unplanned] = Field(default_factory=list, description="not in minutes and price")
    warnings: list[Finding] = Field(default_factory=list)
