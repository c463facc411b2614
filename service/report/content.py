"""Documents -> what the sheets say, as plain data for the template."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from service.report.pictures import COLOURS, Scene
from service.report.units import Units, minutes
from service.spoken import spoken
from shared.features import FeaturesDocument
from shared.findings import Finding
from shared.plan import Clamping, Operation, PlanDocument, Setup, Tool
from shared.quote import Driver, QuoteDocument
from shared.reach import ReachDocument
from shared.units import Vector

REACH_WORDS = {
    "reached": "Every face is reached.",
    "warning": "Every face is reached, some only by a cutter that is long for its diameter.",
    "not_reached": "Not every face is reached.",
}
ENTRIES = {
    "ap_retract_tangent": "along an arc",
    "ap_retract_angle": "at an angle",
    "plunge_toolaxis": "straight down",
    "plunge_helix": "helix",
    "plunge_ramp": "ramp",
    "plunge_zigzag": "zigzag ramp",
    "along_path": "along its path",
}
"""ISO 14649-11's ways into the material, as they are said at the machine."""
SEVERITIES = ("error", "warning", "note")


@dataclass(frozen=True)
class Papers:
    """The documents that a report is made of."""

    features: FeaturesDocument
    plan: PlanDocument
    quote: QuoteDocument
    reach: ReachDocument


def content(papers: Papers, units: Units) -> dict[str, Any]:
    """All that the template needs, as texts and lists of texts."""
    papers = replace(papers, plan=spoken(papers.plan, inch=units.name == "in"))
    plan, features = papers.plan, papers.features
    part = features.part
    size = [b - a for a, b in zip(part.frame_box.min, part.frame_box.max, strict=True)]
    return {
        "part": {
            "file": part.file,
            "sha256": part.sha256[:16],
            "size": units.size(size),
            "stock": units.size(plan.job.stock.size),
            "stock_source": plan.job.stock.source,
            "material": plan.job.material,
            "machine": plan.job.machine.get("name", "assumed"),
            "axes": plan.job.axes,
            "tools": plan.job.tools,
        },
        "unit": units.name,
        "cautions": plan.cautions,
        "warnings": _warnings([*features.findings, *plan.findings, *plan.proof.checker]),
        "faults": [f.message for f in plan.proof.checker if f.severity == "error"],
        "unplanned": [{"feature": u.feature, "reason": u.reason} for u in plan.unplanned],
        "setups": [_setup(papers, n, units) for n in range(len(plan.setups))],
        "proof": plan.proof.setups.witness,
        "totals": {
            "setups": plan.totals.setups,
            "operations": plan.totals.operations,
            "cutters": plan.totals.tools,
            "changes": plan.totals.tool_changes,
            "minutes": minutes(plan.totals.minutes),
        },
        "quote": _quote(papers.quote, units),
        "reach": _reach(papers.reach, part.frame, units),
    }


def _warnings(findings: list[Finding]) -> list[dict[str, str]]:
    found = [f for f in findings if f.severity != "note"]
    found.sort(key=lambda f: SEVERITIES.index(f.severity))
    return [{"severity": f.severity, "message": f.message, "hint": f.hint} for f in found]


def _setup(papers: Papers, n: int, units: Units) -> dict[str, Any]:
    plan, setup = papers.plan, papers.plan.setups[n]
    clamping = next(c for c in plan.clampings if c.id == setup.clamping)
    used = {op.tool.id: op.tool for op in setup.operations}
    ids = {feature for op in setup.operations for feature in op.features}
    frame = papers.features.part.frame
    return {
        "id": setup.id,
        "number": n + 1,
        "of": len(plan.setups),
        "from": direction(setup.direction, frame),
        "origin": ", ".join(units.length(v) for v in setup.origin),
        "x": direction(setup.x_axis, frame),
        "clearance": units.length(setup.clearance),
        "rest": clamping.rest_on,
        "clamp": clamping.clamp_on,
        "device": _device(clamping, units),
        "why": [*clamping.because, *setup.because],
        "minutes": minutes(setup.minutes),
        "cutters": [_cutter(tool, plan, setup, units) for tool in used.values()],
        "operations": [_operation(op, units) for op in setup.operations],
        "warnings": _warnings([f for f in plan.findings if ids & set(f.features)]),
    }


