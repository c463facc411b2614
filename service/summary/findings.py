"""Findings as people read them: errors first, equal codes together."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from service.summary.format import paragraph
from shared.findings import Finding

_ORDER = ("error", "warning", "note")
_STYLE = {"error": "bold red", "warning": "yellow", "note": "cyan"}
SHOWN_OF_A_CODE = 4


def print_findings(out: Console, findings: Sequence[Finding], title: str = "Findings") -> None:
    """All findings under a title, errors first; of one code the first few, and how many more the JSON holds."""
    if not findings:
        return
    out.print(Text(f"\n{title}", style="bold"))
    for severity in _ORDER:
        groups: dict[str, list[Finding]] = {}
        for finding in findings:
            if finding.severity == severity:
                groups.setdefault(finding.code, []).append(finding)
        for group in groups.values():
            _print_group(out, group)


def _print_group(out: Console, group: list[Finding]) -> None:
    hints = dict.fromkeys(f.hint for f in group if f.hint)
    for finding in group[:SHOWN_OF_A_CODE]:
        label = f"{finding.severity:<8}"
        paragraph(out, finding.message + _where(finding), label, style=_STYLE[finding.severity])
    if len(group) > SHOWN_OF_A_CODE:
        out.print(f"        and {len(group) - SHOWN_OF_A_CODE} more {group[0].code} (all are in the JSON)")
    for hint in list(hints)[:2]:
        paragraph(out, f"try: {hint}", " " * 8, style="dim")


def _where(finding: Finding) -> str:
    missing = [f for f in finding.features if f not in finding.message]
    if missing:
        return f" ({', '.join(missing[:6])}{', ...' if len(missing) > 6 else ''})"
    if finding.faces and "face" not in finding.message and not finding.features:
        faces = ", ".join(map(str, finding.faces[:6]))
        return f" (faces {faces}{', ...' if len(finding.faces) > 6 else ''})"
    return ""
