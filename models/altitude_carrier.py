"""Altitude bearing carrier: the flagship, to be faced on six sides and cut from all of them."""

from models.cutting import Workpiece, counterbore, faced, hole, on_grid, pocket


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "altitude_carrier",
        (180.0, 140.0, 50.0),
        "Flagship. Steps and open pockets with one, two and three closed sides on the top and on both flanks (-y, +y),"
        " a closed pocket right through whose R4 corners are too tight for a roughing cutter, drilled, tapped and"
        " counterbored holes. Six planar_face features, one a side. No edge is chamfered: all are left to be broken."
        " The +y notch lies in the floor of the +y step. Tap drills: 10.2 (M12), 17.5 (M20), 6.8 (M8).",
        schema="AP214",
    )
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    cut_top(work)
    cut_flanks(work)
    drill(work)
    return work


def cut_top(work: Workpiece) -> None:
    """One, two and three closed sides seen from the top, and the window."""
    pocket(work, "top step", (0, 0, 44), (25, 140, 50), "+z", ["-x", "+y", "-y"])
    pocket(work, "top notch", (140, 105, 40), (180, 140, 50), "+z", ["+x", "+y"], corner_radius=5)
    pocket(work, "top bay", (75, 0, 35), (115, 35, 50), "+z", ["-y"], corner_radius=5)
    pocket(work, "window", (60, 60, 0), (120, 95, 50), "+z", through=True, corner_radius=4)


def cut_flanks(work: Workpiece) -> None:
    """One, two and three closed sides seen from -y, then from +y."""
    pocket(work, "front step", (0, 0, 0), (180, 8, 12), "-y", ["-z", "+x", "-x"])
    pocket(work, "front notch", (150, 0, 35), (180, 10, 50), "-y", ["+x", "+z"], corner_radius=4)
    pocket(work, "front bay", (35, 0, 28), (60, 12, 50), "-y", ["+z"], corner_radius=4)
    pocket(work, "back step", (0, 134, 0), (180, 140, 25), "+y", ["-z", "+x", "-x"])
    pocket(work, "back notch", (0, 128, 0), (30, 134, 15), "+y", ["-x", "-z"], corner_radius=4)
    pocket(work, "back bay", (60, 128, 32), (90, 140, 50), "+y", ["+z"], corner_radius=4)


def drill(work: Workpiece) -> None:
    """Tap drills by ISO 2306, clearance by ISO 273 medium, counterbores by DIN 974-1 row 1."""
    corners = on_grid((42, 42, 50), "+z", (90, 56), (2, 2))
    counterbore(work, "M8 screws", corners, "+z", 9.0, 50.0, 15.0, 8.6)
    work.pattern("rectangular", "M8 screws")
    hole(work, "M12 tap drills", [(42, 70, 50), (150, 70, 50)], "+z", 10.2, 28.0, "conical")
    hole(work, "M20 tap drill", [(105, 112, 50)], "+z", 17.5, 50.0)
    counterbore(work, "M6 screws from below", [(14, 30, 0), (14, 110, 0)], "-z", 6.6, 44.0, 11.0, 6.4)
    hole(work, "M8 tap drills +x", [(180, 50, 20), (180, 88, 20)], "+x", 6.8, 22.0, "conical")
    hole(work, "dowel -x", [(0, 70, 22)], "-x", 8.0, 15.0, "flat")
    hole(work, "M8 tap drills -y", [(130, 0, 24), (50, 0, 20)], "-y", 6.8, 20.0, "conical")
    hole(work, "cross drill +y", [(125, 140, 38)], "+y", 5.0, 18.0, "conical")