def _device(clamping: Clamping, units: Units) -> str:
    """'vise, open 80 mm, jaws at most 12 mm high, 125 mm wide', as far as it is known."""
    said = [clamping.device.replace("_", " ")]
    for text, value in (
        ("open {}", clamping.opening),
        ("jaws at most {} high", clamping.grip_height),
        ("{} wide", clamping.jaw_width),
    ):
        if value is not None:
            said.append(text.format(units.length(value)))
    return ", ".join(said)


def _cutter(tool: Tool, plan: PlanDocument, setup: Setup, units: Units) -> dict[str, str]:
    mine = [op for op in setup.operations if op.tool.id == tool.id]
    deepest = max(op.levels.top - op.levels.bottom + op.levels.break_through for op in mine)
    meets = _meets(plan, {op.id for op in mine})
    return {
        "id": tool.id,
        "kind": tool.kind.replace("_", " "),
        "DC": units.length(tool.DCX or tool.DC),  # of a chamfer cutter its largest diameter, not its tip's
        "RE": units.length(tool.RE),
        "stick_out": units.length(tool.LU),
        "meets": units.length(meets) if meets else "",
        "holder": "; ".join(f"{units.length(d)} x {units.length(long)}" for d, long in tool.holder) or "not given",
        "deepest": units.length(deepest),
        "operations": ", ".join(op.id for op in mine),
    }


def _meets(plan: PlanDocument, operations: set[str]) -> float:
    """Mm that a cutter's holder runs into the workpiece or the jaws in these operations, in the simulation; 0 if nowhere."""
    found = [c.amount for c in plan.proof.collisions if c.operation in operations and c.kind in ("holder", "jaws")]
    return max(found, default=0.0)


def _operation(op: Operation, units: Units) -> dict[str, Any]:
    return {
        "id": op.id,
        "name": op.name,
        "kind": op.kind,
        "features": ", ".join(op.features),
        "tool": op.tool.id,
        "top": units.length(op.levels.top),
        "bottom": units.length(op.levels.bottom),
        "past": units.length(op.levels.break_through) if op.levels.break_through else "",
        "steps": f"{op.passes.axial_count} x {units.length(op.passes.axial_depth)}, "
        f"{op.passes.radial_count} x {units.length(op.passes.radial_depth)}",
        "entry": entry_in_words(op.entry),
        "speed": f"{op.speed:.0f}",
        "feed": units.feed(op.feed),
        "minutes": f"{op.minutes:.2f}",
        "because": op.because,
    }


def entry_in_words(entry: str) -> str:
    """'ap_retract_tangent in the free room' -> 'along an arc in the free room'."""
    for name, words in ENTRIES.items():
        entry = entry.replace(name, words)
    return entry.replace("_", " ")


def _quote(quote: QuoteDocument, units: Units) -> dict[str, Any]:
    currency = str(quote.rates.get("currency", ""))
    return {
        "counts": {kind.replace("_", " "): count for kind, count in quote.counts.items() if count},
        "stock": units.size(quote.stock.size),
        "mass": f"{quote.stock.mass:.2f} kg" if quote.stock.mass else "-",
        "minutes": {name.replace("_", " "): minutes(value) for name, value in quote.minutes.model_dump().items()},
        "prices": [
            {"quantity": p.quantity, "each": f"{p.each:.2f} {currency}", "total": f"{p.total:.2f} {currency}"}
            for p in quote.prices
        ],
        "drivers": [_driver(d, currency) for d in quote.drivers],
        "special": [{"tool": s.tool.id, "why": s.why} for s in quote.special_cutters],
        "rates": quote.rates,
        "cautions": quote.cautions[:1],
    }


def _driver(driver: Driver, currency: str) -> str:
    """What it is, what it costs a part at the smallest and the largest quantity, and what would lower it."""
    ends = list(dict.fromkeys(f"{cost:.2f}" for cost in (*driver.costs[:1], *driver.costs[-1:])))
    costs = f", {' to '.join(ends)} {currency} a part" if ends else ""
    return f"{driver.what}{costs}: {driver.text}"


