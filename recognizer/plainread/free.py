"""Ellipses and B-splines of a plain part: points and slopes of the curve between two vertices, many at once."""

from __future__ import annotations

from functools import cached_property
from math import atan2, tau

import numpy as np

from recognizer.plainread.records import Frame, NotPlain, Records, real, reference, references
from recognizer.vector import dot, sub
from shared.units import Vector

MOST_DEGREE = 25
"""Of the kernel's splines."""
STEPS, STEPS_A_SPAN = 96, 12
"""Chords with which a curve's outline is judged: at least so many, and so many between two knots."""
NODES = np.polynomial.legendre.leggauss(8)
"""Gauss and Legendre's places and weights on -1 to 1: exact for polynomials up to degree 15."""


class FreeCurve:
    """A curve over its parameter from `first` to `last`; breaks: these two and the knots between."""

    first: float
    last: float
    breaks: np.ndarray

    def at(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(n, 3) points and (n, 3) slopes at (n,) parameters."""
        raise NotImplementedError

    @property
    def spans(self) -> int:
        """Stretches between knots."""
        return len(self.breaks) - 1

    def steps(self, count: int) -> tuple[Vector, ...]:
        """Points at so many equal steps of the parameter, the first and the last among them."""
        t = [self.first + (self.last - self.first) * i / count for i in range(count + 1)]
        return tuple(map(tuple, self.at(np.array(t))[0].tolist()))  # type: ignore[arg-type]

    @cached_property
    def fine(self) -> np.ndarray:
        """(n, 3) points in short steps, every knot among them."""
        return self.at(_between(self.breaks, max(STEPS_A_SPAN, -(-STEPS // (len(self.breaks) - 1)))))[0]

    @cached_property
    def nodes(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(n, 3) points, (n, 3) slopes and (n,) weights: the integral of f dt is the sum of f at the points by weight."""
        t, weights = nodes_between(_between(self.breaks, 4 if len(self.breaks) < 8 else 1))
        return *self.at(t), weights


def nodes_between(ends: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(n,) parameters and (n,) weights by which a sum over them integrates from the first of some ends to the last."""
    middle, half = (ends[1:] + ends[:-1]) / 2, (ends[1:] - ends[:-1]) / 2
    return (middle[:, None] + half[:, None] * NODES[0]).ravel(), (half[:, None] * NODES[1]).ravel()


def _between(breaks: np.ndarray, steps: int) -> np.ndarray:
    """Breaks with so many equal steps from each to the next."""
    share = np.arange(steps) / steps
    return np.append((breaks[:-1, None] + np.diff(breaks)[:, None] * share).ravel(), breaks[-1])


class Ellipse(FreeCurve):
    """An ellipse in a frame, with its semi-axes along x and y; the parameter is the eccentric anomaly."""

    def __init__(self, frame: Frame, sizes: tuple[float, float], first: float, last: float) -> None:
        self.frame, self.sizes = np.array(frame), sizes
        self.first, self.last, self.breaks = first, last, np.linspace(first, last, 5)

    @property
    def spans(self) -> int:
        """It has no knots; the breaks are there to measure it."""
        return 1

    def at(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """See FreeCurve."""
        o, _, x, y = self.frame
        a, b, c, s = self.sizes[0] * x, self.sizes[1] * y, np.cos(t)[:, None], np.sin(t)[:, None]
        return o + c * a + s * b, c * b - s * a


class Spline(FreeCurve):
    """A B-spline without weights that begins at its first pole and ends at its last."""

    def __init__(self, degree: int, poles: np.ndarray, knots: np.ndarray) -> None:
        self.degree, self.poles, self.knots = degree, poles, knots
        self.breaks = np.unique(knots)
        self.first, self.last = float(knots[0]), float(knots[-1])
        rise = (knots[degree + 1 : -1] - knots[1 : -degree - 1])[:, None]
        self._slopes = degree * (poles[1:] - poles[:-1]) / rise

    def at(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """See FreeCurve."""
        return _de_boor(self.degree, self.poles, self.knots, t), _de_boor(
            self.degree - 1, self._slopes, self.knots[1:-1], t
        )


def _de_boor(degree: int, poles: np.ndarray, knots: np.ndarray, t: np.ndarray) -> np.ndarray:
    """(n, 3) points of a spline at (n,) parameters (de Boor 1972)."""
    span = np.clip(np.searchsorted(knots, t, side="right") - 1, degree, len(poles) - 1)
    work = poles[span[:, None] + np.arange(-degree, 1)]
    for r in range(1, degree + 1):
        low = knots[span[:, None] + np.arange(r - degree, 1)]
        high = knots[span[:, None] + np.arange(1, degree - r + 2)]
        share = ((t[:, None] - low) / (high - low))[:, :, None]
        work = (1 - share) * work[:, :-1] + share * work[:, 1:]
    return work[:, 0]


def ellipse_of(records: Records, number: int, ends: tuple[Vector, Vector], whole: bool) -> Ellipse:
    """The ellipse of a record from one end to the other, or all round."""
    _, placement, *sizes = records.fields(number, b"ELLIPSE", 4)
    frame, (a, b) = records.placement(reference(placement)), (real(v) for v in sizes)
    if min(a, b) <= 0:
        raise NotPlain(f"#{number} has no size")
    first, last = (_anomaly(frame, a, b, p) for p in ends)
    if whole:
        last = first + tau
    elif last <= first:
        last += tau
    return Ellipse(frame, (a, b), first, last)


def _anomaly(frame: Frame, a: float, b: float, p: Vector) -> float:
    rel = sub(p, frame[0])
    angle = atan2(dot(rel, frame[3]) / b, dot(rel, frame[2]) / a) % tau
    return 0.0 if tau - angle < 1e-12 else angle


def spline_of(records: Records, number: int) -> Spline:
    """The B-spline of a record, as far as it goes. Raises NotPlain where it does not begin and end at a pole."""
    _, degree, poles, _, _, crossing, counts, knots, _ = records.fields(number, b"B_SPLINE_CURVE_WITH_KNOTS", 9)
    if not degree.isdigit() or not 1 <= int(degree) <= MOST_DEGREE or crossing == b".T.":
        raise NotPlain(f"#{number} is an odd spline")
    points = np.array([records.point(n) for n in references(poles)])
    times = [int(n) if n.isdigit() else 0 for n in counts.strip(b"()").split(b",")]
    places = [real(v) for v in knots.strip(b"()").split(b",")]
    full = int(degree) + 1
    if (
        len(times) != len(places)
        or not (times[0] == times[-1] == full)
        or sum(times) != len(points) + full
        or any(not 0 < n < full for n in times[1:-1])
        or any(b - a < 1e-9 for a, b in zip(places, places[1:], strict=False))
    ):
        raise NotPlain(f"#{number} has odd knots")
    return Spline(int(degree), points, np.repeat(places, times))
