"""What a recipe is given and what it answers with: the interface between recipes and the rest of the planner."""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.cutting import DEFAULT_MACHINE, Machine, Material
from shared.cutters import CutterTable
from shared.findings import Finding
from shared.plan import Operation
from shared.shop.notes import Notes

NO_NOTES = Notes()


@dataclass(frozen=True)
class RecipeJob:
    """All that a recipe may know besides the part.

    `allowance`: mm of raw material at -x +x -y +y -z +z of the part's own axes.
    `threads`: hole diameter as text (`"10.2"`) or feature id -> thread size (`"M12"`, `"M10x1"`).
    `notes`: what the drawing says: threads, tolerances, roughness.
    """

    material: Material
    cutters: CutterTable
    machine: Machine = DEFAULT_MACHINE
    allowance: tuple[float, ...] = (0.0,) * 6
    threads: dict[str, str] = field(default_factory=dict)
    notes: Notes = NO_NOTES


@dataclass
class Recipe:
    """Operations in cutting order with local ids (`a`, `b`, ...), and `after` naming local ids.

    `unplanned` says why the feature (or a part of it) is cut by none of them; None when all of it is cut. `avoided`: the
    simulation of an earlier plan found something in the way on this side, so that another one is taken where there is one.
    """

    operations: list[Operation] = field(default_factory=list)
    unplanned: str | None = None
    findings: list[Finding] = field(default_factory=list)
    avoided: bool = False

    def last(self) -> list[str]:
        """Local id of the latest operation as an `after` list; empty for none."""
        return [self.operations[-1].id] if self.operations else []

    def next_id(self) -> str:
        """Local id for the next operation: a, b, ... z, aa, ab, ..."""
        n, text = len(self.operations), ""
        while True:
            text = chr(ord("a") + n % 26) + text
            n = n // 26 - 1
            if n < 0:
                return text
