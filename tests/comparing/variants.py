"""States of one demo part, the altitude carrier's smaller sister: every change is made by a script, so it is known."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from models.cutting import Workpiece, counterbore, faced, hole, on_grid, pocket

SIZE = (120.0, 80.0, 30.0)


def block(name: str, size: tuple[float, float, float] = SIZE) -> Workpiece:
    work = Workpiece(name, size, "a state of the carrier, for comparison")
    faced(work, "+z", "-z", "+x", "-x", "+y", "-y")
    return work


def window(work: Workpiece, low=(60, 25, 14), high=(100, 55, 30), corner=4) -> None:
    pocket(work, "window", low, high, "+z", corner_radius=corner)


def slot(work: Workpiece) -> None:
    pocket(work, "slot", (20, 0, 22), (32, 80, 30), "+z", ["+y", "-y"])


def corners(work: Workpiece) -> None:
    hole(work, "M6 clearance", on_grid((8, 8, 30), "+z", (104, 64), (2, 2)), "+z", 6.6, 30.0)


def dowel(work: Workpiece, x: float = 45.0, diameter: float = 8.0) -> None:
    hole(work, "dowel", [(x, 40, 30)], "+z", diameter, 12.0, "flat")


def side(work: Workpiece) -> None:
    hole(work, "side drill", [(120, 40, 8)], "+x", 5.0, 16.0, "conical")


def build(name: str, *cuts: Callable[[Workpiece], None]) -> Workpiece:
    work = block(name)
    for cut in cuts:
        cut(work)
    return work


STATES: dict[str, Callable[[], Workpiece]] = {
    "first": lambda: build("first", window, slot, corners, dowel, side),
    "cut_in_another_order": lambda: build("cut_in_another_order", side, dowel, corners, slot, window),
    "hole_added": lambda: build("hole_added", window, slot, corners, dowel, side, lambda w: dowel(w, 10.0, 6.0)),
    "slot_removed": lambda: build("slot_removed", window, corners, dowel, side),
    "dowel_moved": lambda: build("dowel_moved", window, slot, corners, lambda w: dowel(w, 50.0), side),
    "dowel_resized": lambda: build("dowel_resized", window, slot, corners, lambda w: dowel(w, 45.0, 10.0), side),
    "window_deeper": lambda: build("window_deeper", lambda w: window(w, (60, 25, 10)), slot, corners, dowel, side),
    "counterbored": lambda: build("counterbored", window, slot, bored_corners, dowel, side),
    "side_hole_gone": lambda: build("side_hole_gone", window, slot, corners, dowel),
    "turned": lambda: turned("turned", (0, 0, 1), 90.0),
    "turned_oddly": lambda: turned("turned_oddly", (1, 2, 3), 40.0),
    "longer": lambda: longer(),
}


def bored_corners(work: Workpiece) -> None:
    counterbore(work, "M6 screws", on_grid((8, 8, 30), "+z", (104, 64), (2, 2)), "+z", 6.6, 30.0, 11.0, 6.4)


def turned(name: str, axis: tuple[float, float, float], degrees: float) -> Workpiece:
    """The first state turned as a whole, its dowel moved as well: only that is a change of the part."""
    work = build(name, window, slot, corners, lambda w: dowel(w, 50.0), side)
    work.turn(axis, degrees)
    work.move((300.0, -40.0, 12.5))
    return work


def longer() -> Workpiece:
    """10 mm longer at +x: the side drill goes with its face, all else stays."""
    work = block("longer", (130.0, 80.0, 30.0))
    for cut in (window, slot, corners, dowel):
        cut(work)
    hole(work, "side drill", [(130, 40, 8)], "+x", 5.0, 16.0, "conical")
    return work


def write(state: str, folder: Path) -> Path:
    """The state's STEP file."""
    work = STATES[state]()
    work.save(folder)
    return folder / f"{work.part}.step"
