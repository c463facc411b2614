"""Azimuth base: a large plate with many holes."""

from models.cutting import (
    Workpiece,
    bevel_outline,
    counterbore,
    faced,
    hole,
    on_circle,
    on_grid,
    outline,
    ring_groove,
    stepped,
)

CENTER = (130.0, 130.0, 25.0)


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "azimuth_base",
        (370.0, 260.0, 25.0),
        "All four upright corners are rounded, so the outside is one outside_profile and only +z and -z are planar_face"
        " features (two). The bearing track is a ring groove: a closed_pocket round an island. The chamfer round the"
        " top is one tangent chain of eight faces, one feature.",
        schema="AP203",
    )
    rectangle = [(0.0, 0.0), (370.0, 0.0), (370.0, 260.0), (0.0, 260.0)]
    outline(work, "outline", rectangle, [20.0] * 4)
    faced(work, "+z", "-z")
    bevel_outline(work, "top edges", "+z", 1.0)
    drill_turntable(work)
    drill_deck(work)
    return work


def drill_turntable(work: Workpiece) -> None:
    """The centre bore, the bearing track and the bolt circles round them."""
    stepped(work, "centre bore", [CENTER], "+z", [(62, 6), (52, 16), (40, 25)])
    hole(work, "M5 tap drills", on_circle(CENTER, "+z", 100, 24), "+z", 4.2, 25.0)
    ring_groove(work, "bearing track", CENTER, "+z", 170, 130, 3)
    counterbore(work, "M8 screws", on_circle(CENTER, "+z", 205, 12, 15), "+z", 9.0, 25.0, 15.0, 8.6)
    work.pattern("circular", "M5 tap drills")
    work.pattern("circular", "M8 screws")


def drill_deck(work: Workpiece) -> None:
    """The grid for accessories, feet, and side holes."""
    hole(work, "M6 deck grid", on_grid((256, 20, 25), "+z", (15, 15), (7, 15)), "+z", 5.0, 15.0, "conical")
    work.pattern("rectangular", "M6 deck grid")
    hole(work, "M10 feet", [(22, 26, 25), (22, 234, 25), (236, 24, 25)], "+z", 8.5, 25.0)
    work.pattern("general", "M10 feet")
    hole(work, "M4 cover screws -y", on_grid((40, 0, 12), "-y", (0, 30), (1, 10)), "-y", 3.3, 9.0, "conical")
    hole(work, "M4 cover screws +y", on_grid((40, 260, 12), "+y", (0, 30), (1, 10)), "+y", 3.3, 9.0, "conical")
    work.pattern("rectangular", "M4 cover screws -y")
    work.pattern("rectangular", "M4 cover screws +y")
    hole(work, "dowels below", on_grid((262.5, 27.5, 0), "-z", (75, 60), (2, 4)), "-z", 4.0, 8.0, "flat")
    work.pattern("rectangular", "dowels below")
