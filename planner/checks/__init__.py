"""What can be wrong with a plan: one kind of fault a file, listed here. Only the two documents are known here."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from planner.checks import complete, cutters, directions, entry, figures, holding, jaws, levels, order, simulated
from planner.checks.index import Index
from shared.findings import Finding

Check = Callable[[Index], Iterator[Finding]]
CHECKS: tuple[Check, ...] = (
    *complete.CHECKS,
    *order.CHECKS,
    *directions.CHECKS,
    *levels.CHECKS,
    *cutters.CHECKS,
    *entry.CHECKS,
    *holding.CHECKS,
    *jaws.CHECKS,
    *figures.CHECKS,
    *simulated.CHECKS,
)
