"""Figures of a benchmark run as text for people and as plain data."""

from __future__ import annotations

from tests.benchmarks import scores
from tests.benchmarks.scores import STOCK, PartScore, Tally

SHOWN_CONFUSIONS = 25


def figures(parts: list[PartScore]) -> dict:
    """Everything the text shows, as plain data."""
    faces = scores.face_tallies(parts)
    features = {k: t for k, t in faces.items() if k != STOCK}
    labelled = [p for p in parts if p.true_segments is not None]
    instances = scores.instance_tallies(labelled)
    return {
        "parts": len(parts),
        "parts_right": sum(p.right for p in parts),
        "faces": _counts(scores.total(faces)),
        "faces_without_stock": _counts(scores.total(features)),
        "stock": _counts(faces.get(STOCK, Tally())),
        "faces_by_class": {k: _counts(t) for k, t in faces.items()},
        "instances": _counts(scores.total(instances)) if labelled else None,
        "parts_with_all_instances_right": sum(p.instances_right for p in labelled) if labelled else None,
        "instances_by_class": {k: _counts(t) for k, t in instances.items()},
        "panoptic_quality": round(scores.panoptic(labelled), 6) if labelled else None,
        "confusions": [[t, s, n] for (t, s), n in _sorted(scores.confusions(parts))],
        "renamed": [[t, s, n] for (t, s), n in _sorted(scores.renamed(labelled))],
        "errors": {p.stem: p.error for p in parts if p.error},
    }


def text(title: str, parts: list[PartScore], details: bool) -> str:
    """One report; with `details` the tables by class and the confusions."""
    f = figures(parts)
    stock = f["stock"]
    lines = [
        f"== {title}",
        f"parts wholly right     {_share(f['parts_right'], f['parts'])}",
        f"faces right            {_share(f['faces']['right'], f['faces']['true'])}",
        (
            f"  without stock        {_share(f['faces_without_stock']['right'], f['faces_without_stock']['true'])}"
            f"   precision {f['faces_without_stock']['precision']:.4f}"
        ),
        f"  stock alone          {_share(stock['right'], stock['true'])}   precision {stock['precision']:.4f}",
    ]
    if f["instances"]:
        i = f["instances"]
        lines += [
            f"instances right        {_share(i['right'], i['true'])}   of {i['said']} said",
            f"  precision {i['precision']:.4f}   recall {i['recall']:.4f}   F1 {i['f1']:.4f}",
            f"parts, all instances   {_share(f['parts_with_all_instances_right'], f['parts'])}",
            f"panoptic quality       {f['panoptic_quality']:.4f}",
        ]
    else:
        lines.append("instances              no instance labels: neither instances nor panoptic quality can be given")
    if f["errors"]:
        lines.append(f"errors                 {len(f['errors'])} parts, all their faces counted as wrong")
    return "\n".join(lines + (_details(parts, f) if details else [])) + "\n"


def _details(parts: list[PartScore], f: dict) -> list[str]:
    head = f"{'class':28}{'faces':>7}{'prec':>8}{'recall':>8}"
    rows = ["", head + (f"{'feat':>7}{'prec':>8}{'recall':>8}{'F1':>8}{'PQ':>8}" if f["instances"] else "")]
    labelled = [p for p in parts if p.true_segments is not None]
    for name, t in f["faces_by_class"].items():
        row = f"{name:28}{t['true']:7}{t['precision']:8.4f}{t['recall']:8.4f}"
        i = f["instances_by_class"].get(name)
        if i:
            quality = scores.panoptic(labelled, name)
            row += f"{i['true']:7}{i['precision']:8.4f}{i['recall']:8.4f}{i['f1']:8.4f}{quality:8.4f}"
        rows.append(row)
    rows += ["", "confusions (true -> said: faces)"]
    rows += [f"  {t:26} -> {s:26} {n:5}" for t, s, n in f["confusions"][:SHOWN_CONFUSIONS]] or ["  none"]
    hidden = f["confusions"][SHOWN_CONFUSIONS:]
    rows += [f"  and {len(hidden)} more pairs, {sum(n for *_, n in hidden)} faces"] if hidden else []
    if f["instances"]:
        names = f["renamed"]
        rows += [
            "",
            f"features with the right faces and another name: {sum(n for *_, n in names)} (true -> said: features)",
        ]
        rows += [f"  {t:26} -> {s:26} {n:5}" for t, s, n in names]
    return rows


def failures(parts: list[PartScore], details: bool) -> str:
    """Errors and failing parts by name; with `details` every wrong face and instance."""
    errors = [p for p in parts if p.error]
    wrong = [p for p in parts if not p.error and not p.right]
    merged = [p for p in parts if not p.error and p.right and p.true_segments is not None and not p.instances_right]
    lines = [f"errors: {len(errors)}", *(f"  {p.stem}: {p.error}" for p in errors)]
    lines.append(f"parts with wrong faces: {len(wrong)}")
    lines += [line for p in wrong for line in _failing(p)] if details else [_names(wrong)] if wrong else []
    lines.append(f"parts with right faces but wrong instances: {len(merged)}")
    lines += [line for p in merged for line in _failing(p)] if details else [_names(merged)] if merged else []
    return "\n".join(lines) + "\n"


def _failing(p: PartScore) -> list[str]:
    lines = [f"  {p.stem}: {len(p.wrong_faces)} faces wrong"]
    lines += [f"    face {i:3}: {p.truth[i]} -> {p.said[i]} ({p.kinds.get(i, 'no feature')})" for i in p.wrong_faces]
    if p.true_segments is not None:
        true, said = set(p.true_segments), set(p.said_segments)
        lines += [f"    missed {c} {sorted(f)}" for c, f in sorted(true - said, key=_key)]
        lines += [f"    extra  {c} {sorted(f)}" for c, f in sorted(said - true, key=_key)]
    return lines


def _key(segment: scores.Segment) -> tuple[list[int], str]:
    return sorted(segment[1]), segment[0]


def _names(parts: list[PartScore]) -> str:
    return "  " + " ".join(p.stem for p in parts)


def _sorted(counter: dict[tuple[str, str], int]) -> list[tuple[tuple[str, str], int]]:
    return sorted(counter.items(), key=lambda row: (-row[1], row[0]))


def _counts(t: Tally) -> dict:
    return {
        "right": t.right,
        "said": t.said,
        "true": t.true,
        "precision": round(t.precision, 6),
        "recall": round(t.recall, 6),
        "f1": round(t.f1, 6),
    }


def _share(n: int, of: int) -> str:
    return f"{n:6} / {of:<6} {100 * n / of if of else 0:7.3f} %"
