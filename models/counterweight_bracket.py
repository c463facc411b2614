"""Counterweight shaft bracket: an angle with a stepped shaft bore."""

from models.cutting import Workpiece, bevel_edge, counterbore, faced, hole, pocket, round_edge, stepped


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "counterweight_bracket",
        (100.0, 70.0, 60.0),
        "A large step leaves a wall and a foot. Six planar_face features. Two of the four upright edges are rounded:"
        " two edge_rounds, no outside_profile, because the sides do not run round in one smooth ring.",
        schema="AP214",
    )
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    pocket(work, "angle", (40, 0, 25), (100, 70, 60), "+z", ["+x", "+y", "-y"])
    round_edge(work, "foot corner +y", "+x", "+y", 12.0)
    round_edge(work, "foot corner -y", "+x", "-y", 12.0)
    bevel_edge(work, "wall edge", "-x", "+z", 3.0)
    stepped(work, "shaft bore", [(0, 35, 40)], "-x", [(32, 8), (24, 20), (20, 40)])
    pocket(work, "underside slot", (52, 0, 0), (72, 70, 6), "-z", ["+y", "-y"])
    pocket(work, "relief -y", (8, 0, 26), (32, 6, 50), "-y", corner_radius=4)
    pocket(work, "relief +y", (8, 64, 26), (32, 70, 50), "+y", corner_radius=4)
    counterbore(work, "M8 clamp bolt", [(20, 70, 12)], "+y", 9.0, 70.0, 15.0, 8.6)
    hole(work, "M10 foot holes", [(86, 18, 25), (86, 52, 25)], "+z", 11.0, 25.0)
    hole(work, "M6 tap drills", [(58, 35, 25), (66, 12, 25), (66, 58, 25)], "+z", 5.0, 12.0, "conical")
    return work
