"""Worm gear housing: a deep cavity, coaxial bores across it, cut from six sides."""

from models.cutting import Island, Workpiece, counterbore, faced, hole, on_circle, on_grid, pocket


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "worm_gear_housing",
        (140.0, 100.0, 80.0),
        "Six planar_face features. The worm bores in the two walls of the cavity are one round_hole right through (both"
        " sides of a gap). The cavity has corner radii and a floor radius. The foot relief goes round an island.",
        schema="AP242",
    )
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    hollow(work)
    bore(work)
    return work


def hollow(work: Workpiece) -> None:
    """Pockets, slot and step."""
    pocket(work, "wheel cavity", (25, 20, 30), (95, 80, 80), "+z", corner_radius=8, floor_radius=3)
    relief_island = Island((40.0, 30.0), (80.0, 70.0), corner_radius=5.0)
    pocket(work, "foot relief", (28, 18, 0), (92, 82, 8), "-z", corner_radius=6, islands=[relief_island])
    pocket(work, "sump", (112, 25, 15), (140, 75, 63), "+x", corner_radius=8)
    pocket(work, "lid step", (116, 0, 74), (140, 100, 80), "+z", ["+x", "+y", "-y"])
    pocket(work, "cable slot", (0, 94, 10), (140, 100, 22), "+y", ["+x", "-x"])


def bore(work: Workpiece) -> None:
    """Shaft bores, motor seat and screws."""
    hole(work, "wheel shaft", [(60, 50, 30)], "+z", 30.0, 30.0)
    hole(work, "worm shaft", [(60, 0, 60)], "-y", 22.0, 100.0, gap=60.0)
    hole(work, "M5 worm cap -y", on_circle((60, 0, 60), "-y", 34, 4, 45), "-y", 4.2, 12.0, "conical")
    hole(work, "M5 worm cap +y", on_circle((60, 100, 60), "+y", 34, 4, 45), "+y", 4.2, 12.0, "conical")
    work.pattern("circular", "M5 worm cap -y")
    work.pattern("circular", "M5 worm cap +y")
    counterbore(work, "motor seat", [(0, 50, 52)], "-x", 22.0, 25.0, 38.0, 6.0)
    hole(work, "M3 motor screws", on_grid((0, 34.5, 36.5), "-x", (31, 31), (2, 2)), "-x", 2.5, 8.0, "conical")
    work.pattern("rectangular", "M3 motor screws")
    hole(work, "M5 lid screws", on_grid((12, 10, 80), "+z", (96, 80), (2, 2)), "+z", 4.2, 14.0, "conical")
    work.pattern("rectangular", "M5 lid screws")
    hole(work, "M8 feet", on_grid((12, 10, 0), "-z", (116, 80), (2, 2)), "-z", 6.8, 9.0, "flat")
    work.pattern("rectangular", "M8 feet")
