"""Small parts written to a temporary STEP file and recognised."""

from collections.abc import Callable
from pathlib import Path

import cadquery as cq
import pytest

from shared.features import FeaturesDocument


@pytest.fixture
def features_of(tmp_path: Path) -> Callable[[cq.Workplane], FeaturesDocument]:
    """Recognises a cadquery part through its STEP file."""
    from recognizer import recognize

    def run(part: cq.Workplane) -> FeaturesDocument:
        path = tmp_path / "part.step"
        cq.exporters.export(part, str(path))
        return recognize(path)

    return run
