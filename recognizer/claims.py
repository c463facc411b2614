"""Claims settled: every face has one owner or a reason."""

from __future__ import annotations

from recognizer.rule import Context
from shared.findings import Finding


def settle(ctx: Context) -> None:
    """Gives a face that two claims hold to the earlier claim, and says so. Rules run in order, so this is rare."""
    owner: dict[int, int] = {}
    for k, claim in enumerate(ctx.claims):
        twice = sorted(f for f in claim.faces if f in owner)
        if twice:
            ctx.findings.append(
                Finding(
                    code="face_claimed_twice",
                    message=f"{len(twice)} face(s) of a {claim.kind} belong to an earlier feature",
                    faces=twice,
                )
            )
            claim.faces = claim.faces - set(twice)
        for f in claim.faces:
            owner[f] = k
    ctx.claims = [c for c in ctx.claims if c.faces]
