"""Free curves are drawn finer where volumes are reckoned. Expected areas are closed forms of circle and ellipse."""

from math import cos, pi, sin

import cadquery as cq
import numpy as np
import pytest
from shapely import Polygon

from recognizer.removal.free_edges import smoothed


def _ellipse(a: float, b: float, chords: int) -> np.ndarray:
    t = [2 * pi * k / chords for k in range(chords + 1)]
    return np.array([(a * cos(x), b * sin(x)) for x in t])


@pytest.mark.parametrize(("a", "b"), [(10.0, 10.0), (30.0, 20.0)])
def test_closed_curve_keeps_the_area_of_its_form(a: float, b: float) -> None:
    points = _ellipse(a, b, 36)
    chords = Polygon(points).area / (pi * a * b)
    assert chords < 0.996  # what chords of ten degrees lose
    assert smoothed(Polygon(points), [points]).area == pytest.approx(pi * a * b, rel=2e-4)


def test_holes_are_drawn_finer_too_and_other_rims_stay() -> None:
    points = _ellipse(10.0, 5.0, 36)
    square = [(-20.0, -20.0), (20.0, -20.0), (20.0, 20.0), (-20.0, 20.0)]
    found = smoothed(Polygon(square, [points]), [points])
    assert found.area == pytest.approx(1600 - 50 * pi, rel=1e-4)
    assert len(found.exterior.coords) == 5


def test_an_oval_ring_groove_closes(tmp_path) -> None:
    from recognizer import recognize

    ring = cq.Workplane().ellipse(38, 28).extrude(6).cut(cq.Workplane().ellipse(30, 20).extrude(6))
    part = cq.Workplane().box(100, 80, 15, centered=(True, True, False)).cut(ring.translate((0, 0, 9)))
    path = tmp_path / "oval.step"
    cq.exporters.export(part, str(path))
    closure = recognize(str(path)).closure
    assert closure.removed == pytest.approx(6 * pi * (38 * 28 - 30 * 20), rel=1e-3)
    assert closure.unexplained < 1e-3 * closure.removed
