"""Cutters that a shop may have to buy for an order."""

from __future__ import annotations

from shared.plan import PlanDocument, Tool
from shared.quote import SpecialCutter

FORM = {
    "t_slot_mill": "a T-slot cutter of this size",
    "dovetail_mill": "a dovetail cutter of this size and angle",
    "corner_rounding_mill": "a cutter with the round's own radius",
    "reamer": "a reamer for one diameter",
    "boring_tool": "a boring tool that is set to one diameter",
}
MILLS = ("endmill", "bullnose_endmill", "ball_endmill")
LONG = 5.0
"""Reach over diameter from which an end mill is no longer a catalogue's usual one; catalogue habit, no source."""
SMALL = 2.0
"""Mm: cutters below break easily and are bought as needed; common practice, no source."""


def special_cutters(plan: PlanDocument) -> list[SpecialCutter]:
    """Cutters of the plan that are special, in the plan's order of cutters."""
    served: dict[str, list[str]] = {}
    for setup in plan.setups:
        for op in setup.operations:
            served.setdefault(op.tool.id, []).append(op.id)
    return [
        SpecialCutter(tool=tool, why=why, operations=served.get(tool.id, []))
        for tool in plan.tools
        if (why := reason(tool))
    ]


def reason(tool: Tool) -> str:
    """Why a cutter is special, empty where it is not."""
    if tool.kind in FORM:
        return FORM[tool.kind]
    if tool.kind in MILLS and tool.LU and tool.LU > LONG * tool.DC:
        return f"extra long: {tool.LU:g} mm of reach at {tool.DC:g} mm diameter"
    if tool.kind == "twist_drill" and tool.LU and tool.LU > 12.0 * tool.DC:
        return f"extra long drill: {tool.LU:g} mm at {tool.DC:g} mm diameter"
    if tool.kind in (*MILLS, "twist_drill") and tool.DC < SMALL:
        return f"smaller than {SMALL:g} mm"
    return ""
