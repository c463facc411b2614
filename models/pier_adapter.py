"""Pier adapter: a round flange with a boss."""

import math

from models.cutting import Workpiece, bevel_outline, boss, counterbore, faced, hole, on_circle, round_outline


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "pier_adapter",
        (200.0, 200.0, 45.0),
        "Round outside: one outside_profile. Three planar_face features: the top of the boss (+z, on the box), the"
        " floor round it (+z, inside the box) and the bottom (-z). The boss stands on that open floor. The register"
        " below and the bore through it are one counterbore_hole from -z.",
        schema="AP203",
    )
    round_outline(work, "flange", wall_height=25.0)
    boss(work, "pier spigot", (100, 100), 90.0, 20.0, area=math.pi * 100.0**2)
    faced(work, "+z", "-z")
    bevel_outline(work, "bottom edge", "-z", 2.0)
    counterbore(work, "register", [(100, 100, 0)], "-z", 40.0, 45.0, 120.0, 5.0)
    counterbore(work, "M10 screws", on_circle((100, 100, 25), "+z", 160, 6), "+z", 11.0, 25.0, 18.0, 10.6)
    work.pattern("circular", "M10 screws")
    hole(work, "M6 tap drills", on_circle((100, 100, 45), "+z", 66, 6, 30), "+z", 5.0, 16.0, "conical")
    work.pattern("circular", "M6 tap drills")
    return work
