"""What the shop charges: hours, making ready, loading, material by the kg. Defaults: shared/tables/rates.csv."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from functools import lru_cache
from pathlib import Path

from shared.errors import DataFileError
from shared.shop.files import Section, only, read_sections

WHAT = "rates file"
TABLE = Path(__file__).parent.parent / "tables" / "rates.csv"
SHARES = {"scrap": 0.5, "markup": 5.0}
"""Fields that are shares, with the largest that is taken for meant."""


@dataclass(frozen=True)
class Rates:
    """Money an hour, minutes a clamping, a setup, a cutter and a part; shares; price of a kg by material."""

    name: str
    currency: str
    machine_hour: float
    setup_hour: float
    programming_hour: float
    programming: float
    programming_operation: float
    setup: float
    prove_out: float
    cutter: float
    load: float
    inspection: float
    special_cutter: float
    scrap: float
    markup: float
    material: dict[str, float] = field(default_factory=dict)


NUMBERS = tuple(f.name for f in fields(Rates) if f.name not in ("name", "currency", "material"))


@lru_cache(maxsize=1)
def default_rates() -> Rates:
    """Starting values without a source: good for comparing parts, not for a price on paper."""
    parts = only(read_sections(str(TABLE), WHAT), ("", "material"), WHAT)
    top = parts[""]
    numbers = {name: top.number(name) for name in NUMBERS}
    prices = {name: parts["material"].number(name) for name in parts["material"].values}
    return Rates("assumed rates", top.text("currency"), **numbers, material=prices)  # type: ignore[arg-type]


def load_rates(path: str | None) -> Rates:
    """Rates of a TOML or CSV file; what it leaves out keeps its default. Raises DataFileError with file, line and field."""
    default = default_rates()
    if path is None:
        return default
    parts = only(read_sections(path, WHAT), ("", "material"), WHAT)
    top = parts[""]
    top.check_names(("name", "currency", *NUMBERS, "note"))
    numbers = {name: top.number(name, getattr(default, name), high=SHARES.get(name, float("inf"))) for name in NUMBERS}
    if not top.has("setup_hour") and top.has("machine_hour"):
        numbers["setup_hour"] = numbers["machine_hour"]
    if top.has("currency") and not top.has("machine_hour"):
        text = "another currency, but machine_hour keeps its default"
        raise DataFileError(text, "give machine_hour in your currency", top.where("currency"))
    name, currency = top.text("name", Path(path).name), top.text("currency", default.currency)
    return Rates(name, currency, **numbers, material=_prices(parts["material"], default))  # type: ignore[arg-type]


def _prices(section: Section, default: Rates) -> dict[str, float]:
    return default.material | {name: section.number(name) for name in section.values}
