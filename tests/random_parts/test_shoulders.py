"""A relief groove at a shoulder: which face is whose, and from where it is cut."""

from __future__ import annotations

from pathlib import Path

from recognizer import recognize
from tests.random_parts.cases import make


def test_the_shoulder_is_a_face_of_its_own_that_is_cut_past_the_land(tmp_path: Path) -> None:
    path, _ = make("relief_groove", 0, tmp_path)
    features = recognize(str(path)).features
    (boss,) = [f for f in features if f.kind == "boss"]
    (groove,) = [f for f in features if f.kind == "undercut"]
    assert len(groove.faces) == 2
    inner = [f for f in features if f.kind == "planar_face" and f.removal_volume > 0]
    assert len(inner) == 1
    assert inner[0].views[0].reachable
    assert inner[0].views[0].bottom == boss.views[0].top - boss.dimensions["height"]
