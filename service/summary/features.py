"""The features document as people read it: features by kind with sizes and directions, then what was noticed."""

from __future__ import annotations

from rich.console import Console

from service.summary.findings import print_findings
from service.summary.format import Lengths, console, direction, directions, heading, paragraph, table
from shared.features import Feature, FeaturesDocument, View


def print_features(document: FeaturesDocument, out: Console | None = None) -> None:
    """Writes the summary to standard output, or to `out`."""
    out = out or console()
    lengths = Lengths(document.part.unit)
    _print_part(out, document, lengths)
    kinds: dict[str, list[Feature]] = {}
    for feature in document.features:
        kinds.setdefault(feature.kind, []).append(feature)
    for kind, features in kinds.items():
        out.print(heading(f"\n{kind} ({len(features)})"))
        _print_kind(out, features, lengths)
    _print_patterns(out, document)
    print_findings(out, document.findings)
    _print_closure(out, document, lengths)


def _print_part(out: Console, document: FeaturesDocument, lengths: Lengths) -> None:
    part = document.part
    size = " x ".join(lengths(b - a) for a, b in zip(part.frame_box.min, part.frame_box.max, strict=True))
    protocol = f", {part.step_schema}" if part.step_schema else ""
    out.print(heading(f"{part.file}: {size} {lengths.unit}, {lengths.volume(part.volume)}{protocol}, unit {part.unit}"))
    if any(direction(axis) not in ("+x", "+y", "+z") for axis in part.frame):
        out.print("The part is turned: its own axes are " + ", ".join(direction(axis) for axis in part.frame))
    out.print(
        f"{len(document.faces)} faces, {len(document.features)} features, {len(document.edges)} sharp edges to break"
    )


def _print_kind(out: Console, features: list[Feature], lengths: Lengths) -> None:
    """Equal features share a row; ids are shown without the kind they begin with."""
    rows: dict[tuple[str, ...], list[str]] = {}
    for feature in features:
        rows.setdefault(_row(feature, lengths), []).append(feature.id.removeprefix(f"{feature.kind}-"))
    made = table(
        "no", "from", "size", "details", "ids", right=["no"], widest={"from": 20, "size": 30, "details": 28, "ids": 20}
    )
    for (where, size, details), ids in rows.items():
        made.add_row(str(len(ids)), where, size, details, " ".join(ids))
    out.print(made)


def _row(feature: Feature, lengths: Lengths) -> tuple[str, str, str]:
    reachable = directions(v.direction for v in feature.views if v.reachable)
    return reachable or "nowhere", lengths.dimensions(feature.dimensions), "; ".join(_details(feature, lengths))


def _details(feature: Feature, lengths: Lengths) -> list[str]:
    details = []
    if feature.bottom_condition:
        details.append(f"bottom {feature.bottom_condition}".replace("_", " "))
    if feature.open_sides:
        details.append(f"{feature.open_sides} open, {feature.closed_sides} closed sides")
    view = feature.views[0] if feature.views else None
    if view:
        details += _radii(view, feature.dimensions, lengths)
    details += [f"{hint.use} {hint.size}?".replace("_", " ") for hint in feature.hints]
    if feature.inside:
        details.append("opens on " + " ".join(feature.inside))
    return details


def _radii(view: View, said: dict[str, float], lengths: Lengths) -> list[str]:
    details = []
    for name, value in (("corner_radius", view.corner_radius), ("floor_radius", view.floor_radius)):
        if value is not None and name not in said:
            details.append(f"{name.replace('_', ' ')} {lengths(value)}" if value else f"sharp {name.split('_')[0]}")
    if view.islands:
        details.append(f"{view.islands} islands")
    return details


def _print_patterns(out: Console, document: FeaturesDocument) -> None:
    if document.patterns:
        out.print(heading("\nPatterns"))
        for pattern in document.patterns:
            paragraph(out, f"{pattern.kind}: {' '.join(pattern.features)}", f"{pattern.id}  ", "  ")


def _print_closure(out: Console, document: FeaturesDocument, lengths: Lengths) -> None:
    closure = document.closure
    share = f" ({closure.unexplained / closure.removed:.2%} of what is removed)" if closure.removed else ""
    out.print(heading("\nClosure"))
    text = (
        f"stock {lengths.volume(closure.stock_volume)} - features {lengths.volume(closure.removed)} = part "
        f"{lengths.volume(closure.part_volume)}; unexplained {lengths.volume(closure.unexplained)}{share}"
    )
    paragraph(out, text)