def _reach(reach: ReachDocument, frame: list[Vector], units: Units) -> dict[str, Any]:
    """The verdict, the directions, and a row a feature, the worst first."""
    names = [direction(d.vector, frame) for d in reach.directions]
    worst = sorted(reach.features, key=lambda f: ("not_reached", "warning", "reached").index(f.verdict))
    return {
        "verdict": REACH_WORDS[reach.verdict],
        "bad": reach.verdict == "not_reached",
        "tools": reach.tools,
        "directions": [
            {"from": name, "seen": f"{d.seen:.1%}", "touched": f"{d.touched:.1%}"}
            for name, d in zip(names, reach.directions, strict=True)
            if d.source != "sphere"
        ],
        "rows": [
            {
                "id": f.feature,
                "kind": f.kind.replace("_", " "),
                "verdict": f.verdict.replace("_", " "),
                "touched": f"{f.touched:.1%}",
                "from": ", ".join(names[d] for d in f.directions[:6]),
                "cutter": f.cutter or "-",
                "stick_out": units.length(f.stick_out),
                "reasons": f.reasons,
            }
            for f in worst
        ],
        "undercuts": [u.text for u in reach.undercuts],
        "lost": [f"face {f.index}: {'; '.join(f.reasons)}" for f in reach.faces if f.verdict == "not_reached"],
        "accuracy": reach.accuracy.method,
    }


def part_scene(features: FeaturesDocument) -> Scene:
    """The bare part, its faces coloured by feature."""
    kinds = {f.id: f.kind for f in features.features}
    colours = {f.index: COLOURS[kinds[f.feature]] for f in features.faces if f.feature}
    return Scene(colours, _unit((1.0, -1.4, 1.0)), (0.0, 0.0, 1.0))


def scenes(papers: Papers) -> list[Scene]:
    """The bare part, then each setup as it stands on the machine: its Z up, its work plane and the stock drawn."""
    frame = papers.features.part.frame
    out = [part_scene(papers.features)]
    colours = out[0].colours
    for setup in papers.plan.setups:
        cut = {face for op in setup.operations for face in op.faces}
        towards, z, axes = standing(setup)
        out.append(
            Scene(
                {face: colour for face, colour in colours.items() if face in cut},
                towards, z, setup.origin, axes, _stock_box(papers), (frame[0], frame[1], frame[2]),
            )
        )  # fmt: skip
    return out


def standing(setup: Setup) -> tuple[Vector, Vector, tuple[Vector, Vector, Vector]]:
    """A setup as it stands on the machine: unit vector to the eye, what is up, and the work plane's X, Y and Z."""
    z, x = setup.direction, setup.x_axis
    y = (z[1] * x[2] - z[2] * x[1], z[2] * x[0] - z[0] * x[2], z[0] * x[1] - z[1] * x[0])
    return _unit(tuple(0.75 * z[k] - y[k] + 0.45 * x[k] for k in range(3))), z, (x, y, z)


def _stock_box(papers: Papers) -> tuple[Vector, Vector]:
    box, a = papers.features.part.frame_box, papers.plan.job.stock.allowance
    low = tuple(v - a[2 * k] for k, v in enumerate(box.min))
    high = tuple(v + a[2 * k + 1] for k, v in enumerate(box.max))
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _unit(v: tuple[float, ...]) -> Vector:
    size = sum(c * c for c in v) ** 0.5
    return (v[0] / size, v[1] / size, v[2] / size)


def direction(d: Vector, frame: list[Vector]) -> str:
    """'+z' in the part's own axes, or the numbers of a tilted direction."""
    for name, axis in zip("xyz", frame, strict=True):
        along = sum(a * b for a, b in zip(d, axis, strict=True))
        if abs(along) > 0.99999:
            return ("+" if along > 0 else "-") + name
    return "(" + ", ".join(f"{v:.3f}" for v in d) + ")"
