"""Whether a milling cutter fits the radii of a pocket: one rule for reach and for plans.

Rules of the trade, from memory: the cutter's radius is smaller than the radius of an upright inner corner, so that its path
is continuous; its edge radius RE is no larger than the radius between wall and floor.
"""

from __future__ import annotations

from shared.plan import Tool

SLACK_MM = 1e-6


def misfits(tool: Tool, corner_radius: float | None, floor_radius: float | None) -> list[tuple[str, str]]:
    """(reason as in shared.reach.Reason, text with figures) of each rule that a cutter breaks; radii in mm, None: no such
    corner. A sharp corner (0) is cut by no cutter and refuses all; what is left there is said elsewhere.
    """
    out = []
    if corner_radius is not None and corner_radius > 0 and corner_radius - SLACK_MM <= tool.DC / 2:
        text = f"its radius {tool.DC / 2:g} mm is not smaller than the corner radius {corner_radius:g} mm"
        out.append(("corner_too_tight", text))
    if floor_radius is not None and floor_radius + SLACK_MM < tool.RE:
        text = f"its edge radius {tool.RE:g} mm is larger than the floor radius {floor_radius:g} mm"
        out.append(("floor_radius_too_small", text))
    return out
