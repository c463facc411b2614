"""Whether a milling cutter fits the radii of a pocket: one rule for reach and for plans.

Rules of the trade, from memory: the cutter's radius is smaller than the radius of an upright inner corner, so that its path
is continuous; its edge radius RE is no larger than the radius between wall and floor.
"""

from __future__ import annotations

from math import pi

from shared.plan import Tool

CARBIDE_N_MM2 = 600_000.0
"""Young's modulus of cemented carbide, from memory; high-speed steel has about a third."""

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


def bending(force: float, length: float, diameter: float, modulus: float = CARBIDE_N_MM2) -> float:
    """How far the tip of a cutter bends, mm: F L^3 / (3 E I) with I = pi d^4 / 64, a round cantilever loaded at its end.

    force in N across the cutter, length and diameter in mm, modulus in N/mm2. Flutes make it bend more than this.
    Source: beam theory, as in any handbook of mechanics.
    """
    return 64 * force * length**3 / (3 * pi * modulus * diameter**4)
