"""What is said of floors from one direction: the opening of the free region by each cutter, its holder included."""

from __future__ import annotations

import numpy as np

from recognizer.access.cutters import Shop, round_edged
from recognizer.access.floors import Floor
from recognizer.access.holders import CLEAR_MM
from recognizer.access.losses import OPPOSITE
from recognizer.access.measure import FIT_MM, Measures
from recognizer.access.said import Said
from shared.plan import Tool

Array = np.ndarray


class FloorJudge:
    """Judges floors from one direction."""

    def __init__(self, measures: Measures, shop: Shop, cutters: list[Tool]) -> None:
        self.m, self.look, self.shop, self.cutters = measures, measures.look, shop, cutters

    def judged(self, floor: Floor) -> Said:
        """Seen, touched, largest cutter, losses."""
        one = Said(floor.seen_share, 0.0, self.look.floor_fits(floor), 0.0, "floor")
        one.share_out("material_above", np.array(floor.hidden_by), 1 - one.seen)
        one.by = [0.0] * len(self.cutters)
        if one.seen <= 1e-9:
            return one
        needs = self._needs(floor)
        one.depth = min(needs.values(), default=0.0)
        one.by = [self.share(floor, tool) for tool in self.cutters]
        least = self._least(needs)
        if least is None:
            one.touched = max([self.share(floor, t) for t in [*self._longest(), *self.shop.bulls]], default=0.0)
            self._edges(floor, one)
            room = self.look.floor_fits(floor)
            thin = one.depth > self.shop.limits.fail * 2 * min(room, self.shop.largest)
            reason = "too_long_for_its_diameter" if thin else "holder_collides"
            one.lose(reason, -1, one.left)
        else:
            one.touched = max([self.share(floor, least), *one.by])
            self._losses(floor, one, least.DC / 2)
        if one.seen > 1 - self.shop.limits.share:
            self._largest(floor, one, needs)
        return one

    def _needs(self, floor: Floor) -> dict[tuple, float]:
        """Stick-out by group of holders that clears all that stands near the floor."""
        box = np.array(floor.seen.bounds)
        level = np.array([floor.level])
        return {
            g.key: float(self.m.tops.near(box[None, :2], box[None, 2:], level, g.holder + g.largest)[0]) - floor.level
            for g in self.shop.groups
        }

    def _least(self, needs: dict[tuple, float]) -> Tool | None:
        """The smallest mill that is long enough for all of the floor."""
        fit = [
            t for t, length in zip(self.shop.mills, self.shop.length, strict=True)
            if length >= needs[self.shop.key_of(t)] - 1e-6
        ]  # fmt: skip
        return min(fit, key=lambda t: (t.DC, t.LU or 0.0, t.id)) if fit else None

    def _longest(self) -> list[Tool]:
        """Of each group of holders the longest mill, and those half as thick."""
        out = []
        for g in self.shop.groups:
            for size in (g.largest, g.largest / 2, g.largest / 4):
                k = int(g.longest_within(np.array([size + FIT_MM]))[0])
                out += [g.mills[k]] if k >= 0 else []
        return list({t.id: t for t in out}.values())

    def share(self, floor: Floor, tool: Tool) -> float:
        """Share of the floor that a cutter touches, its holder clear of the part."""
        stack = self.shop.stack(tool)
        steps = [
            (r, floor.level + start) for r, start in stack.steps if floor.level + start < self.m.scene.high - CLEAR_MM
        ]
        flat = tool.DC / 2 - (tool.RE if round_edged(tool) else 0.0)
        if flat < tool.DC / 2:
            steps += [
                (flat + float(np.sqrt(tool.RE**2 - (tool.RE - up) ** 2)), floor.level + up)
                for up in tool.RE * np.array([0.04, 0.15, 0.3, 0.5, 0.7, 0.95])
            ]
        if not steps:
            return self.look.floor_share(floor, tool.DC / 2)
        return self.look.floor_share_beside(floor, tool.DC / 2, flat, tuple(steps))

    def _largest(self, floor: Floor, one: Said, needs: dict[tuple, float]) -> None:
        radius = one.fits
        for _ in range(8):
            tool = self.shop.largest_mill(radius + FIT_MM, needs)
            if tool is None:
                return
            if self.share(floor, tool) > 1 - self.shop.limits.share:
                one.largest, one.depth = tool, needs[self.shop.key_of(tool)]
                return
            radius = tool.DC / 2 - 0.01

    def _edges(self, floor: Floor, one: Said) -> None:
        """What mills lose only because their edges are round, where there is no square one."""
        for tool in self.shop.bulls if one.left > 1e-9 else ():
            square = self.share(floor, tool.model_copy(update={"RE": 0.0, "kind": "endmill"}))
            if square > one.touched:
                one.lose("floor_radius_too_small", -1, square - one.touched)
                return

    def _losses(self, floor: Floor, one: Said, least: float) -> None:
        lost = one.left
        if lost <= 1e-9:
            return
        fit, k = self.look.foot_fit, floor.walls
        bad = k[fit.radius[k] < least - FIT_MM]
        gap = fit.across[bad] > OPPOSITE
        total = max(len(bad), 1)
        one.share_out("gap_too_narrow", fit.face[bad[gap]], lost * gap.sum() / total)
        one.share_out("corner_too_tight", fit.face[bad[~gap]], lost * (total - gap.sum()) / total)
