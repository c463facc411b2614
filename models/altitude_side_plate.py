"""Altitude side plate: a contoured plate with an island in its relief and two bolt circles."""

from models.cutting import (
    Island,
    Workpiece,
    countersink,
    faced,
    hole,
    on_circle,
    outline,
    pocket,
    shaped_pocket,
)


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "altitude_side_plate",
        (240.0, 150.0, 16.0),
        "The outside is one outside_profile with rounded upright corners, so only +z and -z are planar_face features"
        " (two of them). Relief with a rounded island; the triangular window has three sides.",
        schema="AP242",
    )
    contour = [(20.0, 0.0), (220.0, 0.0), (240.0, 60.0), (200.0, 150.0), (40.0, 150.0), (0.0, 60.0)]
    outline(work, "outline", contour, [15.0, 15.0, 25.0, 30.0, 30.0, 25.0])
    faced(work, "+z", "-z")
    relief(work)
    drill(work)
    return work


def relief(work: Workpiece) -> None:
    """The weight relief from the front, the shallow one behind, and the window."""
    island = Island((66.0, 32.0), (94.0, 52.0), corner_radius=4.0)
    pocket(work, "relief", (50, 18, 6), (110, 66, 16), "+z", corner_radius=6, islands=[island])
    pocket(work, "cable bed", (135, 15, 0), (205, 35, 4), "-z", corner_radius=5)
    window = [(145.0, 50.0), (205.0, 50.0), (175.0, 85.0)]
    shaped_pocket(work, "window", window, [5.0, 5.0, 5.0], 0, 16, through=True)


def drill(work: Workpiece) -> None:
    """Bearing bore, its M5 bolt circle, and countersunk M6 screws by DIN 74-F."""
    hole(work, "bearing bore", [(100, 108, 16)], "+z", 42.0, 16.0)
    hole(work, "M5 tap drills", on_circle((100, 108, 16), "+z", 56, 6, 30), "+z", 4.2, 16.0)
    work.pattern("circular", "M5 tap drills")
    screws = [(30.0, 60.0, 16.0), (210.0, 65.0, 16.0), (40.0, 20.0, 16.0), (185.0, 125.0, 16.0)]
    countersink(work, "M6 screws", screws, "+z", 6.6, 16.0, 13.71, 90.0)
    work.pattern("general", "M6 screws")
    hole(work, "pins", [(125, 45, 16), (125, 70, 16)], "+z", 6.0, 10.0, "flat")
    hole(work, "M6 tap drills below", [(120, 0, 8), (170, 0, 9)], "-y", 5.0, 13.0, "conical")
