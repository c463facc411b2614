"""Balance weight: an ordinary little block but for a sealed void that no tool can reach."""

from models.cutting import Workpiece, enclosed_void, faced, hole, on_grid, pocket


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "balance_weight",
        (60.0, 40.0, 30.0),
        "The only oddity is an enclosed_void of 20 x 10 x 8 inside: it has no direction at all. Six planar_face"
        " features.",
        schema="AP214",
    )
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    pocket(work, "finger slot", (22, 0, 24), (38, 40, 30), "+z", ["+y", "-y"])
    hole(work, "M5 tap drills", on_grid((10, 10, 30), "+z", (40, 20), (2, 2)), "+z", 4.2, 12.0, "conical")
    work.pattern("rectangular", "M5 tap drills")
    enclosed_void(work, "void", (20, 15, 8), (40, 25, 16))
    return work
