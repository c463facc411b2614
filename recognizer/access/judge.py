"""From one direction's look to what is said of each face: seen, touched, the largest cutter, what blocks the rest."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from recognizer.access.cutters import Shop, holder_of, usable_length
from recognizer.access.depth import tops_near
from recognizer.access.floors import Floor
from recognizer.access.look import Look
from recognizer.access.scene import UPRIGHT
from shared.plan import Tool

Array = np.ndarray
FIT_MM = 0.005
"""A cutter may be this much larger in radius than what just fits: the tolerance of lengths."""
OPPOSITE = 0.87
"""Obstacles farther across the disc than this stand opposite (a gap), nearer ones beside (a corner)."""


@dataclass
class Said:
    """What is known of one face from one direction; shares of the face's area, radii in mm."""

    seen: float = 0.0
    touched: float = 0.0
    fits: float = np.inf
    depth: float = 0.0
    lies: str = "away"
    by: list[float] = field(default_factory=list)
    largest: Tool | None = None
    form: Tool | None = None
    lost: dict[tuple[str, int], float] = field(default_factory=dict)
    """Share lost by (reason, face in the way or -1)."""

    def lose(self, reason: str, face: int, share: float) -> None:
        """Adds to what is lost."""
        if share > 1e-9:
            self.lost[(reason, face)] = self.lost.get((reason, face), 0.0) + share


