"""Features of a part and of the same part changed, held against each other."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import cadquery as cq
import numpy as np

from shared.features import Feature, FeaturesDocument
from tests.random_parts.build import Block, only_solid

CLOSE = 2e-3
"""mm at the original size: splines keep arcs to about this."""


@cache
def block_of(path: Path) -> Block:
    """A file's solid in the shape that the changes take."""
    shape = only_solid(cq.importers.importStep(str(path)).findSolid())
    return Block(np.random.RandomState(1), shape)


def sizes(feature: Feature, factor: float) -> tuple[tuple[str, float], ...]:
    """Its dimensions at the original size; angles are not scaled."""
    return tuple(
        (name, value if "angle" in name else value / factor) for name, value in sorted(feature.dimensions.items())
    )


def differences(a: FeaturesDocument, b: FeaturesDocument) -> list[str]:
    """Features of either that the other has not, with kind and dimensions."""
    factor = (b.part.volume / a.part.volume) ** (1 / 3)
    left = [(f.kind, sizes(f, factor)) for f in b.features]
    out = []
    for f in a.features:
        own = f.kind, sizes(f, 1.0)
        match = next((o for o in left if alike(own, o)), None)
        if match is None:
            out.append(f"lost {own[0]} {dict(own[1])}")
        else:
            left.remove(match)
    return out + [f"new {kind} {dict(dims)}" for kind, dims in left]


def alike(a: tuple, b: tuple) -> bool:
    """Same kind and the same dimensions to CLOSE."""
    if a[0] != b[0] or [n for n, _ in a[1]] != [n for n, _ in b[1]]:
        return False
    return all(abs(v - w) <= CLOSE * max(1.0, abs(v) / 50) for (_, v), (_, w) in zip(a[1], b[1], strict=True))
