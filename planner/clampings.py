"""How the workpiece is held in each clamping, and each setup's work plane and clearance plane."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

from planner.holding import hold_of
from planner.problem import Problem, side_finished
from planner.recipes.practice import CLEARANCE
from planner.setups import Mode, Slot
from planner.setups.contact import JAW_THICK
from planner.setups.modes import GRIP_MM
from planner.stock import SIDES, Stock, dot, opposite
from planner.units import Grouped, profile_walls
from shared.findings import Finding
from shared.plan import Clamping
from shared.units import Mm, Vector


@dataclass(frozen=True)
class WorkPlane:
    """Origin and x axis of a setup's work plane, its clearance level, and why they lie there."""

    origin: Vector
    x_axis: Vector
    clearance: Mm
    because: list[str]


def work_plane(stock: Stock, direction: Vector, mode: Mode, cut: frozenset[str]) -> WorkPlane:
    """The work plane for a direction; `cut`: stock sides that are at size when the setup starts.

    ISO 841: Z along the spindle towards the tool, X level and along the jaws (or the rotary axis), Y makes the system
    right-handed. The origin is the corner of the stock's top that has all of the part at positive X and Y.
    """
    x_axis, along = _x_axis(stock, direction, mode)
    y_axis = _cross(direction, x_axis)
    corners = _corners(stock, cut)

    def place(p: Vector) -> tuple[float, ...]:
        return (-round(dot(p, direction), 6), round(dot(p, x_axis), 6), round(dot(p, y_axis), 6))

    origin = min(corners, key=place)
    top = dot(origin, direction)
    jaws = _jaws_beyond(stock, direction, mode)
    beside = f", and {jaws:g} mm more for jaws that stand out beyond it" if jaws else ""
    because = [
        f"origin: a corner of the {'finished' if stock.side_of(direction) in cut else 'raw'} top at level {top:g} mm, "
        "to be probed from above and from two sides; the part lies at positive X and Y",
        f"X lies {along}; Z points to the tool (ISO 841)",
        f"clearance plane {CLEARANCE:g} mm above the stock's top{beside}",
    ]
    return WorkPlane(origin, x_axis, top + CLEARANCE + jaws, because)


def _jaws_beyond(stock: Stock, direction: Vector, mode: Mode) -> float:
    """How far jaws may stand out over the stock seen along a direction: not at all from above, where they are low."""
    if mode.fixture or not mode.pair or not mode.rest:
        return 0.0
    level = [stock.direction("+" + a) for a in "xyz" if a != mode.rest[1]]
    return round(JAW_THICK * sum(abs(dot(axis, direction)) for axis in level), 1)


def _x_axis(stock: Stock, direction: Vector, mode: Mode) -> tuple[Vector, str]:
    """The work plane's X in the part's coordinates, and in words what it lies along."""
    across = [a for a in "xyz" if abs(dot(stock.direction("+" + a), direction)) < 1e-3]
    if mode.rotary in across:
        return stock.direction("+" + str(mode.rotary)), "along the rotary axis"
    jaws = [a for a in across if mode.pair and a != mode.pair]
    if mode.pair in across and len(across) == 2:
        return stock.direction("+" + jaws[0]), "along the jaws"
    if across:
        longest = max(across, key=lambda a: stock.part_level("+" + a) + stock.part_level("-" + a))
        return stock.direction("+" + longest), "along the part's own " + longest
    axis = min("xyz", key=lambda a: abs(dot(stock.direction("+" + a), direction)))
    base = stock.direction("+" + axis)
    share = dot(base, direction)
    level = tuple(b - share * d for b, d in zip(base, direction, strict=True))
    size = dot(level, level) ** 0.5  # type: ignore[arg-type]
    return tuple(c / size for c in level), f"level, as near the part's own {axis} as it can"  # type: ignore[return-value]


def _corners(stock: Stock, cut: frozenset[str]) -> list[Vector]:
    """The eight corners of the stock as it is when some sides are at size, in the part's coordinates."""
    out = []
    for signs in product("-+", repeat=3):
        levels = []
        for axis, sign in zip("xyz", signs, strict=True):
            side = sign + axis
            level = stock.part_level(side) if side in cut else stock.raw_level(side)
            levels.append(level if sign == "+" else -level)
        x, y, z = (sum(level * axis[i] for level, axis in zip(levels, stock.frame, strict=True)) for i in range(3))
        out.append((x, y, z))
    return out


