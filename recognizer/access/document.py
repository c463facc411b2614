"""What was found along all directions becomes the document: faces, features, findings, verdict."""

from __future__ import annotations

from collections.abc import Sequence

from recognizer.access.cutters import Shop, holder_of
from recognizer.access.said import Said
from recognizer.access.words import blockers_of, reasons_of
from shared.features import POCKET_KINDS, Feature, FeaturesDocument
from shared.findings import Finding
from shared.fit import misfits
from shared.plan import Tool
from shared.reach import (
    Direction,
    FaceReach,
    FaceView,
    FeatureReach,
    ReachLimits,
    Refusal,
    Undercut,
    Verdict,
)
from shared.units import Vector

HARDLY = 0.1
"""Shares up to this say little about which side is the best."""
ORDER: dict[Verdict, int] = {"reached": 0, "warning": 1, "not_reached": 2}


def face_view(k: int, one: Said, cutters: Sequence[Tool], shop: Shop) -> FaceView:
    """One face from one direction as the document says it."""
    by = [shop.touch(t.id, min(1.0, s)) for t, s in zip(cutters, one.by, strict=True)]
    return FaceView.model_construct(  # thousands of them, made of what is ours: not worth a validation
        direction=k,
        lies=one.lies,  # type: ignore[arg-type]
        seen=min(1.0, one.seen),
        fits=2 * one.fits if one.fits < 1.2 * shop.largest else None,
        largest=one.largest.id if one.largest else None,
        stick_out=one.depth if one.seen > 0 else None,
        touched=min(1.0, one.touched),
        by=by,
        blockers=blockers_of(one),
    )


def face_reach(
    index: int,
    surface: str,
    area: float,
    owner: str | None,
    views: list[tuple[int, Said]],
    union: float,
    exact: bool,
    cutters: Sequence[Tool],
    shop: Shop,
    names: Sequence[str],
) -> FaceReach:
    """All views of a face and what follows."""
    limits = shop.limits
    shown = [(k, one) for k, one in views if one.seen > limits.share]
    best = min(shown, key=lambda v: _rank(v[1], v[0]), default=None)
    touched = max([union, *(one.touched for _, one in shown)], default=0.0)
    verdict: Verdict = "reached" if touched >= 1 - limits.share else "not_reached"
    if verdict == "reached" and best is not None and _slender(best[1], limits):
        verdict = "warning"
    return FaceReach(
        index=index,
        feature=owner,
        surface=surface,
        area=area,
        verdict=verdict,
        touched=min(1.0, touched),
        exact=exact,
        best=best[0] if best else None,
        cutter=best[1].largest.id if best and best[1].largest else None,
        reasons=[] if verdict == "reached" else reasons_of(views, best, verdict, limits, names),
        views=[face_view(k, one, cutters, shop) for k, one in shown],
    )


def _rank(one: Said, k: int) -> tuple:
    """Most touched first, and most seen where hardly any is; then the stiffest cutter."""
    slender = one.depth / one.largest.DC if one.largest else 99.0
    touched = round(one.touched, 4) if one.touched > HARDLY else 0.0
    return (-touched, -round(one.seen, 3), one.largest is None, round(slender, 3), k)


def _slender(one: Said, limits: ReachLimits) -> bool:
    if one.largest is None:
        return False
    drill = one.largest.kind in ("twist_drill", "reamer", "boring_tool", "center_drill", "countersink")
    return one.depth / one.largest.DC > (limits.drill_warn if drill else limits.warn)


def feature_reach(
    features: FeaturesDocument,
    faces: list[FaceReach],
    limits: ReachLimits,
    tools: dict[str, Tool],
    undercuts: Sequence[Undercut] = (),
    cutters: Sequence[Tool] = (),
) -> list[FeatureReach]:
    """Features by the worst of their faces."""
    special = {u.feature: u for u in undercuts if u.cutter}
    out = []
    for f in features.features:
        own = [faces[i] for i in f.faces]
        area = sum(o.area for o in own) or 1.0
        whole = _directions(own, limits)
        cutter, depth = _cutter(own, whole[0], tools) if whole else (None, None)
        if not whole and f.id in special:
            whole, cutter = [special[f.id].direction], special[f.id].cutter
        out.append(
            FeatureReach(
                feature=f.id,
                kind=f.kind,
                faces=f.faces,
                verdict=max((o.verdict for o in own), key=lambda v: ORDER[v], default="reached"),
                touched=sum(o.area * o.touched for o in own) / area,
                directions=whole,
                cutter=cutter,
                stick_out=depth,
                reasons=list(dict.fromkeys(r for o in sorted(own, key=_lost) for r in o.reasons)),
                refused=_refused(f, cutters),
            )
        )
    return out


