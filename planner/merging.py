"""Findings that say the same of several features become one that names them all."""

from __future__ import annotations

from collections.abc import Iterable

from shared.findings import Finding

SHOWN = 6
"""Features named in a message before the rest is counted; all are in `features`."""


def merged(findings: Iterable[Finding]) -> list[Finding]:
    """The findings in order, those alike but for the feature at the head of their message put together."""
    groups: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.code, _rest(finding), finding.hint), []).append(finding)
    return [group[0] if len(group) == 1 else _joined(group) for group in groups.values()]


def _rest(finding: Finding) -> str:
    """The message without the feature that it begins with."""
    head = f"{finding.features[0]}: " if len(finding.features) == 1 else None
    return "\0" + finding.message.removeprefix(head) if head and finding.message.startswith(head) else finding.message


def _joined(group: list[Finding]) -> Finding:
    first = group[0]
    features = list(dict.fromkeys(f for finding in group for f in finding.features))
    faces = sorted({f for finding in group for f in finding.faces})
    rest = _rest(first)
    if not rest.startswith("\0") or len(features) == 1:
        return first.model_copy(update={"features": features, "faces": faces})
    shown = ", ".join(features[:SHOWN]) + (f" and {len(features) - SHOWN} more" if len(features) > SHOWN else "")
    return first.model_copy(update={"message": f"{shown}: {rest[1:]}", "features": features, "faces": faces})
