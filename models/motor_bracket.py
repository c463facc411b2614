"""Motor bracket: an angle in inch fractions, its file in inches."""

from models.cutting import (
    Workpiece,
    bevel_edge,
    counterbore,
    countersink,
    faced,
    hole,
    on_grid,
    pocket,
    round_edge,
)
from models.cutting.frame import Vec

INCH = 25.4


def inch(x: float, y: float, z: float) -> Vec:
    """A point given in inches."""
    return (x * INCH, y * INCH, z * INCH)


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "motor_bracket",
        inch(4, 3, 2.75),
        "The file is in inches, the record in mm. Six planar_face features. Pilot 1 1/2 and the four screws 13/64 on a"
        " square of 1.856; tap drill F (0.257) for 5/16-18; 82 degree countersink; belt slots with R 1/8 corners.",
        schema="AP214",
        unit="inch",
    )
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    pocket(work, "angle", inch(0.5, 0, 0.5), inch(4, 3, 2.75), "+z", ["+x", "+y", "-y"])
    round_edge(work, "foot corner +y", "+x", "+y", INCH / 4)
    round_edge(work, "foot corner -y", "+x", "-y", INCH / 4)
    bevel_edge(work, "wall edge", "-x", "+z", INCH / 16)
    pocket(work, "belt slot 1", inch(1.5, 0.5, 0), inch(3, 0.875, 0.5), "+z", through=True, corner_radius=INCH / 8)
    pocket(work, "belt slot 2", inch(1.5, 2.125, 0), inch(3, 2.5, 0.5), "+z", through=True, corner_radius=INCH / 8)
    drill(work)
    return work


def drill(work: Workpiece) -> None:
    """Motor pilot, motor screws, feet."""
    hole(work, "pilot", [inch(0, 1.5, 1.6)], "-x", 1.5 * INCH, 0.5 * INCH)
    screws = on_grid(inch(0, 0.572, 0.672), "-x", (1.856 * INCH, 1.856 * INCH), (2, 2))
    hole(work, "motor screws", screws, "-x", 13 / 64 * INCH, 0.5 * INCH)
    work.pattern("rectangular", "motor screws")
    feet = [inch(3.5, 1.0, 0.5), inch(3.5, 2.0, 0.5)]
    counterbore(work, "1/4 screws", feet, "+z", 9 / 32 * INCH, 0.5 * INCH, 7 / 16 * INCH, 1 / 4 * INCH)
    countersink(work, "#10 screw", [inch(1, 1.5, 0.5)], "+z", 13 / 64 * INCH, 0.5 * INCH, 25 / 64 * INCH, 82.0)
    hole(work, "5/16-18 tap drill", [inch(1, 0, 0.25)], "-y", 0.257 * INCH, 0.75 * INCH, "conical")
