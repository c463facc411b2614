"""Figures: sums and counts are right, data lie within the machine's limits, the proof does not contradict the plan."""

from __future__ import annotations

from collections.abc import Iterator

from planner.checks.index import Index, fault
from shared.findings import Finding

MINUTES = 1e-3


def sums(index: Index) -> Iterator[Finding]:
    """A setup's minutes are its operations' and tool changes'; the total is the setups'."""
    change = float(index.plan.job.machine.get("tool_change", 0.0))
    tool: str | None = None
    for setup in index.plan.setups:
        minutes = 0.0
        for op in setup.operations:
            minutes += op.minutes + (change if tool is not None and op.tool.id != tool else 0.0)
            tool = op.tool.id
        if abs(minutes - setup.minutes) > MINUTES:
            text = f"{setup.id} says {setup.minutes:.3f} minutes; operations and tool changes are {minutes:.3f}"
            yield fault("minutes_sum", text)
    total = sum(s.minutes for s in index.plan.setups)
    if abs(total - index.plan.totals.minutes) > MINUTES:
        yield fault("minutes_sum", f"total {index.plan.totals.minutes:.3f} minutes; the setups' sum is {total:.3f}")


def counts(index: Index) -> Iterator[Finding]:
    """The totals count what is there."""
    tools = [p.op.tool.id for p in index.placed]
    want = {
        "features": len(index.document.features),
        "setups": len(index.plan.setups),
        "clampings": len(index.plan.clampings),
        "operations": len(index.placed),
        "tools": len(set(tools)),
        "tool_changes": sum(a != b for a, b in zip(tools, tools[1:], strict=False)),
    }
    for name, value in want.items():
        if index.plan.totals[name] != value:
            yield fault(
                "wrong_total", f"totals say {index.plan.totals[name]} {name.replace('_', ' ')}, there are {value}"
            )


def proof(index: Index) -> Iterator[Finding]:
    """The proof counts the setups, its bound lies not above them, and `optimal` means that they meet."""
    given = index.plan.proof.setups
    if given.count != len(index.plan.setups):
        yield fault("proof_count", f"the proof counts {given.count} setups, there are {len(index.plan.setups)}")
    if given.lower_bound > given.count:
        yield fault("bound_above_count", f"lower bound {given.lower_bound} for {given.count} setups")
    if given.status == "optimal" and given.lower_bound < given.count:
        yield fault("not_proven", f"called optimal with {given.count} setups and a bound of {given.lower_bound}")


def clampings(index: Index) -> Iterator[Finding]:
    """What is said of the number of clampings fits the plan; with three axes each setup is a clamping of its own."""
    given = index.plan.proof.clampings
    if given is None:
        return
    if given.count != len(index.plan.clampings):
        yield fault("proof_count", f"the proof counts {given.count} clampings, there are {len(index.plan.clampings)}")
    if given.lower_bound > given.count:
        yield fault("bound_above_count", f"lower bound {given.lower_bound} for {given.count} clampings")
    if given.status == "optimal" and given.lower_bound < given.count:
        yield fault("not_proven", f"called optimal with {given.count} clampings and a bound of {given.lower_bound}")


def data(index: Index) -> Iterator[Finding]:
    """Speed, feed, power and minutes are above zero and within the machine's limits; minutes cover the path."""
    limits = index.plan.job.machine
    for p in index.placed:
        op = p.op
        if op.speed <= 0 or op.feed <= 0 or op.minutes <= 0:
            yield fault("no_data", f"{op.id}: speed, feed and minutes must be above zero", features=op.features)
            continue
        for name, value, limit in (
            ("speed", op.speed, "max_rpm"),
            ("feed", op.feed, "max_feed"),
            ("power", op.power, "power"),
        ):
            if limit in limits and value > float(limits[limit]) * 1.001:
                yield fault("above_machine", f"{op.id}: {name} {value:g} is above the machine's {limits[limit]:g}")
        most = _spindle_gives(limits.get("curve") or [], op.speed)
        if most is not None and op.power > most * 1.001:
            yield fault(
                "above_machine", f"{op.id}: {op.power:.2f} kW, the spindle gives {most:.2f} at {op.speed:.0f} rev/min"
            )
        if op.minutes < op.path_length / op.feed - MINUTES:
            yield fault(
                "minutes_too_short",
                f"{op.id}: {op.path_length:g} mm at {op.feed:g} mm/min take longer",
                features=op.features,
            )


def _spindle_gives(curve: list[tuple[float, float]], speed: float) -> float | None:
    """KW at a speed by the machine's curve, straight between its points and flat beyond the last; None without one."""
    below = max(([n, kw] for n, kw in [(0.0, 0.0), *curve] if n <= speed), default=None)
    above = min(([n, kw] for n, kw in curve if n > speed), default=None)
    if not curve or below is None:
        return None
    if above is None:
        return below[1]
    return below[1] + (above[1] - below[1]) * (speed - below[0]) / (above[0] - below[0])


def stock(index: Index) -> Iterator[Finding]:
    """The block is as large as the part's box and the allowances on both sides of it."""
    job, box = index.plan.job.stock, index.document.part.frame_box
    for k in range(3):
        wanted = box.max[k] - box.min[k] + job.allowance[2 * k] + job.allowance[2 * k + 1]
        if abs(wanted - job.size[k]) > SIZE:
            text = (
                f"the stock is said to be {job.size[k]:.3f} mm along {'xyz'[k]}; part and allowances make {wanted:.3f}"
            )
            yield fault("stock_size", text)


SIZE = 0.01
"""Mm that the stock's size may be off the part and its allowances."""


CHECKS = (sums, counts, proof, clampings, data, stock)
