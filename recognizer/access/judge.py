"""From a look along some directions to what is said of each face: seen, touched, the largest cutter, what blocks the rest."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from recognizer.access.cutters import Group, Shop, round_edged
from recognizer.access.forms import by_form
from recognizer.access.judge_floors import FloorJudge
from recognizer.access.look import Look
from recognizer.access.losses import losses
from recognizer.access.measure import FIT_MM, Measures
from recognizer.access.obstacles import Nodes
from recognizer.access.roles import UPRIGHT
from recognizer.access.rounded import touches
from recognizer.access.said import Said
from shared.plan import Tool

Array = np.ndarray


class Judge:
    """Judges all faces from the directions of a look. Faces go by the names of the look's tiles."""

    def __init__(self, look: Look, shop: Shop, cutters: list[Tool]) -> None:
        self.look, self.shop, self.cutters = look, shop, cutters
        self.scene = look.scene
        pieces = self.scene.mesh.pieces
        area = np.maximum(np.bincount(pieces.face, pieces.area, self.scene.part_faces), 1e-12)
        self.area = self.scene.each(area)
        self.measures = Measures(look, shop, cutters)
        self.floors = FloorJudge(self.measures, shop, cutters)

    @cached_property
    def weight(self) -> Array:
        """(strips,) share of its face of each strip."""
        s = self.look.strips
        return s.area / self.area[s.face]

    def forget(self) -> None:
        """Lets go of all that is made again when it is asked for."""
        for one in (self.scene, self.look, self.look.strips, self.measures):
            kept = {name: value for name, value in vars(one).items() if not _is_made(type(one), name)}
            vars(one).clear()
            vars(one).update(kept)

    def faces(self) -> list[dict[int, Said]]:
        """For each direction what is said of every face of the part of which anything looks this way."""
        said: dict[int, Said] = {}
        self._standing(said)
        for floor, one in zip(self.look.floors, self.floors.all(self.look.floors), strict=True):
            if floor.face in said:  # a face of which another part stands: only odd planes
                one.by = said[floor.face].by
            said[floor.face] = one
        self._crests(said)
        self._buried(said)
        n = self.scene.part_faces
        out: list[dict[int, Said]] = [{} for _ in range(self.scene.count)]
        for face, one in said.items():
            lost: dict[tuple[str, int], float] = {}
            for (reason, by), share in one.lost.items():
                lost[reason, by % n if by >= 0 else by] = share
            one.lost = lost
            out[face // n][face % n] = one
        return out

    def _standing(self, said: dict[int, Said]) -> None:
        m, s = self.measures, self.look.strips
        count = len(self.area)
        weight = self.weight
        seen, touched, *by = (np.bincount(s.face, weight * v, count) for v in (m.seen, m.touched, *m.by))
        fits = np.full(count, np.inf)
        lit = ~m.dark
        np.minimum.at(fits, s.face[s.strip[lit]], self.look.fit.radius[lit])
        leans = np.bincount(s.face, self.scene.leaning[s.piece], count) > 0
        faces = np.unique(s.face)
        shares = np.array(by).reshape(len(by), -1)[:, faces].T.tolist()
        rows = zip(
            faces.tolist(), seen[faces].tolist(), touched[faces].tolist(), fits[faces].tolist(), shares, strict=True
        )
        for f, one_seen, one_touched, fit, one_by in rows:
            lies = ("slope" if self.scene.face(f).kind == "plane" else "round") if leans[f] else "wall"
            said[f] = Said(one_seen, one_touched, fit, 0.0, lies, one_by)
        self._largest(said)
        by_form(said, m)
        for face, reason, blocker, share in losses(m, weight):
            if reason == "material_above" or said[face].form is None:
                said[face].lose(reason, blocker, share)

    def _largest(self, said: dict[int, Said]) -> None:
        """For each face the largest flat mill that touches all of it, and the stick-out that it needs."""
        m, s, shop = self.measures, self.look.strips, self.shop
        lit = [f for f, one in said.items() if one.seen > 0]
        needs = np.zeros((len(lit), len(shop.groups)))
        for k, group in enumerate(shop.groups):
            worst = np.zeros(len(self.area))
            np.maximum.at(worst, s.face, np.where(m.seen > 0, m.need(group), 0.0))
            needs[:, k] = worst[lit]
        found = shop.largest_mills(np.array([said[f].fits for f in lit]) + FIT_MM, needs)
        keys = [group.key for group in shop.groups]
        for f, row, tool in zip(lit, needs.tolist(), found, strict=True):
            one, depths = said[f], dict(zip(keys, row, strict=True))
            one.depth = min(row, default=0.0)
            if one.seen > 1 - shop.limits.share and one.touched > one.seen - shop.limits.share:
                one.largest = tool or self._tested(f, one)
                if one.largest is not None:
                    one.depth = self._stick_out(one.largest, depths)
                else:
                    self._bull(f, one)

    def _stick_out(self, tool: Tool, depths: dict[tuple, float]) -> float:
        """What stands out: what the material near the face asks for, or less where a test was exact."""
        need = depths.get(self.shop.key_of(tool), min(depths.values(), default=0.0))
        return min(need, self.shop.length_of(tool))

    def _tested(self, face: int, one: Said) -> Tool | None:
        """The largest cutter whose holder is free at every node, though the material near by asks for a longer one; balls too."""
        m, own = self.measures, self.look.nodes_of(face)
        nodes = own.start + np.flatnonzero(~m.dark[own])
        flat = [t for t in reversed(self.shop.mills) if one.fits + FIT_MM >= t.DC / 2]
        for tool in _longest_of_each(flat)[:4]:
            if (m.margin_of_some(tool, nodes) >= 0).all():
                return tool
        if one.lies == "wall":
            return None
        for tool in _longest_of_each(list(reversed(self.shop.balls.mills))):
            if m.rounded(tool, nodes[:: max(1, len(nodes) // 40)]).all() and m.rounded(tool, nodes).all():
                return tool
        return None

    def _bull(self, face: int, one: Said) -> None:
        """The largest mill with an edge radius that touches all of a face, and its stick-out."""
        m, s = self.measures, self.look.strips
        k = self.look.strips_of(face)
        for tool, share in reversed(list(zip(self.shop.bulls, m.by_bulls, strict=True))):
            if float((s.area[k] * share[k]).sum() / self.area[face]) > one.seen - self.shop.limits.share:
                need = m.need(Group(("bull", tool.id), [tool], self.shop.limits))[k]
                one.largest, one.depth = tool, min(float(need.max()), self.shop.length_of(tool))
                return

    def _buried(self, said: dict[int, Said]) -> None:
        """Of what no ray leaves, how much looks this way, and that the bore's opposite side is in the way."""
        pieces = self.scene.pieces
        k = np.flatnonzero(self.scene.buried_piece & (self.scene.cosine > -UPRIGHT))
        facing = np.bincount(pieces.face[k], pieces.area[k], len(self.area)) / self.area
        for f in np.flatnonzero(self.scene.buried >= 0).tolist():
            lies = "wall" if self.scene.face(f).kind == "plane" else "round"
            one = said[f] = Said(fits=0.0, lies=lies, by=[0.0] * len(self.cutters))
            one.lose("material_above", int(self.scene.buried[f]), float(facing[f]))

    def _crests(self, said: dict[int, Said]) -> None:
        c = self.look.crests
        least = self.shop.all.diameter.min(initial=1e9) / 2
        ball = self._balls_on_crests()
        by = [self._on_crests(tool) for tool in self.cutters]
        for k, f in enumerate(c.face.tolist()):
            share = float(c.area[k] / self.area[f])
            one = said.setdefault(f, Said(lies="round", by=[0.0] * len(self.cutters)))
            if c.hidden[k] >= 0:
                one.lose("material_above", int(c.hidden[k]), share)
                continue
            one.seen += share
            one.fits = min(one.fits, float(c.radius[k]))
            if c.radius[k] >= least - FIT_MM or ball[k]:
                one.touched += share
            else:
                one.lose("corner_too_tight", int(c.by[k]), share)
            for i, good in enumerate(by):
                one.by[i] += share * float(good[k])

    def _balls_on_crests(self) -> Array:
        """Whether the smallest ball cutter that is long enough touches each crest from straight above."""
        c, balls = self.look.crests, self.shop.balls
        k = np.flatnonzero(c.hidden < 0)
        if not len(k) or not len(balls.mills):
            return np.zeros(len(c.face), bool)
        best = balls.first_deep(np.array([(self.scene.high_at(c.level[k]) - c.level[k]).max()]))
        return self._on_crests(balls.mills[int(best[0])] if best[0] >= 0 else balls.mills[int(balls.length.argmax())])

    def _on_crests(self, tool: Tool) -> Array:
        """Whether a cutter touches each crest from straight above; a flat one from one of four sides."""
        c, m = self.look.crests, self.measures
        if not round_edged(tool):
            return c.radius >= tool.DC / 2 - FIT_MM
        out = np.zeros(len(c.face), bool)
        k = np.flatnonzero(c.hidden < 0)
        if len(k):
            nodes = Nodes(c.middle[k], np.tile([1.0, 0.0], (len(k), 1)), c.level[k], np.zeros(len(k)))
            stack = self.shop.stack(tool)
            out[k] = touches(nodes, np.ones(len(k)), tool, stack, m.overhang, self.look.material)[0]
        return out


def _is_made(kind: type, name: str) -> bool:
    """Whether an attribute is a cached property."""
    return any(isinstance(vars(base).get(name), cached_property) for base in kind.__mro__)


def _longest_of_each(tools: list[Tool]) -> list[Tool]:
    """Of each diameter the longest, in the order of their first."""
    best: dict[float, Tool] = {}
    for tool in tools:
        if tool.DC not in best or (tool.LU or 0) > (best[tool.DC].LU or 0):
            best[tool.DC] = tool
    return list(best.values())
