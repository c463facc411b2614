"""Nothing is forgotten: features, faces, edges, cautions, reasons; and nothing is named that does not exist."""

from __future__ import annotations

from collections.abc import Iterator

from planner.checks.index import LEVEL, Index, Placed, dot, fault
from shared.features import Edge
from shared.findings import Finding
from shared.plan import CAUTIONS

SIDES_CUT = ("endmill", "bullnose_endmill")
"""Cutters whose side makes a wall."""
BLUNT = 46.0
"""Degrees: edges that turn no more are as blunt as an edge break leaves them."""
UNCUT = ("partly_uncut", "hole_step_hidden")
"""Findings by which a plan says that a part of a feature stays uncut."""


def features(index: Index) -> Iterator[Finding]:
    """Every feature is cut, or said not to be, and not both."""
    for name in index.features:
        cut, said = name in index.by_feature, name in index.unplanned
        if not cut and not said:
            yield fault("feature_missing", f"{name} is neither cut nor said to be unplanned", features=[name])
        if cut and said:
            yield fault("feature_twice", f"{name} is cut, and said to be unplanned", features=[name])
    for u in index.plan.unplanned:
        if not u.reason.strip():
            yield fault("no_reason", f"{u.feature} is unplanned without a reason", features=[u.feature])
    for name in sorted((set(index.by_feature) | index.unplanned) - set(index.features)):
        yield fault("unknown_feature", f"the plan names {name}, which the part does not have", features=[name])


def faces(index: Index) -> Iterator[Finding]:
    """Every face of a cut feature is brought to size by an operation, unless the plan says what stays uncut."""
    done = {f for p in index.placed for f in p.op.faces}
    said = {name for code in UNCUT for finding in index.said(code) for name in finding.features}
    for name in index.by_feature:
        left = sorted(set(index.features[name].faces) - done) if name in index.features else []
        if left and name not in said:
            yield fault(
                "face_not_finished", f"{name}: no operation brings faces {left} to size", features=[name], faces=left
            )
    known = {f.index for f in index.document.faces}
    for p in index.placed:
        if set(p.op.faces) - known:
            yield fault("unknown_face", f"{p.op.id} names faces {sorted(set(p.op.faces) - known)}, which do not exist")


def edges(index: Index) -> Iterator[Finding]:
    """Every sharp edge is broken or said not to be; from a direction that reaches it."""
    served = {e for p in index.placed for e in p.op.edges}
    said = {f for finding in index.said("edges_not_broken") for f in finding.faces}
    by_index = {e.index: e for e in index.document.edges}
    for edge in index.document.edges:
        if edge.angle > BLUNT and edge.index not in served and not set(edge.faces) <= said:
            yield fault(
                "edge_missing", f"edge {edge.index} is neither broken nor said to be left", faces=list(edge.faces)
            )
    for p in index.placed:
        for e in p.op.edges:
            edge_ = by_index.get(e)
            if edge_ is None:
                yield fault("unknown_edge", f"{p.op.id} names edge {e}, which the part does not have")
            elif not any(_along(d, p.setup.direction) for d in edge_.directions) and not _on_the_way(p, edge_):
                yield fault("edge_not_reachable", f"{p.op.id} breaks edge {e} from a direction that does not reach it")
            elif set(edge_.faces) & _held(index, p) and p.op.features:
                yield fault("edge_held", f"{p.op.id} breaks edge {e}, one of whose faces is held meanwhile")


def _on_the_way(p: Placed, edge: Edge) -> bool:
    """Whether an end mill's side passes all of an upright edge while it finishes one of the edge's walls."""
    ends = sorted(dot(point, p.setup.direction) for point in (edge.start, edge.end))
    upright = abs(ends[1] - ends[0] - edge.length) < 0.01 + 1e-3 * edge.length
    along = p.op.levels.top >= ends[1] - LEVEL and p.deepest <= ends[0] + LEVEL
    return upright and along and p.op.tool.kind in SIDES_CUT and bool(set(edge.faces) & set(p.op.faces))


def _held(index: Index, p: Placed) -> set[int]:
    """Faces that the cutter must not come near: jaws that are shorter than the part leave its ends free."""
    clamping = next((c for c in index.plan.clampings if c.id == p.setup.clamping), None)
    if clamping is None:
        return set()
    beside = clamping.device == "vise" and clamping.jaw_width is not None
    return {*clamping.rest_faces, *(() if beside else clamping.clamp_faces)}


def _along(a: tuple[float, float, float], b: tuple[float, float, float]) -> bool:
    return sum(x * y for x, y in zip(a, b, strict=True)) > 1.0 - 1e-5


def cautions(index: Index) -> Iterator[Finding]:
    """The cautions are all there."""
    for text in CAUTIONS:
        if text not in index.plan.cautions:
            yield fault("caution_missing", f"a caution is missing: {text}")


def reasons(index: Index) -> Iterator[Finding]:
    """Every operation and setup says why."""
    for p in index.placed:
        if not any(text.strip() for text in p.op.because):
            yield fault("no_reason", f"{p.op.id} gives no reason", features=p.op.features)
    for setup in index.plan.setups:
        if not any(text.strip() for text in setup.because):
            yield fault("no_reason", f"{setup.id} gives no reason")


def names(index: Index) -> Iterator[Finding]:
    """Ids are unique; an operation's `feature` is the first of its `features`; its tool is in the list of tools."""
    seen: set[str] = set()
    for name in [s.id for s in index.plan.setups] + [p.op.id for p in index.placed]:
        if name in seen:
            yield fault("duplicate_id", f"{name} is used twice")
        seen.add(name)
    listed = {t.id: t for t in index.plan.tools}
    for p in index.placed:
        if p.op.feature != (p.op.features[0] if p.op.features else None):
            yield fault("feature_mismatch", f"{p.op.id}: `feature` is not the first of `features`")
        if listed.get(p.op.tool.id) != p.op.tool:
            yield fault("unknown_tool", f"{p.op.id} uses {p.op.tool.id}, which is not so in the list of tools")


CHECKS = (features, faces, edges, cautions, reasons, names)
