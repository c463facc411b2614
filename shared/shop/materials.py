"""Workpiece materials: specific cutting force, density, and the starting values of speed and feed for each cutter kind."""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from shared.cutters import KINDS
from shared.errors import DataFileError, UsageError
from shared.shop.files import Section, only, read_sections

TABLES = Path(__file__).parent.parent / "tables"
WHAT = "material file"
FIELDS = ("name", "text", "like", "kc1", "mc", "ramp_deg", "density", "source", "note")
DATA_FIELDS = ("kind", "substrate", "vc", "feed_per_diameter", "feed_max", "source", "note")


@dataclass(frozen=True)
class CuttingData:
    """Starting values of one tool kind in one material: vc m/min, feed a tooth (a rev for drills) a mm of diameter."""

    vc: float
    feed_per_diameter: float
    feed_max: float
    source: str

    def feed(self, diameter: float) -> float:
        """Feed a tooth in mm (a revolution for drills and reamers): grows with the diameter up to `feed_max`."""
        return min(self.feed_max, self.feed_per_diameter * diameter)


@dataclass(frozen=True)
class Material:
    """A row of the materials table: kc = kc1 * h^-mc, density in kg/dm3, and the cutting data by (tool kind, substrate)."""

    name: str
    text: str
    kc1: float
    mc: float
    ramp_deg: float
    source: str
    data: dict[tuple[str, str], CuttingData]
    density: float = 0.0

    def kc(self, chip: float) -> float:
        """Specific cutting force in N/mm2 at a mean chip thickness in mm: kc1 h^-mc (Kienzle)."""
        return self.kc1 * max(chip, 0.01) ** -self.mc

    def cutting_data(self, kind: str, substrate: str) -> CuttingData:
        """Starting values for a tool kind; its end mill's where the kind has no row, HSS where the substrate has none."""
        for key in (
            (kind, substrate),
            (kind, "HSS"),
            (kind, "carbide"),
            ("endmill", substrate),
            ("endmill", "carbide"),
        ):
            if key in self.data:
                return self.data[key]
        raise UsageError(
            f"material {self.name} has no cutting data for {kind}", "add an endmill row to the cutting data"
        )


@lru_cache(maxsize=1)
def materials() -> dict[str, Material]:
    """The default materials by name, from shared/tables/materials.csv and cutting_data.csv."""
    data: dict[str, dict[tuple[str, str], CuttingData]] = {}
    for row in _rows("cutting_data.csv"):
        values = CuttingData(float(row["vc"]), float(row["feed_per_diameter"]), float(row["feed_max"]), row["source"])
        data.setdefault(row["material"], {})[row["kind"], row["substrate"]] = values
    return {
        row["name"]: Material(
            row["name"], row["text"], float(row["kc1"]), float(row["mc"]), float(row["ramp_deg"]), row["source"],
            data[row["name"]], float(row["density"]),
        )
        for row in _rows("materials.csv")
    }  # fmt: skip


def material(name: str) -> Material:
    """The material called `name` (case and -/_/space do not matter). Raises UsageError that lists the known ones."""
    known = materials()
    key = name.strip().lower().replace("-", "_").replace(" ", "_")
    key = _ALIASES.get(key, key)
    if key not in known:
        raise UsageError(
            f"unknown material {name!r}", f"known materials: {', '.join(sorted(known))}, or a .toml file", "--material"
        )
    return known[key]


_ALIASES = {"aluminum": "aluminium", "stainless_steel": "stainless", "castiron": "cast_iron", "mild_steel": "steel"}


def load_material(path: str) -> Material:
    """The material of a TOML file: `like` names a default one to start from, [[data]] rows replace its cutting data.

    Raises DataFileError naming file, line and field.
    """
    sections = read_sections(path, WHAT)
    rows = [s for s in sections if s.name == "data"]
    top = only([s for s in sections if s.name != "data"], ("",), WHAT)[""]
    top.check_names(FIELDS)
    base = _base(top)
    if base is None and not rows:
        hint = 'name a default material to start from, like = "steel", or give [[data]] rows'
        raise DataFileError("the material has no cutting data", hint, top.where())
    data = dict(base.data) if base else {}
    for row in rows:
        kind, substrate, values = _data(row)
        data[kind, substrate] = values
    if not any(kind == "endmill" for kind, _ in data):
        raise DataFileError("no [[data]] row is for an endmill", "every other kind falls back on it", top.where())
    name = top.text("name", Path(path).stem)
    start = base or Material(name, "", 0.0, 0.0, 2.0, "", {})
    return replace(
        start,
        name=name,
        text=top.text("text", start.text or name),
        kc1=top.number("kc1", start.kc1 or None, low=1.0, high=20000.0),
        mc=top.number("mc", start.mc or None, high=0.9),
        ramp_deg=top.number("ramp_deg", start.ramp_deg, low=0.1, high=45.0),
        source=top.text("source", f"own file {Path(path).name}"),
        data=data,
        density=top.number("density", start.density, high=25.0),
    )


def _base(top: Section) -> Material | None:
    if not top.has("like"):
        return None
    try:
        return material(top.text("like"))
    except UsageError as error:
        raise DataFileError(error.message, error.hint, top.where("like")) from None


def _data(row: Section) -> tuple[str, str, CuttingData]:
    row.check_names(DATA_FIELDS)
    kind, substrate = row.text("kind"), row.text("substrate", "carbide")
    if kind not in KINDS:
        raise DataFileError(f"unknown kind {kind!r}", f"known kinds: {', '.join(KINDS)}", row.where("kind"))
    if substrate not in ("HSS", "carbide"):
        raise DataFileError(f"unknown substrate {substrate!r}", "write HSS or carbide", row.where("substrate"))
    free = kind == "tap"  # its feed is the pitch
    feed = row.number("feed_per_diameter", 0.0 if free else None, low=0.0 if free else 1e-5, high=2.0)
    most = row.number("feed_max", 0.0 if free else None, low=0.0 if free else 1e-4, high=5.0)
    vc = row.number("vc", low=0.1, high=5000.0)
    return kind, substrate, CuttingData(vc, feed, most, row.text("source", f"own file {row.file}"))


def _rows(name: str) -> list[dict[str, str]]:
    with (TABLES / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))
