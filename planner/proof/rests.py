"""What stays on the workpiece at the end: whose it is, and whether the plan says so beforehand."""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from planner.proof.corners import corners_of
from planner.proof.lumps import Lump as Found
from planner.proof.scene import Scene
from shared.features import FeaturesDocument
from shared.findings import Finding
from shared.plan import Operation, PlanDocument
from shared.proof import Lump

NAMES_REST = ("sharp_corner", "corner_left", "gap_left", "partly_uncut", "overhanging_wall", "hole_step_hidden")
"""Codes of findings that say beforehand what stays."""
UNDER_SIZE = "reamer_lead"
REAMED: float = 0.21
"""Mm on radius that a reamer takes at most (recipes.fine), so that no more stays before its lead."""
IN_CORNERS = ("sharp_corner", "corner_left")
"""Of these, those that speak of inner edges: a rest is theirs only where it lies in one and is no larger than it must be."""
APART = 0.5
"""Mm: a piece that lies further off the part, and touches it on no ray, has come off."""


def rests(
    plan: PlanDocument, features: FeaturesDocument, scene: Scene, found: list[Found], not_cut: set[str]
) -> list[Lump]:
    """The lumps with face, feature and operation, named where the plan's findings, or the closed form of a corner that
    a ball follows, explain them. Findings for the latter are added to the plan.
    """
    faces = [f.face if f.face >= 0 else _nearest(scene, f) for f in found]
    owners = [owner_of(features, face) for face in faces]
    volumes: dict[str | None, float] = defaultdict(float)
    for f, owner in zip(found, owners, strict=True):
        volumes[owner] += f.volume
    namer = _Namer(plan, features, scene, volumes, not_cut)
    out = []
    for f, face, owner in zip(found, faces, owners, strict=True):
        operation = _responsible(plan, face, owner)
        out.append(
            Lump(
                volume=f.volume,
                thickness=f.thickness,
                at=place_of(scene, f),
                face=face,
                feature=owner,
                operation=operation.id if operation else None,
                named=namer.name(f, face, owner, operation),
            )
        )
    plan.findings += namer.more
    return out


class _Namer:
    """Codes of what explains a rest."""

    def __init__(
        self,
        plan: PlanDocument,
        features: FeaturesDocument,
        scene: Scene,
        volumes: dict[str | None, float],
        not_cut: set[str],
    ) -> None:
        self._plan, self._volumes, self._not_cut = plan, volumes, not_cut
        self._scene = scene
        self._faces = {f.id: f.faces for f in features.features}
        self._finishing = [op for s in plan.setups for op in s.operations if op.faces]
        self._said: set[str] = set()
        self.more: list[Finding] = []

    def name(self, found: Found, face: int, feature: str | None, operation: Operation | None) -> str | None:
        """Code of what says so: a finding, `unplanned`, or `not_cut` where the simulation could not follow."""
        if any(u.feature == feature for u in self._plan.unplanned):
            return "unplanned"
        said = [f.code for f in self._plan.findings if feature in f.features]
        if UNDER_SIZE in said and found.thickness <= REAMED:
            return UNDER_SIZE
        codes = [code for code in said if code in NAMES_REST]
        for code in codes:
            if code not in IN_CORNERS or self._in_corner(found, face, feature, operation):
                return code
        if operation and operation.id in self._not_cut:
            return "not_cut"
        if operation and operation.kind == "freeform_operation" and self._in_corner(found, face, feature, operation):
            self._say(feature, face, operation, found)
            return "corner_left"
        return None

    def _in_corner(self, found: Found, face: int, feature: str | None, operation: Operation | None) -> bool:
        last: list[Operation | None] = [op for op in self._finishing if feature in op.features]
        radii = [
            op.tool.DC / 2.0
            for op in last or [operation]
            if op and op.tool.kind not in ("twist_drill", "reamer", "tap")
        ]
        if not radii:
            return False
        corners = self._scene.once("corners", lambda: corners_of(self._scene)).of(
            [face, *self._faces.get(feature or "", [])]
        )
        return corners.hold(max(radii), found.at, self._volumes[feature])

    def _say(self, feature: str | None, face: int, operation: Operation, found: Found) -> None:
        if feature is None or feature in self._said:
            return
        self._said.add(feature)
        radius = operation.tool.DC / 2.0
        message = (
            f"{feature}: inner edges of its surface are sharper than the {operation.tool.DC:g} mm cutter of {operation.id}, "
            f"which leaves its radius of {radius:g} mm in them: {self._volumes[feature]:.2f} mm3, up to "
            f"{found.thickness:.2f} mm thick"
        )
        hint = "allow a radius there, cut its faces from a direction along which the edge is open, or erode it"
        self.more.append(
            Finding(
                code="corner_left", severity="warning", message=message, hint=hint, features=[feature], faces=[face]
            )
        )


def owner_of(features: FeaturesDocument, face: int) -> str | None:
    """The feature that owns a face."""
    return next((f.feature for f in features.faces if f.index == face), None)


def place_of(scene: Scene, found: Found) -> tuple[float, float, float]:
    """Where a lump is thickest, in the part's coordinates."""
    x, y, z = (float(v) for v in scene.frame.T @ found.at)
    return x, y, z


def is_loose(scene: Scene, found: Found) -> bool:
    """Whether a lump touches no face and lies apart from all: no cutter takes it, it has come off before."""
    if found.face >= 0 or not len(scene.corners):
        return False
    low, high = scene.corners.min(axis=1), scene.corners.max(axis=1)
    return bool(np.linalg.norm(found.at - np.clip(found.at, low, high), axis=1).min() > APART)


def falls_off(loose: list[Found]) -> Finding:
    """Pieces that come off whole."""
    volume = sum(f.volume for f in loose)
    return Finding(
        code="comes_loose",
        severity="warning" if volume > 1000.0 else "note",
        message=f"{len(loose)} piece(s) of the stock, {volume:.1f} mm3 in all, come off whole instead of being cut away",
        hint="clear them away before the cutter meets them",
    )


def _nearest(scene: Scene, found: Found) -> int:
    """Face of the triangle whose middle lies nearest: only a hint, for lumps that no ray finds lying on a face."""
    middles = scene.corners.mean(axis=1)
    return int(scene.face_of[int(np.argmin(((middles - found.at) ** 2).sum(axis=1)))])


def _responsible(plan: PlanDocument, face: int, feature: str | None) -> Operation | None:
    """The last operation that brings the face to size, else the last on its feature."""
    every = [op for setup in plan.setups for op in setup.operations]
    mine = [op for op in every if face in op.faces] or [op for op in every if feature in op.features]
    return mine[-1] if mine else None
