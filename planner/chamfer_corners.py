"""Small flats where chamfers or rounds meet at a corner of the part, square to no side: filed, not set up for.

Modelling programs put such a face where three chamfers meet; three chamfers cut one after another leave a point that is
a fraction of their width higher. A machine that does not tilt the part would need a setup of its own for each.
"""

from __future__ import annotations

from planner.stock import Stock
from shared.features import Feature, FeaturesDocument

EDGES = ("chamfer", "edge_round")
LARGEST = 30.0
"""Mm2: a larger flat is meant as one; the corner of three 5 mm chamfers has 22. Common practice, no source."""


def filed_by_hand(feature: Feature, document: FeaturesDocument, stock: Stock, axes: int) -> str | None:
    """Why a feature is left to a file: a flat at a corner of chamfers or rounds, seen from no side; None for others."""
    if feature.kind != "planar_face" or axes >= 5 or any(stock.side_of(v.direction) for v in feature.views):
        return None
    if sum(f.area for f in document.faces if f.index in feature.faces) > LARGEST:
        return None
    own = set(feature.faces)
    beside = {f for e in document.edges if own & set(e.faces) for f in e.faces} - own
    owner = {f: x.kind for x in document.features for f in x.faces}
    if len(beside) < 3 or any(owner.get(f) not in EDGES for f in beside):
        return None
    return (
        "a small flat where chamfers or rounds meet, square to no side: what they leave there, a fraction of their width, is "
        "filed by hand; a machine of 5 axes cuts it"
    )
