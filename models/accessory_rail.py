"""Accessory rail: a tee slot along its whole length."""

from models.cutting import Workpiece, bevel_edge, counterbore, faced, hole, on_grid, pocket, round_edge, tee_slot


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "accessory_rail",
        (160.0, 50.0, 34.0),
        "One undercut: a tee slot for M8 tee nuts (10 wide, foot 18 x 8), right through along x, cut by a tee slot"
        " cutter from +z (its open ends are profiles seen from +x and -x). Six planar_face features.",
        schema="AP203",
    )
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    bevel_edge(work, "top edge +y", "+y", "+z", 2.0)
    bevel_edge(work, "top edge -y", "-y", "+z", 2.0)
    round_edge(work, "bottom edge +y", "+y", "-z", 4.0)
    tee_slot(work, "tee slot", "x", 25.0, 10.0, 10.0, 18.0, 8.0)
    counterbore(work, "M6 screws", on_grid((20, 25, 0), "-z", (40, 0), (4, 1)), "-z", 6.6, 16.0, 11.0, 6.4)
    work.pattern("rectangular", "M6 screws")
    pocket(work, "scale bed", (30, 0, 8), (130, 1.5, 22), "-y", corner_radius=3)
    hole(work, "M5 stop screws", [(0, 8, 10), (0, 42, 10)], "-x", 4.2, 14.0, "conical")
    hole(work, "M5 end screws", [(160, 8, 10), (160, 42, 10)], "+x", 4.2, 14.0, "conical")
    return work
