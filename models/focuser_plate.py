"""Focuser plate: one end is a free-form surface."""

import math

import cadquery as cq

from models.cutting import Workpiece, countersink, faced, hole, on_grid, pocket, region, ring_groove


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "focuser_plate",
        (130.0, 120.0, 22.0),
        "One region: a free-form surface that falls away from the top towards +x and runs out on three sides, seen from"
        " +z and +x. Six planar_face features. The seal groove below is a closed_pocket round an island.",
        schema="AP242",
    )
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    region(work, "hand rest", above_surface(), ["+z", "+x"])
    hole(work, "tube opening", [(46, 60, 22)], "+z", 62.0, 22.0)
    ring_groove(work, "seal groove", (46, 60, 0), "-z", 80, 72, 2.5)
    countersink(work, "M5 screws", on_grid((9, 10, 22), "+z", (74, 100), (2, 2)), "+z", 5.5, 22.0, 11.47, 90.0)
    work.pattern("rectangular", "M5 screws")
    pocket(work, "pinion bed", (96, 30, 0), (120, 90, 6), "-z", corner_radius=4)
    hole(work, "M4 tap drills", [(40, 0, 11), (60, 0, 11)], "-y", 3.3, 12.0, "conical")
    return work


def above_surface() -> cq.Shape:
    """The air above z = 24 - 9 u2 (1 + 0.2 cos v): u from x = 65 over 60 mm, v one turn over the width."""
    rows = []
    for i in range(15):
        x = 65.0 + i * 5.0
        fall = 9.0 * ((x - 65.0) / 60.0) ** 2
        rows.append(
            [
                cq.Vector(x, y, 24.0 - fall * (1.0 + 0.2 * math.cos(math.radians(360.0 * y / 120.0))))
                for y in (-6.0 + 6.0 * j for j in range(23))
            ]
        )
    surface = cq.Face.makeSplineApprox(rows, tol=1e-3, smoothing=None, minDeg=3, maxDeg=5)
    return cq.Solid.extrudeLinear(surface, cq.Vector(0, 0, 20))
