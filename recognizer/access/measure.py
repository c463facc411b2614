"""What is seen and touched of the strips of standing and leaning faces, from all directions of a look.

A mill counts where its disc has room and its holder stays clear. Whether it does is settled, cheapest first: by the highest
point of the whole part; by the highest material near the strip (never too low); exactly, cylinder by cylinder.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from recognizer.access.cutters import Group, Shop, round_edged
from recognizer.access.depth import Tops
from recognizer.access.holders import Overhang
from recognizer.access.look import Look
from recognizer.access.rounded import touches
from shared.plan import Tool

Array = np.ndarray
FIT_MM = 0.005
"""A cutter may be this much larger in radius than what just fits: the tolerance of lengths."""
LEVELS = 6
"""Levels at which a round-edged cutter is asked for on each upright strip: so many up to its edge radius, and above it."""
WIDE_MM = 1e3
"""Room that counts as any."""


class Measures:
    """Shares of strips (n) and margins of nodes (k): a margin of at least zero means touched."""

    def __init__(self, look: Look, shop: Shop, cutters: list[Tool]) -> None:
        self.look, self.shop = look, shop
        self.strips, self.scene = look.strips, look.scene
        self.low = self.strips.band[:, 0]
        """Lowest level of each strip: so deep a cutter must go to cut all of it."""
        self.high = self.scene.high[self.strips.face // self.scene.part_faces]
        self.dark = look.hidden >= 0
        self.room = np.where(self.dark, -1.0, np.minimum(look.fit.radius, WIDE_MM))
        self.seen = self.strips.measured(np.where(self.dark, -1.0, 1.0))
        self.margin = np.where(self.dark, -1.0, self._any_mill())
        self._balls()
        self.by = self._shares(cutters)
        self.touched = np.minimum(self.strips.measured(self.margin), self.seen)
        self.by_bulls = self._shares(shop.bulls)
        self.touched = np.max([self.touched, *self.by, *self.by_bulls], axis=0)

    @cached_property
    def tops(self) -> Tops:
        """Highest material near places."""
        return Tops(self.scene, self.look.segments)

    @cached_property
    def overhang(self) -> Overhang:
        """What holders may run into."""
        return Overhang(self.scene, self.look.segments)

    @cached_property
    def _needs(self) -> dict[tuple, Array]:
        return {}

    def need(self, group: Group) -> Array:
        """(n,) stick-out that keeps a group's holder above all material near each strip, at most a little too long."""
        if group.key not in self._needs:
            s = self.strips
            normal = self.scene.pieces.normal[s.piece, :2]
            step = group.largest * normal / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
            corners = np.stack([s.a, s.b, s.a + step, s.b + step])
            top = self.tops.near(corners.min(axis=0), corners.max(axis=0), self.low, group.holder)
            self._needs[group.key] = top - self.low
        return self._needs[group.key]

    def _any_mill(self) -> Array:
        """Margin of the smallest flat end mill that is long enough at each node; at least zero where any does it."""
        s, shop = self.strips, self.shop
        least = np.minimum(shop.smallest_radius(self.high - self.low), WIDE_MM + 1)
        margin = self.room - least[s.strip] + FIT_MM
        if not len(shop.mills):
            return np.full(len(margin), -1.0)
        left = np.flatnonzero((margin < 0) & (self.room >= shop.all.diameter[0] / 2 - FIT_MM))
        if not len(left):
            return margin
        near = np.min([group.smallest_radius(self.need(group)) for group in shop.groups], axis=0)
        least = np.minimum(near, WIDE_MM + 1)
        margin = np.maximum(margin, self.room - least[s.strip] + FIT_MM)
        left = left[margin[left] < 0]
        asked = []
        for group in shop.groups if len(left) else ():
            # The longest that has room: if its holder is in the way, so is that of any other of the group.
            best = group.longest_within(self.room[left] + FIT_MM)
            asked += [(group.mills[k], left[best == k]) for k in np.unique(best[best >= 0])]
        for (_, nodes), free in zip(asked, self._held(asked), strict=True):
            margin[nodes[free]] = 0.0
        return margin

    def _held(self, asked: list[tuple[Tool, Array]]) -> list[Array]:
        """Whether flat cutters' holders are free where they touch nodes."""
        n = self.strips.nodes
        places = [
            (n.p[k] + tool.DC / 2 * n.n[k], self.low[self.strips.strip[k]], self.shop.stack(tool)) for tool, k in asked
        ]
        return self.overhang.all_free(places)

    def _shares(self, tools: list[Tool]) -> list[Array]:
        """(n,) share of each strip that each cutter touches."""
        flat = [t for t in tools if not round_edged(t)]
        size = np.array([t.DC / 2 for t in flat])[:, None]
        by_id = {}
        if flat:
            rooms = np.minimum(self.strips.measured(np.where(self.dark, -1.0, self.room - size + FIT_MM)), self.seen)
            margins = self._flat_margins(flat, np.arange(len(self.room)))
            by_id = {t.id: self._flat_share(t, *one) for t, *one in zip(flat, rooms, margins, strict=True)}
        return [by_id[t.id] if t.id in by_id else self._round_share(t) for t in tools]

    def _round_share(self, tool: Tool) -> Array:
        margin = self.margin_of_some(tool, np.arange(len(self.room)))
        return self._share_upright(tool, np.minimum(self.strips.measured(margin), self.seen))

    def _flat_share(self, tool: Tool, room: Array, margin: Array | None) -> Array:
        """room: shares by room alone; margin: where the holder is in the way of some of it."""
        if margin is None:
            return room
        s = self.strips
        share = np.minimum(s.measured(margin), self.seen)
        short = np.flatnonzero(room > share)
        if len(short) and (group := self.shop.group_of(tool)) is not None:
            # Too short for the foot of the strip, long enough for its upper part: how far down it goes.
            height = np.maximum(s.band[short, 1] - self.low[short], 1e-9)
            missing = self.need(group)[short] - self.shop.length_of(tool)
            part = np.clip(1 - np.maximum(missing, 0.0) / height, 0.0, 1.0)
            share[short] += part * (room - share)[short]
        return share

    def _share_upright(self, tool: Tool, share: Array) -> Array:
        """The shares with those of upright strips asked at many levels: a round edge does not come down to their foot."""
        s = self.strips
        nodes = np.flatnonzero(~self.dark & ~self.scene.leaning[s.piece[s.strip]])
        if not len(nodes):
            return share
        total = np.zeros(len(share))
        height = s.band[:, 1] - self.low
        edge = np.minimum(tool.RE, height)
        bounds = [edge * k / LEVELS for k in range(LEVELS)] + [
            edge + (height - edge) * k / LEVELS for k in range(LEVELS + 1)
        ]
        for low, high in pairwise(bounds):
            level = self.low + (low + high) / 2
            margin = np.full(len(self.room), -1.0)
            margin[nodes] = np.where(self.rounded(tool, nodes, level[s.strip[nodes]]), 1.0, -1.0)
            total += s.measured(margin) * (high - low) / np.maximum(height, 1e-9)
        upright = ~self.scene.leaning[s.piece]
        return np.where(upright, np.minimum(total, self.seen), share)

    def margin_of_some(self, tool: Tool, nodes: Array) -> Array:
        """Margin of one cutter at some nodes."""
        if round_edged(tool):
            out = np.full(len(nodes), -1.0)
            lit = np.flatnonzero(~self.dark[nodes])
            out[lit] = np.where(self.rounded(tool, nodes[lit]), 1.0, -1.0)
            return out
        (margin,) = self._flat_margins([tool], nodes)
        return self._room_margin(tool, nodes) if margin is None else margin

    def _room_margin(self, tool: Tool, nodes: Array) -> Array:
        return np.where(self.dark[nodes], -1.0, self.room[nodes] - tool.DC / 2 + FIT_MM)

    def _flat_margins(self, tools: list[Tool], nodes: Array) -> list[Array | None]:
        """Margins of flat cutters at some nodes; None where no holder is in the way, and room alone counts."""
        strip = self.strips.strip[nodes]
        doubts = []
        for tool in tools:
            stack = self.shop.stack(tool)
            doubt = np.empty(0, int)
            if stack.steps and (long := self._long(tool, stack.length)).any():
                fits = ~self.dark[nodes] & (self.room[nodes] >= tool.DC / 2 - FIT_MM)
                doubt = np.flatnonzero(fits & long[strip])
            doubts.append(doubt)
        held = self._held([(tool, nodes[doubt]) for tool, doubt in zip(tools, doubts, strict=True)])
        out: list[Array | None] = []
        for tool, doubt, free in zip(tools, doubts, held, strict=True):
            margin = None
            if not free.all():
                margin = self._room_margin(tool, nodes)
                blocked = doubt[~free]
                margin[blocked] = -np.maximum(margin[blocked], 1e-3)  # half way between a free node and a blocked one
            out.append(margin)
        return out

    def _long(self, tool: Tool, length: float) -> Array:
        """Strips that may be too deep for a cutter of that length: by the part's highest point, then by what stands near."""
        out = self.low + length < self.high
        group = self.shop.group_of(tool) if out.any() else None
        if group is not None and group.largest >= tool.DC / 2 - 1e-9:
            out &= self.need(group) > length
        return out

    def rounded(self, tool: Tool, nodes: Array, level: Array | None = None) -> Array:
        """Whether a ball or bull cutter touches these nodes, or the points at other levels of their strips."""
        s = self.strips
        stack = self.shop.stack(tool)
        asked = s.nodes.some(nodes)
        if level is not None:
            asked = replace(asked, level=level)
        return touches(asked, s.lean[nodes], tool, stack, self.overhang, self.look.material)[0]

    def _balls(self) -> None:
        """Leaning and curved faces that no flat cutter touches whole: the smallest ball cutters that are long enough."""
        s, balls = self.strips, self.shop.balls
        nodes = np.flatnonzero((self.margin < 0) & ~self.dark & self.scene.leaning[s.piece[s.strip]])
        if not len(nodes) or not len(balls.mills):
            return
        best = balls.first_deep(self.need(balls)[s.strip[nodes]])
        for k in np.unique(best[best >= 0]):
            own = nodes[best == k]
            self.margin[own[self.rounded(balls.mills[k], own)]] = 0.0
