"""The compare document from two features documents and, where they are given, their plans."""

from __future__ import annotations

from service.comparing.consequences import operations_of, plan_changes
from service.comparing.matching import Matched, match, shift
from service.comparing.placing import Laid, best_placing, in_file, mirrored_fit
from service.comparing.shapes import IDENTITY, Matrix, Shape, angle, apply, length, shapes_of, sub, times, transposed
from shared.compare import CompareDocument, FeatureChange, Model, Pair, Placement, Size
from shared.features import FeaturesDocument
from shared.findings import Finding
from shared.plan import PlanDocument
from shared.units import Vector

OTHER_HAND = 0.9
"""Share of features that must coincide mirrored, and do not unmirrored, before a part is called the other hand."""


def compare(
    old: FeaturesDocument,
    new: FeaturesDocument,
    plans: tuple[PlanDocument, PlanDocument] | None = None,
) -> CompareDocument:
    """What was added, removed, moved and resized, and what that changes in the plan (None: features only)."""
    mine, lost_old = shapes_of(old)
    others, lost_new = shapes_of(new)
    frames = (_frame(old), _frame(new))
    laid, kept, alike = best_placing(mine, others, times(frames[0], transposed(frames[1])))
    found = match(mine, [s.laid(laid.turn, laid.shift) for s in others], length(_size(old)))
    rotation, _ = in_file(laid, *frames)
    entries = _Entries(transposed(frames[0]), plans)
    differing = [entries.pair(a, b) for a, b in found.differing]
    access = [entries.pair(a, b) for a, b in found.equal if set(a.directions) != set(b.directions)]
    names = {b.id: a.id for a, b in [*found.equal, *found.differing]}
    return CompareDocument(
        old=_model(old),
        new=_model(new),
        placement=_placement(laid, kept, alike, frames, len(mine), len(others)),
        job=plans[1].job.model_dump(mode="json") if plans else {},
        added=[entries.lone(s, added=True) for s in found.added],
        removed=[entries.lone(s, added=False) for s in found.removed],
        moved=[c for c in differing if c.moved_by],
        resized=[c for c in differing if c.sizes or c.new_kind],
        access=[*access, *(c for c in differing if not (c.moved_by or c.sizes or c.new_kind))],
        unchanged=[Pair(kind=a.kind, old=a.id, new=b.id) for a, b in found.equal],
        plan=plan_changes(*plans, rotation, names) if plans else None,
        findings=_findings(found, laid, mine, others, lost_old, lost_new),
    )


def _frame(document: FeaturesDocument) -> Matrix:
    return tuple(document.part.frame)  # type: ignore[return-value]


def _size(document: FeaturesDocument) -> Vector:
    return sub(document.part.frame_box.max, document.part.frame_box.min)


def _model(document: FeaturesDocument) -> Model:
    part = document.part
    return Model(
        file=part.file, sha256=part.sha256, size=_size(document), volume=part.volume, features=len(document.features)
    )


class _Entries:
    """Entries of the lists, with vectors in the old file's coordinates."""

    def __init__(self, back: Matrix, plans: tuple[PlanDocument, PlanDocument] | None) -> None:
        self.back, self.plans = back, plans

    def pair(self, a: Shape, b: Shape) -> FeatureChange:
        """Two features that are one and the same."""
        by = shift(a, b)
        moved = tuple(round(c, 4) + 0.0 for c in apply(self.back, by)) if length(by) > a.tolerance else None
        sizes = _sizes(a, b)
        because = []
        if moved:
            because.append(f"moved by {length(moved):.2f} mm: ({', '.join(f'{c:g}' for c in moved)})")  # type: ignore[arg-type]
        because += [_said(size) for size in sizes]
        if a.kind != b.kind:
            because.append(f"was a {a.kind}, is a {b.kind}: it lies in the same place")
        entry = FeatureChange(
            kind=a.kind,
            new_kind=b.kind if b.kind != a.kind else None,
            old=a.id,
            new=b.id,
            moved_by=moved,  # type: ignore[arg-type]
            sizes=sizes,
            directions_old=self._directions(a),
            directions_new=self._directions(b),
            because=because,
        )
        if set(a.directions) != set(b.directions):
            entry.because.append("cut from other directions than before")
        return self._with_operations(entry)

    def lone(self, shape: Shape, *, added: bool) -> FeatureChange:
        """A feature of one model only."""
        directions = self._directions(shape)
        entry = FeatureChange(
            kind=shape.kind,
            old=None if added else shape.id,
            new=shape.id if added else None,
            sizes=[Size(name=n, old=None if added else v, new=v if added else None) for n, v in shape.sizes],
            directions_old=[] if added else directions,
            directions_new=directions if added else [],
            because=[f"no feature of the {'old' if added else 'new'} model has this kind, size and place"],
        )
        return self._with_operations(entry)

    def _directions(self, shape: Shape) -> list[Vector]:
        return [tuple(round(c, 4) + 0.0 for c in apply(self.back, d)) for d in shape.directions]  # type: ignore[misc]

    def _with_operations(self, entry: FeatureChange) -> FeatureChange:
        if self.plans and entry.old:
            entry.operations_old, entry.minutes_old = operations_of(self.plans[0], entry.old)
        if self.plans and entry.new:
            entry.operations_new, entry.minutes_new = operations_of(self.plans[1], entry.new)
        return entry


