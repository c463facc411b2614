"""Documents of a part -> its row in the table."""

from __future__ import annotations

import json
from typing import Any, get_args

from shared.features import Kind

QUANTITIES = (1, 10, 100)
KINDS: tuple[str, ...] = get_args(Kind)

COLUMNS: dict[str, type] = {
    "part": str,
    "status": str,
    "sha256": str,
    "faces": int,
    "volume": float,
    "size_x": float,
    "size_y": float,
    "size_z": float,
    "features": int,
    **dict.fromkeys(KINDS, int),
    "unrecognised_faces": int,
    "unexplained": float,
    "reach_failures": int,
    "setups": int,
    "setups_bound": int,
    "clampings": int,
    "operations": int,
    "tools": int,
    "tool_changes": int,
    "minutes": float,
    "unplanned": int,
    "checker": int,
    **{f"price_{n}": float for n in QUANTITIES},
    "currency": str,
    "special_cutters": int,
    "reach": str,
    "faces_not_reached": int,
    "touched": float,
    "warnings": int,
    "errors": int,
    "error_code": str,
    "error_message": str,
    "error_hint": str,
}
"""Columns of the table in order, with their types. mm, mm3, minutes; price of one part at each quantity; `reach` and the
two after it where the batch looks what cutters touch: its verdict, faces that stay, share of the area that is touched."""


def row_of(documents: dict[str, str]) -> dict[str, Any]:
    """Figures of a part from its documents' JSON text. What was not asked for is missing from the row."""
    row = _features(json.loads(documents["features"]))
    if "plan" in documents:
        plan = json.loads(documents["plan"])
        row.update(_plan(plan))
        for name, severity in (("warnings", "warning"), ("errors", "error")):
            row[name] += _count(plan["findings"] + plan["proof"]["checker"], severity)
    if "quote" in documents:
        row.update(_quote(json.loads(documents["quote"])))
    if "reach" in documents:
        row.update(_reach(json.loads(documents["reach"])))
    return row


def _features(document: dict[str, Any]) -> dict[str, Any]:
    box = document["part"]["frame_box"]
    kinds = [f["kind"] for f in document["features"]]
    size = [high - low for low, high in zip(box["min"], box["max"], strict=True)]
    return {
        "faces": len(document["faces"]),
        "volume": document["part"]["volume"],
        **dict(zip(("size_x", "size_y", "size_z"), size, strict=True)),
        "features": len(kinds),
        **{kind: kinds.count(kind) for kind in KINDS},
        "unrecognised_faces": sum(1 for f in document["faces"] if f["feature"] is None),
        "unexplained": document["closure"]["unexplained"],
        "reach_failures": sum(1 for f in document["features"] if not any(v["reachable"] for v in f["views"])),
        "warnings": _count(document["findings"], "warning"),
        "errors": _count(document["findings"], "error"),
    }


def _plan(document: dict[str, Any]) -> dict[str, Any]:
    totals, proof = document["totals"], document["proof"]
    counts = {name: totals[name] for name in ("setups", "clampings", "operations", "tools", "tool_changes", "minutes")}
    return counts | {
        "setups_bound": proof["setups"]["lower_bound"],
        "unplanned": len(document["unplanned"]),
        "checker": len(proof["checker"]),
    }


def _quote(document: dict[str, Any]) -> dict[str, Any]:
    prices = {f"price_{p['quantity']}": p["each"] for p in document["prices"]}
    special = len(document["special_cutters"])
    return prices | {"currency": document["rates"]["currency"], "special_cutters": special}


def _reach(document: dict[str, Any]) -> dict[str, Any]:
    faces = document["faces"]
    area = sum(f["area"] for f in faces)
    return {
        "reach": document["verdict"],
        "faces_not_reached": sum(f["verdict"] == "not_reached" for f in faces),
        "touched": sum(f["area"] * f["touched"] for f in faces) / area if area else 1.0,
    }


def _count(findings: list[dict[str, Any]], severity: str) -> int:
    return sum(1 for finding in findings if finding["severity"] == severity)
