"""STEP text -> snapshot or mesh of a plain part, without the kernel; None where anything is not plain."""

from __future__ import annotations

from recognizer.plainread.closed import closed_shape
from recognizer.plainread.mesh import mesh_of
from recognizer.plainread.records import NotPlain, Records
from recognizer.plainread.solid import Solid, snapshot_of
from recognizer.plainread.sound import check_plain
from recognizer.snapshot import Snapshot
from recognizer.stepfile import StepText
from shared.mesh import Mesh
from shared.shape import DEFLECTION, Shape


def plain_snapshot(text: StepText) -> Snapshot | None:
    """Snapshot of the one solid in a file of lines and circles on planes, cylinders, cones and tori, in mm.

    The same as the kernel's, but for the last bits of numbers and the facets' diagonals.
    """
    found = _plain(text)
    return found and found[1]


def plain_mesh(text: StepText) -> Mesh | None:
    """Mesh of the one solid in such a file, for pictures."""
    found = _plain(text)
    return found and mesh_of(found[0])


def plain_shape(text: StepText, *, known: bool = False) -> Shape | None:
    """Closed mesh of the one solid in such a file; None too where not all of its triangles would meet.

    known: the file has given a plain snapshot before.
    """
    if known:
        return closed_shape(Solid(Records(text)), DEFLECTION)
    found = _plain(text)
    return found and closed_shape(found[0], DEFLECTION)


def _plain(text: StepText) -> tuple[Solid, Snapshot] | None:
    try:
        solid = Solid(Records(text))
        snapshot = snapshot_of(solid)
        check_plain(solid, snapshot)
    except (NotPlain, ArithmeticError):
        return None
    return solid, snapshot
