"""Cable block: features that overlap on purpose, so that two readings can be argued."""

from models.cutting import Workpiece, faced, hole, pocket


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "cable_block",
        (100.0, 80.0, 40.0),
        "Meant to be ambiguous: the record tells how it was cut, other readings are as good. Two slots of different"
        " depth cross; a pocket cuts through the wall of the step; a hole runs down the pocket's side wall. Six"
        " planar_face features.",
        schema="AP214",
    )
    work.ambiguous = True
    work.less(None)
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    pocket(work, "slot x", (0, 20, 30), (100, 30, 40), "+z", ["+x", "-x"])
    pocket(work, "slot y", (25, 0, 24), (37, 80, 40), "+z", ["+y", "-y"])
    pocket(work, "step", (80, 0, 28), (100, 80, 40), "+z", ["+x", "+y", "-y"])
    pocket(work, "bay", (60, 45, 20), (90, 70, 40), "+z", corner_radius=5)
    hole(work, "wall hole", [(60, 57, 40)], "+z", 10.0, 40.0)
    hole(work, "M6 tap drills", [(12, 10, 40), (12, 70, 40), (60, 10, 40)], "+z", 5.0, 15.0, "conical")
    return work
