"""Polar wedge: a face at the latitude's angle with holes square to it."""

from models.cutting import Workpiece, bevel_edge, faced, hole, pocket, tilted, tilted_hole


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "polar_wedge",
        (160.0, 110.0, 70.0),
        "Six planar_face features, one of them tilted: the top rises from 35 to 70 along x, 12.34 degrees, and three"
        " holes are square to it, so its direction is a setup of its own. The toe recesses are open to their flank.",
        schema="AP242",
    )
    normal = tilted(work, "tilted top", 35.0, 70.0)
    faced(work, "-z", "+x", "-x", "+y", "-y")
    bevel_edge(work, "front edge", "-x", "-z", 3.0)
    pocket(work, "weight relief", (35, 25, 0), (125, 85, 18), "-z", corner_radius=8)
    pocket(work, "toe recess -y", (60, 0, 0), (100, 14, 10), "-z", ["-y"], corner_radius=5)
    pocket(work, "toe recess +y", (60, 96, 0), (100, 110, 10), "-z", ["+y"], corner_radius=5)
    for number, (x, y) in enumerate([(20.0, 55.0), (140.0, 25.0), (140.0, 85.0)], 1):
        tilted_hole(work, f"M8 tap drill {number}", (x, y, 35.0 + x * 35.0 / 160.0), normal, 6.8, 20.0)
    hole(work, "M10 tap drill", [(160, 55, 35)], "+x", 8.5, 26.0, "conical")
    hole(work, "dowels", [(0, 25, 16), (0, 85, 16)], "-x", 8.0, 14.0, "flat")
    hole(work, "lock screws", [(80, 0, 30), (130, 0, 30)], "-y", 5.0, 16.0, "conical")
    return work
