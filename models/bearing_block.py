"""Bearing block: a boss with a flat bearing seat, a blind stepped bore, a slot and pockets on the sides."""

from models.cutting import Workpiece, boss, faced, hole, on_grid, pocket, round_edge, stepped


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "bearing_block",
        (110.0, 80.0, 70.0),
        "Seven planar_face features: five sides, the boss top (+z, on the box) and the open floor round the boss (+z)."
        " The bearing seat is a round_hole with a flat bottom, large as it is.",
        schema="AP214",
    )
    boss(work, "bearing boss", (52, 40), 62.0, 12.0)
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    round_edge(work, "corner +x +y", "+x", "+y", 8.0)
    round_edge(work, "corner +x -y", "+x", "-y", 8.0)
    hole(work, "bearing seat", [(52, 40, 70)], "+z", 47.0, 18.0, "flat")
    stepped(work, "seal bore", [(110, 40, 28)], "+x", [(32, 6), (26, 14), (18, 24)], bottom="flat")
    pocket(work, "key slot", (0, 32, 0), (8, 48, 58), "-x", ["+z", "-z"])
    pocket(work, "side bay", (30, 72, 35), (70, 80, 58), "+y", ["+z"], corner_radius=4)
    pocket(work, "side relief", (25, 0, 12), (75, 10, 45), "-y", corner_radius=5)
    hole(work, "M8 tap drills", on_grid((20, 15, 0), "-z", (70, 50), (2, 2)), "-z", 6.8, 20.0, "conical")
    work.pattern("rectangular", "M8 tap drills")
    hole(work, "oil hole", [(12, 80, 40)], "+y", 5.0, 15.0, "conical")
    return work
