"""Whether a plain solid is beyond doubt: closed, one piece, right side out, of sensible size, every loop a ring.

Nothing is refused here: what is not plain to see is left to the kernel, which names what is wrong.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from recognizer.kernel.plain_check import doubtful_faces
from recognizer.plainread.curves import TIP
from recognizer.plainread.records import NotPlain
from recognizer.plainread.solid import Loop, Solid
from recognizer.snapshot import Snapshot

LARGEST_MM, SMALLEST_MM = 10_000.0, 1.0
"""Across the solid's box: what is larger or smaller is for the kernel's own limits."""
THINNEST_SHARE = 1e-6
"""Of the box's cubed diagonal that a solid fills at least."""


def check_plain(solid: Solid, snapshot: Snapshot) -> None:
    """Raises NotPlain unless the solid is sound beyond doubt."""
    for face in solid.faces:
        for loop in face.loops:
            _check_ring(solid, loop)
    _check_closed(solid)
    _check_one_piece(solid)
    _check_size(snapshot)
    finer = {k: curve.free.fine for k, curve in enumerate(solid.curves) if curve.free is not None}
    if any(snapshot.faces[f].kind == "plane" for f in doubtful_faces(snapshot, finer)):
        raise NotPlain("a plane face has a doubtful outline")


def _check_ring(solid: Solid, loop: Loop) -> None:
    """Each edge begins at the vertex at which the one before it ends, and none of these is met twice but at a seam."""
    ends = [solid.curves[e].vertices if forward else solid.curves[e].vertices[::-1] for e, forward in loop]
    if not ends or any(a[1] != b[0] for a, b in zip(ends, ends[1:] + ends[:1], strict=True)):
        raise NotPlain("a loop is no ring")


def _check_closed(solid: Solid) -> None:
    """Every edge is used twice, once each way; but for those without length at a cone's tip."""
    for curve, uses in zip(solid.curves, solid.uses, strict=True):
        if curve.name != TIP and (len(uses) != 2 or uses[0][1] == uses[1][1]):
            raise NotPlain("an edge does not lie between two faces")


def _check_one_piece(solid: Solid) -> None:
    """From one face all others are reached over edges."""
    beside: dict[int, set[int]] = defaultdict(set)
    for (a, _), (b, _) in (uses for uses in solid.uses if len(uses) == 2):
        beside[a].add(b)
        beside[b].add(a)
    reached, ahead = {0}, [0]
    while ahead:
        new = beside[ahead.pop()] - reached
        reached |= new
        ahead += new
    if len(reached) != len(solid.faces):
        raise NotPlain("the shell falls into pieces")


def _check_size(snapshot: Snapshot) -> None:
    points = np.array([p for e in snapshot.edges for p in e.points])
    diagonal = float(np.linalg.norm(points.max(axis=0) - points.min(axis=0)))
    if not SMALLEST_MM < diagonal < LARGEST_MM or not snapshot.volume > THINNEST_SHARE * diagonal**3:
        raise NotPlain("a size out of the ordinary")
