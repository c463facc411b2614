"""The union of overlapping bodies against other ways to find its volume."""

from __future__ import annotations

from itertools import combinations
from math import pi
from random import Random

import numpy as np
import pytest
from shapely import box

from recognizer.removal.arcs import disc
from recognizer.removal.body import Body
from recognizer.removal.solids import Prism
from recognizer.removal.union import earlier, first_come_volumes, inner_boxes

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
LOW, HIGH = (0.0, 0.0, 0.0), (100.0, 100.0, 100.0)
AXES = {"x": (X, Y, Z), "y": (Y, Z, X), "z": (Z, X, Y)}


def block(name: str, low, high, axis: str = "z") -> Body:
    """Box as a prism along any axis."""
    d, u, v = AXES[axis]
    k, i, j = (int(np.argmax(a)) for a in (d, u, v))
    return Body(name, [Prism(d, u, v, box(low[i], low[j], high[i], high[j]), low[k], high[k])])


def rod(name: str, axis: str, at: tuple[float, float], r: float, low: float = 0.0, high: float = 100.0) -> Body:
    d, u, v = AXES[axis]
    return Body(name, [Prism(d, u, v, disc(*at, r), low, high)])


def inclusion_exclusion(boxes) -> float:
    """Union of axis-aligned boxes: signed sum over all their intersections."""
    total = 0.0
    for n in range(1, len(boxes) + 1):
        for group in combinations(boxes, n):
            size = np.min([b[1] for b in group], axis=0) - np.max([b[0] for b in group], axis=0)
            total += (-1) ** (n + 1) * float(np.prod(np.maximum(size, 0)))
    return total


@pytest.mark.parametrize("seed", range(12))
def test_random_boxes_agree_with_inclusion_and_exclusion(seed):
    random = Random(seed)
    boxes = []
    for _ in range(random.randint(2, 7)):
        low = [random.uniform(0, 60) for _ in range(3)]
        boxes.append((np.array(low), np.array([x + random.uniform(5, 40) for x in low])))
    bodies = [block(str(i), b[0], b[1], random.choice("xyz")) for i, b in enumerate(boxes)]
    assert sum(first_come_volumes(bodies, LOW, HIGH)) == pytest.approx(inclusion_exclusion(boxes), rel=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_random_rods_and_boxes_agree_with_counted_points(seed):
    """Monte Carlo, 200,000 points: three standard deviations."""
    random, points = Random(seed), np.random.default_rng(seed).uniform(0, 100, (200_000, 3))
    bodies, inside = [], np.zeros(len(points), dtype=bool)
    for i in range(5):
        axis = random.choice("xyz")
        d, u, v = AXES[axis]
        a, b, r = random.uniform(30, 70), random.uniform(30, 70), random.uniform(8, 25)
        bodies.append(rod(str(i), axis, (a, b), r))
        inside |= np.hypot(points @ np.array(u) - a, points @ np.array(v) - b) < r
    share = inside.mean()
    error = 3 * (share * (1 - share) / len(points)) ** 0.5
    assert sum(first_come_volumes(bodies, LOW, HIGH)) / 1e6 == pytest.approx(share, abs=error)


def test_crossing_rods_share_the_steinmetz_solid():
    """Two equal cylinders that cross at right angles share 16 r^3 / 3: Archimedes, The Method, proposition 15."""
    r = 10.0
    found = first_come_volumes([rod("a", "x", (50, 50), r), rod("b", "y", (50, 50), r)], LOW, HIGH)
    alone = pi * r * r * 100
    assert found[0] == pytest.approx(alone, rel=1e-4)
    assert sum(found) == pytest.approx(2 * alone - 16 * r**3 / 3, rel=2e-4)


def test_overlap_counts_for_the_first_body():
    a, b = block("a", (0, 0, 0), (10, 10, 10)), block("b", (5, 0, 0), (15, 10, 10))
    assert first_come_volumes([a, b], LOW, HIGH) == [pytest.approx(1000), pytest.approx(500)]
    assert first_come_volumes([b, a], LOW, HIGH) == [pytest.approx(1000), pytest.approx(500)]


def test_what_reaches_out_of_the_box_does_not_count():
    found = first_come_volumes([block("a", (-10, -10, -10), (10, 10, 10)), rod("b", "z", (100, 100), 4)], LOW, HIGH)
    assert found == [pytest.approx(1000), pytest.approx(pi * 16 * 100 / 4, rel=1e-3)]


def test_bodies_that_only_touch_are_not_held_against_each_other():
    bodies = [block("a", (0, 0, 0), (10, 10, 10)), block("b", (10, 0, 0), (20, 10, 10))]
    assert earlier(bodies, [0, 1], inner_boxes(bodies, LOW, HIGH)) == [[], []]


def test_a_thousand_apart_rods_stand_alone():
    """What keeps a plate of 1000 holes cheap: nothing is held against anything."""
    rods = [rod(str(i), "z", (1.5 + 3 * (i % 32), 1.5 + 3 * (i // 32)), 1.0) for i in range(1000)]
    assert not any(earlier(rods, list(range(1000)), inner_boxes(rods, LOW, HIGH)))
    assert sum(first_come_volumes(rods, LOW, HIGH)) == pytest.approx(1000 * pi * 100, rel=1e-9)
