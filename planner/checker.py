"""What is wrong with a plan: any plan, whoever made it. Knows no solver and no recipe, only the two documents."""

from __future__ import annotations

from planner.checks import CHECKS
from planner.checks.index import Index
from shared.features import FeaturesDocument
from shared.findings import Finding
from shared.plan import PlanDocument


def check(plan: PlanDocument, features: FeaturesDocument) -> list[Finding]:
    """Every violation found, as errors with a stable code; an empty list for a sound plan.

    Lengths in messages are mm, levels along the setup's direction. Never raises for a plan that is merely wrong.
    """
    index = Index(plan, features)
    return [finding for look in CHECKS for finding in look(index)]