def _lost(face: FaceReach) -> tuple[float, int]:
    """What is lost of a face, the most first."""
    return (-round(face.area * (1 - face.touched), 3), face.index)


def _refused(feature: Feature, cutters: Sequence[Tool]) -> list[Refusal]:
    """Cutters that do not fit the radii of a pocket, seen as it is named."""
    if feature.kind not in POCKET_KINDS or not feature.views:
        return []
    view = feature.views[0]
    found = [(t, misfits(t, view.corner_radius, view.floor_radius)) for t in cutters]
    return [Refusal(cutter=t.id, reasons=[r for r, _ in bad], texts=[x for _, x in bad]) for t, bad in found if bad]  # type: ignore[misc]


def _directions(own: list[FaceReach], limits: ReachLimits) -> list[int]:
    """Directions from which all these faces are touched."""
    sets = [{v.direction for v in o.views if v.touched >= 1 - limits.share} for o in own]
    return sorted(set.intersection(*sets)) if sets else []


def _cutter(own: list[FaceReach], k: int, tools: dict[str, Tool]) -> tuple[str | None, float | None]:
    """The largest cutter that touches all of these faces from one direction, and the stick-out that it needs."""
    views = [v for o in own for v in o.views if v.direction == k]
    names = [v.largest for v in views]
    depth = max((v.stick_out or 0.0 for v in views), default=None)
    if not names or any(n is None for n in names):
        return None, depth
    return min((n for n in names if n), key=lambda n: (tools[n].DC, n)), depth


def direction_of(d: Vector, source: str, said: dict[int, Said], areas: Sequence[float]) -> Direction:
    """A direction and how much of the part it serves."""
    total = sum(areas) or 1.0
    seen = sum(areas[f] * min(1.0, one.seen) for f, one in said.items()) / total
    touched = sum(areas[f] * min(1.0, one.touched) for f, one in said.items()) / total
    return Direction(vector=d, source=source, seen=seen, touched=touched)  # type: ignore[arg-type]


def findings_of(features: list[FeatureReach], faces: list[FaceReach], voids: set[int]) -> list[Finding]:
    """Errors for what is not reached, warnings for what is only just."""
    out = []
    for f in faces:
        if f.index in voids or f.verdict != "not_reached":
            continue
        if not f.views:
            out.append(
                Finding(
                    code="seen_from_nowhere",
                    severity="error",
                    message=f"face {f.index} ({f.surface}) is seen from none of the directions: {_joined(f.reasons)}",
                    hint="look along more directions with --from, or ask whether a tee or dovetail cutter is meant",
                    faces=[f.index],
                    features=[f.feature] if f.feature else [],
                )
            )
    for feature in features:
        if feature.verdict == "not_reached" and not set(feature.faces) & voids:
            out.append(
                Finding(
                    code="not_reached",
                    severity="error",
                    message=f"{feature.feature}: {feature.touched:.1%} is touched; {_joined(feature.reasons[:3])}",
                    faces=[i for i in feature.faces if faces[i].verdict == "not_reached"],
                    features=[feature.feature],
                )
            )
        elif feature.verdict == "warning":
            out.append(
                Finding(
                    code="long_reach",
                    severity="warning",
                    message=f"{feature.feature}: {_joined(feature.reasons[:2])}",
                    hint="a cutter twice as long bends eight times as far: take the shortest that reaches",
                    faces=[i for i in feature.faces if faces[i].verdict == "warning"],
                    features=[feature.feature],
                )
            )
    if voids:
        out.append(
            Finding(
                code="sealed",
                severity="error",
                message=f"{len(voids)} faces bound a sealed hollow: no tool gets in",
                faces=sorted(voids),
            )
        )
    return out


def _joined(texts: Sequence[str]) -> str:
    return "; ".join(texts) or "no reason known"


__all__ = ["direction_of", "face_reach", "face_view", "feature_reach", "findings_of", "holder_of"]