def _cross(a: Vector, b: Vector) -> Vector:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def clamping_of(
    problem: Problem, grouped: Grouped, name: str, slots: list[Slot], cut: frozenset[str]
) -> tuple[Clamping, list[Finding]]:
    """One clamping for the setups held in it; `cut`: stock sides at size when it starts. Findings where it is a worry."""
    mode = slots[0].mode
    turned = [list(problem.directions)[s.direction] for s in slots]
    if mode.fixture:
        return _fixture(problem, grouped, name, turned, slots)
    pair = [f"-{mode.pair}", f"+{mode.pair}"]
    hold = hold_of(problem, grouped, slots, cut)
    because = [f"nothing is cut on {', '.join(sorted(mode.sides))} while it is held so"]
    if len(slots) > 1 or problem.axes > 3:
        because.append(f"the machine's {problem.axes} axes turn it to {', '.join(turned)} without letting go")
    if mode.grip:
        extra = problem.stock.extra(str(mode.rest))
        because.append(
            f"the jaws grip only the {extra:g} mm of raw stock on {mode.rest}: the sides above stay free to cut"
        )
    held = "held between its ends" if mode.rest is None else _words(problem, mode.rest, cut)
    clamping = Clamping(
        id=name,
        rest_faces=[] if mode.rest is None else flat_faces(problem, mode.rest, cut),
        clamp_faces=[] if mode.grip else [f for side in pair for f in flat_faces(problem, side, cut)],
        rest_on=held,
        clamp_on=f"the raw layer below the part on {' and '.join(pair)}"
        if mode.grip
        else " and ".join(_words(problem, side, cut) for side in pair),
        device=hold.device,
        rest_side=mode.rest,
        clamp_sides=pair,
        opening=hold.opening,
        grip_height=hold.grip_height,
        jaw_width=hold.jaw_width,
        contact_area=hold.contact_area,
        because=[*because, *hold.because],
    )
    return clamping, hold.findings


def flat_faces(problem: Problem, side: str, cut: frozenset[str]) -> list[int]:
    """Faces of the part that lie on a stock side, once it is at size; none while it is raw."""
    if side not in cut and problem.stock.extra(side):
        return []
    features = problem.document.features
    faced = {i for f in features if side_finished(f, problem.stock) == side for i in f.faces}
    return sorted(faced | set(profile_walls(problem, side)))


def _words(problem: Problem, side: str, cut: frozenset[str]) -> str:
    faces = flat_faces(problem, side, cut)
    if side in cut or (faces and not problem.stock.extra(side)):
        text = (
            f"{'face' if len(faces) == 1 else 'faces'} {', '.join(map(str, faces))} ({side})"
            if faces
            else f"side {side}"
        )
        return ("finished " if side in cut else "") + text
    return f"raw side {side}"


def _fixture(
    problem: Problem, grouped: Grouped, name: str, turned: list[str], slots: list[Slot]
) -> tuple[Clamping, list[Finding]]:
    tilted = turned[0] not in SIDES
    how = "an angle plate or a tilting vise" if tilted else "soft jaws, a chuck or a fixture plate"
    why = (
        f"{turned[0]} is square to no side of the stock"
        if tilted
        else f"from {turned[0]} no side across ({opposite(turned[0])}) and no parallel pair stays uncut and flat"
    )
    finding = Finding(
        code="needs_fixture",
        severity="warning",
        message=f"clamping {name}: {why}; {how} is needed",
        hint=_without_fixture(problem, turned[0]),
    )
    return Clamping(id=name, rest_faces=[], clamp_faces=[], rest_on=how, clamp_on=how, because=[why]), [finding]


def _without_fixture(problem: Problem, direction: str) -> str:
    """What would let a vise hold it from a direction."""
    if direction not in SIDES:
        return "a 5-axis machine turns to it"
    below = opposite(direction)
    have = problem.stock.extra(below)
    return (
        f"{GRIP_MM:g} mm of stock or more on {below} (it has {have:g}) would let jaws grip below the part, to be faced off "
        "when it is turned over; tabs, or clamping through its holes, also serve"
    )