class Judge:
    """Judges all faces from one direction."""

    def __init__(self, look: Look, shop: Shop, cutters: list[Tool]) -> None:
        self.look, self.shop, self.cutters = look, shop, cutters
        self.strips, self.scene = look.strips, look.scene
        pieces = self.scene.mesh.pieces
        count = len(self.scene.mesh.snapshot.faces)
        self.area = np.maximum(np.bincount(pieces.face, pieces.area, count), 1e-12)
        self.hold = max((d / 2 for t in cutters for d, _ in holder_of(t)), default=14.0)
        self._strip_depths()
        self._measure()

    def _strip_depths(self) -> None:
        """How far below the material near it each strip lies, within a small holder's radius."""
        s = self.strips
        low, high = np.minimum(s.a, s.b), np.maximum(s.a, s.b)
        self.need = {}
        for radius in sorted({max(d / 2 for d, _ in holder_of(t)) for t in self.shop.mills} or {14.0}):
            self.need[radius] = tops_near(self.look, low, high, s.level, radius) - s.level
        self.depth = self.need[min(self.need)]

    def _measure(self) -> None:
        """Shares of the strips: seen, touched by the smallest cutter that goes so deep, and by each cutter written out."""
        s, node = self.strips, self.look.fit.radius
        dark = self.look.hidden >= 0
        self.seen = s.measured(np.where(dark, -1.0, 1.0))
        self.least = self.shop.smallest_radius(self.depth)
        room = np.where(dark, -1.0, np.minimum(node, 1e3))
        least = np.minimum(self.least, 1e6)[s.strip]
        self.touched = np.minimum(s.measured(np.where(dark, -1.0, room - least + FIT_MM)), self.seen)
        self.by = []
        for tool in self.cutters:
            radius = tool.DC / 2
            deep = self._need_of(tool) <= self._length(tool) + 1e-6
            share = np.minimum(s.measured(np.where(dark, -1.0, room - radius + FIT_MM)), self.seen)
            self.by.append(np.where(deep, share, 0.0))

    def _need_of(self, tool: Tool) -> Array:
        return (
            self.need.get(max(d / 2 for d, _ in holder_of(tool)), self.depth) if tool.kind == "endmill" else self.depth
        )

    def _length(self, tool: Tool) -> float:
        return min(usable_length(tool), self.shop.limits.fail * tool.DC)

    def faces(self) -> dict[int, Said]:
        """What is said of every face of which anything looks this way."""
        said: dict[int, Said] = {}
        self._standing(said)
        for floor in self.look.floors:
            self._floor(said, floor)
        self._crests(said)
        return said

    def _standing(self, said: dict[int, Said]) -> None:
        s = self.strips
        count = len(self.area)
        weight = s.area / self.area[s.face]
        seen, touched = (np.bincount(s.face, weight * v, count) for v in (self.seen, self.touched))
        by = [np.bincount(s.face, weight * v, count) for v in self.by]
        fits, depth = np.full(count, np.inf), np.zeros(count)
        lit = self.look.hidden < 0
        np.minimum.at(fits, s.face[s.strip[lit]], self.look.fit.radius[lit])
        np.maximum.at(depth, s.face, np.where(self.seen > 0, self.depth, 0.0))
        leans = np.bincount(s.face, self.scene.leaning[s.piece], count) > 0
        for f in np.unique(s.face).tolist():
            kind = self.scene.mesh.snapshot.faces[f].kind
            lies = ("slope" if kind == "plane" else "round") if leans[f] else "wall"
            one = Said(
                float(seen[f]), float(touched[f]), float(fits[f]), float(depth[f]), lies, [float(b[f]) for b in by]
            )
            said[f] = one
            if one.seen > 0:
                self._largest(f, one)
        self._losses(said, weight)

    def _largest(self, face: int, one: Said) -> None:
        """The largest mill, or the drill of the bore's or cone's own shape."""
        if one.seen > 1 - self.shop.limits.share:
            one.largest = self._deep_enough(face, one)
        self._by_form(face, one)

    def _by_form(self, face: int, one: Said) -> None:
        """Bores and cones: the drill or countersink that makes them, where a mill does not or is slender."""
        surface = self.scene.mesh.snapshot.faces[face].surface
        if (
            not surface.hollow
            or surface.kind not in ("cylinder", "cone")
            or one.lies != ("wall", "round")[surface.kind == "cone"]
        ):
            return
        along = abs(sum(a * b for a, b in zip(surface.axis, self.scene.d, strict=True)))
        if along < 1 - UPRIGHT**2 or self.scene.mesh.snapshot.faces[face].span < 300:
            return
        own = np.flatnonzero(self.strips.face == face)
        nodes = np.isin(self.strips.strip, own) & (self.look.hidden < 0)
        # A cutter of the face's own form is not stopped by the face itself.
        free = self.look.fit.radius[nodes] >= self.strips.cap[nodes] - 2 * FIT_MM
        free |= self.look.fit.face[nodes] == face
        if not free.any():
            return
        if surface.kind == "cylinder":
            one.form = self.shop.bore_cutter(2 * surface.radius, one.depth)
        else:
            caps = self._ends(face)
            one.form = self.shop.cone_cutter(2 * abs(surface.half_angle), 2 * caps[0], 2 * caps[1], one.depth)
        if one.form is not None:
            share = one.seen * float(free.mean())
            one.touched = max(one.touched, share)
            slender = one.largest is None or one.depth > self.shop.limits.warn * one.largest.DC
            if slender and share > 1 - self.shop.limits.share:
                one.largest = one.form

    def _ends(self, face: int) -> tuple[float, float]:
        """Smallest and largest radius of a cone face."""
        s = self.scene.mesh.snapshot.faces[face].surface
        t = self.scene.mesh.snapshot.facet_arrays[face].reshape(-1, 3) - np.array(s.origin)
        axis = np.array(s.axis)
        r = np.linalg.norm(t - np.outer(t @ axis, axis), axis=1)
        return float(r.min()), float(r.max())

    def _deep_enough(self, face: int, one: Said) -> Tool | None:
        """The largest flat mill that fits and is long enough for this face with its own holder."""
        own = self.strips.face == face
        radius = one.fits
        for _ in range(8):
            tool = self.shop.largest_mill(radius + FIT_MM, one.depth)
            if tool is None:
                return None
            need = float(self._need_of(tool)[own & (self.seen > 0)].max(initial=0.0))
            if need <= self._length(tool) + 1e-6:
                one.depth = max(one.depth, need)
                return tool
            radius = tool.DC / 2 - 0.01
        return None

    def _losses(self, said: dict[int, Said], weight: Array) -> None:
        """Why strips are not seen or not touched: by face in the way, shared out over the nodes that fail."""
        s, fit = self.strips, self.look.fit
        for i in np.flatnonzero((self.seen < 1 - 1e-9) | (self.touched < self.seen - 1e-9)).tolist():
            one = said[int(s.face[i])]
            nodes = slice(*np.searchsorted(s.strip, [i, i + 1]))
            dark = self.look.hidden[nodes]
            _share_out(one, "material_above", dark[dark >= 0], weight[i] * (1 - self.seen[i]))
            lost = weight[i] * (self.seen[i] - self.touched[i])
            if lost <= 1e-9 or one.form is not None:
                continue
            if not np.isfinite(self.least[i]):
                room = 2 * float(np.median(fit.radius[nodes][dark < 0]))
                thin = self.depth[i] > self.shop.limits.fail * min(room, 2 * self.shop.largest)
                one.lose("too_long_for_its_diameter" if thin else "holder_collides", -1, lost)
                continue
            bad = (dark < 0) & (fit.radius[nodes] < self.least[i] - FIT_MM)
            across, faces = fit.across[nodes][bad], fit.face[nodes][bad]
            gap = across > OPPOSITE
            total = max(len(across), 1)
            _share_out(one, "gap_too_narrow", faces[gap], lost * gap.sum() / total)
            _share_out(one, "corner_too_tight", faces[~gap], lost * (total - gap.sum()) / total)

    def _floor(self, said: dict[int, Said], floor: Floor) -> None:
        one = Said(floor.seen_share, 0.0, self.look.floor_fits(floor), 0.0, "floor")
        if floor.face in said:  # a face of which another part stands: only odd planes
            one.by = said[floor.face].by
        said[floor.face] = one
        _share_out(one, "material_above", np.array(floor.hidden_by), 1 - one.seen)
        one.by = [0.0] * len(self.cutters)
        if one.seen <= 1e-9:
            return
        box = np.array(floor.seen.bounds)
        depths = {}
        for radius in self.need:
            top = tops_near(self.look, box[None, :2], box[None, 2:], np.array([floor.level]), radius)
            depths[radius] = float(top[0]) - floor.level
        one.depth = min(depths.values())
        least = float(self.shop.smallest_radius(np.array([one.depth]))[0])
        for k, tool in enumerate(self.cutters):
            need = depths.get(max(d / 2 for d, _ in holder_of(tool)), one.depth)
            if need <= self._length(tool) + 1e-6:
                one.by[k] = self.look.floor_share(floor, tool.DC / 2)
        if not np.isfinite(least):
            one.lose("too_long_for_its_diameter", -1, one.seen)
            return
        one.touched = max([self.look.floor_share(floor, least), *one.by])
        if one.seen > 1 - self.shop.limits.share:
            one.largest = self._largest_on_floor(floor, one, depths)
        self._floor_losses(floor, one, least)

    def _largest_on_floor(self, floor: Floor, one: Said, depths: dict[float, float]) -> Tool | None:
        radius = one.fits
        for _ in range(8):
            tool = self.shop.largest_mill(radius + FIT_MM, one.depth)
            if tool is None:
                return None
            need = depths.get(max(d / 2 for d, _ in holder_of(tool)), one.depth)
            whole = need <= self._length(tool) + 1e-6
            if whole and self.look.floor_share(floor, tool.DC / 2) > 1 - self.shop.limits.share:
                one.depth = max(one.depth, need)
                return tool
            radius = tool.DC / 2 - 0.01
        return None

    def _floor_losses(self, floor: Floor, one: Said, least: float) -> None:
        lost = one.seen - one.touched
        if lost <= 1e-9:
            return
        fit, k = self.look.foot_fit, floor.walls
        bad = k[fit.radius[k] < least - FIT_MM]
        gap = fit.across[bad] > OPPOSITE
        total = max(len(bad), 1)
        _share_out(one, "gap_too_narrow", fit.face[bad[gap]], lost * gap.sum() / total)
        _share_out(one, "corner_too_tight", fit.face[bad[~gap]], lost * (total - gap.sum()) / total)

    def _crests(self, said: dict[int, Said]) -> None:
        c = self.look.crests
        for k in range(len(c.face)):
            f = int(c.face[k])
            share = float(c.area[k] / self.area[f])
            one = said.setdefault(f, Said(lies="round", by=[0.0] * len(self.cutters)))
            if c.hidden[k] >= 0:
                one.lose("material_above", int(c.hidden[k]), share)
                continue
            one.seen += share
            one.fits = min(one.fits, float(c.radius[k]))
            least = self.shop.diameter.min(initial=1e9) / 2
            if c.radius[k] >= least - FIT_MM:
                one.touched += share
            else:
                one.lose("corner_too_tight", int(c.by[k]), share)
            for i, tool in enumerate(self.cutters):
                one.by[i] += share * float(c.radius[k] >= tool.DC / 2 - FIT_MM)


def _share_out(one: Said, reason: str, faces: Array, share: float) -> None:
    """Shares a loss out over the faces in the way, by how often each was met."""
    if share <= 1e-9:
        return
    if not len(faces):
        one.lose(reason, -1, share)
        return
    names, counts = np.unique(faces, return_counts=True)
    for f, c in zip(names.tolist(), counts.tolist(), strict=True):
        one.lose(reason, int(f), share * c / counts.sum())
