"""Parts of known shape, cut with the kernel, and their reach."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import cadquery as cq

from recognizer.access import reach_of_snapshot
from recognizer.kernel.snapshot import snapshot_of
from recognizer.pipeline import recognize_snapshot
from shared.cutters import CutterTable
from shared.plan import Tool
from shared.reach import FaceReach, FaceView, ReachDocument


def flat(diameter: float, length: float = 1000.0, **more: Any) -> Tool:
    """A flat end mill with a slim holder, so that only its own shape counts."""
    made = {"id": f"D{diameter:g}", "kind": "endmill", "holder": [(diameter, 500.0)], **more}
    return Tool(DC=diameter, LU=length, APMX=length, **made)


def shop(*tools: Tool) -> CutterTable:
    """A cutter table of these."""
    return CutterTable("test cutters", tools)


def reach_of(part: cq.Workplane, table: CutterTable | None = None, **options: Any) -> ReachDocument:
    """Reach of a cadquery solid; cutters' shares are written for all of the table."""
    snapshot = snapshot_of(part.val().wrapped)
    if table is not None:
        options.setdefault("ids", [t.id for t in table.tools])
    return reach_of_snapshot(snapshot, recognize_snapshot(snapshot), table, **options)


def view(face: FaceReach, document: ReachDocument, d: Sequence[float]) -> FaceView | None:
    """A face's view from a direction."""
    for v in face.views:
        if all(abs(a - b) < 1e-9 for a, b in zip(document.directions[v.direction].vector, d, strict=True)):
            return v
    return None


def share(v: FaceView | None, cutter: str) -> float:
    """Share that a cutter touches."""
    return next((t.share for t in v.by if t.cutter == cutter), 0.0) if v else 0.0
