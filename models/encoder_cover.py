"""Encoder cover: a hollow box, turned and moved away from the axes of its file."""

from models.cutting import Workpiece, countersink, faced, hole, on_circle, on_grid, pocket


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "encoder_cover",
        (80.0, 64.0, 30.0),
        "Turned about two axes and moved, so that no face is parallel to the file's axes. Six planar_face features."
        " The hollow has corner radii and a floor radius (radiused bottom).",
        schema="AP242",
    )
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    pocket(work, "hollow", (16, 8, 4), (64, 56, 30), "+z", corner_radius=6, floor_radius=2)
    pocket(work, "cable exit", (40, 0, 22), (50, 8, 30), "+z", ["+y", "-y"], directions=["+z", "-y"])
    hole(work, "shaft", [(40, 32, 4)], "+z", 16.0, 4.0)
    hole(work, "M3 tap drills", on_circle((40, 32, 4), "+z", 30, 4, 45), "+z", 2.5, 4.0)
    work.pattern("circular", "M3 tap drills")
    countersink(work, "M4 screws", on_grid((8, 8, 30), "+z", (64, 48), (2, 2)), "+z", 4.5, 30.0, 9.18, 90.0)
    work.pattern("rectangular", "M4 screws")
    hole(work, "M3 set screw", [(80, 32, 15)], "+x", 2.5, 8.0, "conical")
    pocket(work, "label bed", (0, 20, 8), (1.5, 44, 22), "-x", corner_radius=3)
    work.turn((0.0, 0.0, 1.0), 27.0)
    work.turn((1.0, 1.0, 0.0), 38.0)
    work.move((210.0, -75.0, 33.0))
    return work