def _sizes(a: Shape, b: Shape) -> list[Size]:
    """Sizes that differ; extents of the box only where no dimension of the feature says it."""
    limit = max(a.tolerance, b.tolerance)
    mine, others = dict(a.sizes), dict(b.sizes)
    out = []
    for name in dict.fromkeys([*mine, *others]):
        x, y = mine.get(name), others.get(name)
        if x is None or y is None or abs(x - y) > limit:
            out.append(Size(name=name, old=x, new=y))
    out = [s for s in out if not s.name.startswith("step_")] or out
    if not out:
        for axis, x, y in zip("xyz", a.extent, b.extent, strict=True):
            if abs(x - y) > limit:
                out.append(Size(name=f"extent_{axis}", old=x, new=y))
    return out


def _said(size: Size) -> str:
    name = size.name.replace("_", " ")
    if size.old is None or size.new is None:
        return f"{name} {size.new:g} is new" if size.new is not None else f"{name} {size.old:g} is gone"
    return f"{name} {size.new:g} instead of {size.old:g}"


def _placement(
    laid: Laid, kept: Laid | None, alike: int, frames: tuple[Matrix, Matrix], old: int, new: int
) -> Placement:
    rotation, offset = in_file(laid, *frames)
    if laid is kept:
        text = f"the files' own coordinates are kept: {laid.coincide} of {old} old and {new} new features coincide"
        return Placement(
            kind="same", rotation=list(IDENTITY), offset=(0.0, 0.0, 0.0), coincide=laid.coincide, because=[text]
        )
    degrees = angle(rotation)
    turned = degrees > 0.01
    because = [
        f"the new model lies elsewhere as a whole: {f'turned by {degrees:g} degrees and ' if turned else ''}moved, "
        f"{laid.coincide} of {old} old and {new} new features coincide"
        + (f", in the files' own coordinates {kept.coincide}" if kept else "")
    ]
    if alike:
        because.append(
            f"{alike} other placing(s) fit as well, since the part is alike on several sides; the least turn is taken"
        )
    return Placement(
        kind="turned" if turned else "moved",
        rotation=[tuple(round(c, 6) + 0.0 for c in row) for row in rotation],  # type: ignore[misc]
        offset=offset,
        angle=degrees,
        coincide=laid.coincide,
        because=because,
    )


def _findings(
    found: Matched, laid: Laid, old: list[Shape], new: list[Shape], lost_old: list[str], lost_new: list[str]
) -> list[Finding]:
    out = []
    for ids, which in ((lost_old, "old"), (lost_new, "new")):
        if ids:
            text = f"features of the {which} model without a place were not compared: {', '.join(ids)}"
            out.append(Finding(code="not_compared", severity="warning", message=text, features=ids))
    smaller = min(len(old), len(new))
    mirrored = mirrored_fit(old, new) if laid.coincide < OTHER_HAND * smaller else 0
    if mirrored >= OTHER_HAND * smaller:
        text = f"mirrored, {mirrored} features would coincide: the new model may be the other hand of the part"
        out.append(
            Finding(code="mirrored", severity="warning", message=text, hint="mirror one model and compare again")
        )
    if len(found.equal) + len(found.differing) <= 0.5 * smaller:
        text = f"only {laid.coincide} of {len(old)} features coincide: these may not be two states of one part"
        hint = "check the files; pairs said here are the likeliest, not certain"
        out.append(Finding(code="little_alike", severity="warning", message=text, hint=hint))
    return out
