"""Tripod hub: a disc with three leg bays at 120 degrees."""

import math

import cadquery as cq

from models.cutting import Workpiece, bevel_outline, counterbore, faced, hole, on_circle, round_outline, stepped

RADIUS, HEIGHT = 70.0, 40.0
BAY_WIDTH, BAY_START, BAY_DEPTH = 24.0, 35.0, 20.0


def build() -> Workpiece:
    """The finished workpiece."""
    work = Workpiece(
        "tripod_hub",
        (2 * RADIUS, 2 * RADIUS, HEIGHT),
        "Round outside: one outside_profile, notched by the bays; two planar_face features (+z, -z). Each leg bay is an"
        " open_pocket with three closed sides, its open side the outside itself: it can also be cut along its own"
        " radius, for two of the three not along an axis of the file. Its length runs along the radius.",
        schema="AP214",
    )
    round_outline(work, "rim", wall_height=HEIGHT)
    faced(work, "+z", "-z")
    bevel_outline(work, "bottom edge", "-z", 1.5)
    for number in range(3):
        leg_bay(work, f"leg bay {number + 1}", 120.0 * number)
    center = (RADIUS, RADIUS, HEIGHT)
    stepped(work, "spindle bore", [center], "+z", [(50, 8), (40, 20), (25, 40)])
    counterbore(work, "M8 screws", on_circle(center, "+z", 104, 3, 60), "+z", 9.0, HEIGHT, 15.0, 8.6)
    work.pattern("circular", "M8 screws")
    hole(work, "M5 tap drills", on_circle((RADIUS, RADIUS, 0), "-z", 112, 6, 30), "-z", 4.2, 12.0, "conical")
    work.pattern("circular", "M5 tap drills")
    return work


def leg_bay(work: Workpiece, name: str, degrees: float) -> None:
    """One bay, from the top, open along its radius; its volume from the integral of the circle over the width."""
    corner = cq.Vector(RADIUS + BAY_START, RADIUS - BAY_WIDTH / 2, HEIGHT - BAY_DEPTH)
    tool = cq.Solid.makeBox(RADIUS, BAY_WIDTH, 2 * BAY_DEPTH, corner)
    middle = (RADIUS, RADIUS)
    half = BAY_WIDTH / 2
    sector = half * math.sqrt(RADIUS**2 - half**2) + RADIUS**2 * math.asin(half / RADIUS)
    work.remove(tool.rotate((*middle, 0.0), (*middle, 1.0), degrees), (sector - BAY_START * BAY_WIDTH) * BAY_DEPTH)
    outwards = (math.cos(math.radians(degrees)), math.sin(math.radians(degrees)), 0.0)
    dimensions = {"length": RADIUS - BAY_START, "width": BAY_WIDTH, "depth": BAY_DEPTH}
    work.add(
        name,
        "open_pocket",
        ["+z", outwards],
        dimensions,
        open_sides=1,
        closed_sides=3,
        bottom_condition="planar",
    )
