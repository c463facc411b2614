"""What a plan says of a stock model: whose box is taken, and where it lies."""

from __future__ import annotations

from shared.findings import Finding
from shared.plan import PlanDocument

BLOCK_SHARE = 0.999
"""A stock model that fills less of its box than this is no block, and the user is told."""


def with_stock_note(plan: PlanDocument, name: str, share: float) -> PlanDocument:
    """The plan with a finding of how the model of the stock was taken. share: of its box that the model fills."""
    a = plan.job.stock.allowance
    room = ", ".join(f"{v:g} on {side}" for v, side in zip(a, ("-x", "+x", "-y", "+y", "-z", "+z"), strict=True))
    no_block = share < BLOCK_SHARE
    filled = f", of which it fills {share:.0%}: the whole box is taken for solid" if no_block else ""
    note = Finding(
        code="stock_model",
        severity="warning" if no_block else "note",
        message=f"the stock is the box of {name}{filled}; it lies where that file's own coordinates put it beside the part's: "
        f"mm over the part's box {room}",
        hint="a casting or a sawn shape may hold less than the plan cuts: look at the cuts in air and at what the jaws hold"
        if no_block
        else "if the two files do not share their origin, move one of them in the modelling program",
    )
    return plan.model_copy(update={"findings": [*plan.findings, note]})
