"""Dovetail saddle clamp: the bar seat is a dovetail, the edges are chamfered."""

from models.cutting import Workpiece, bevel_edge, counterbore, dovetail, faced, hole, on_grid, pocket


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "dovetail_clamp",
        (120.0, 90.0, 32.0),
        "One undercut: a dovetail slot right through along x, cut by a dovetail cutter from +z (its open ends are"
        " profiles seen from +x and -x). Six planar_face features. Two bottom edges are chamfered.",
        schema="AP203",
    )
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    dovetail(work, "bar seat", 45.0, 44.0, 12.0, 60.0)
    bevel_edge(work, "bottom edge +y", "+y", "-z", 2.0)
    bevel_edge(work, "bottom edge -y", "-y", "-z", 2.0)
    pocket(work, "jaw relief", (45, 0, 14), (75, 10, 32), "-y", ["+z"], corner_radius=5)
    pocket(work, "underside relief", (30, 30, 0), (90, 60, 6), "-z", corner_radius=6)
    counterbore(work, "M8 screws", on_grid((14, 33, 20), "+z", (92, 24), (2, 2)), "+z", 9.0, 20.0, 15.0, 8.6)
    work.pattern("rectangular", "M8 screws")
    hole(work, "M6 clamp screws", [(20, 0, 10), (100, 0, 10)], "-y", 5.0, 14.0, "conical")
    hole(work, "M8 tap drills", [(25, 80, 32), (60, 80, 32), (95, 80, 32)], "+z", 6.8, 18.0, "conical")
    return work
