"""What is said of floors from the directions of a look: the opening of the free region by each cutter, its holder included."""

from __future__ import annotations

import numpy as np
import shapely

from recognizer.access.cutters import Shop, round_edged
from recognizer.access.floors import Floor, touched_region, touched_shares
from recognizer.access.holders import CLEAR_MM
from recognizer.access.losses import OPPOSITE, bores_of
from recognizer.access.measure import FIT_MM, Measures
from recognizer.access.said import Said
from shared.plan import Tool

Array = np.ndarray


class FloorJudge:
    """Judges floors of all tiles."""

    def __init__(self, measures: Measures, shop: Shop, cutters: list[Tool]) -> None:
        self.m, self.look, self.shop, self.cutters = measures, measures.look, shop, cutters
        self._bores = bores_of(measures.scene)

    def all(self, floors: list[Floor]) -> list[Said]:
        """Seen, touched, largest cutter, losses of each floor."""
        needs = self._needs(floors)
        self.look.beside.sizes = sorted({t.DC / 2 for t in [*self.cutters, *self.shop.mills]})
        self._together(floors, needs)
        return [self.judged(floor, need) for floor, need in zip(floors, needs, strict=True)]

    def _together(self, floors: list[Floor], needs: list[dict[tuple, float]]) -> None:
        """Asks for outlines where they are needed, all at once."""
        asked: dict[tuple[int, float], tuple[Floor, float]] = {}
        for floor, need in zip(floors, needs, strict=True):
            if floor.seen_share <= 1e-9:
                continue
            least = self._least(need)
            for tool in [*self.cutters, *([least] if least else [])]:
                radius = tool.DC / 2
                if self._plain(tool, need) and self.look.beside.share(floor, radius) is None:
                    asked[(floor.face, round(radius, 6))] = (floor, radius)
        if asked:
            touched_shares(list(asked.values()), self.look.material)

    def _plain(self, tool: Tool, needs: dict[tuple, float]) -> bool:
        """Whether a cutter's edge is square and its holder clear of all that stands near."""
        key = self.shop.key_of(tool)
        most = self.shop.widest.get(key, 0.0)
        return not round_edged(tool) and most + 1e-9 >= tool.DC / 2 and needs[key] <= self.shop.length_of(tool)

    def judged(self, floor: Floor, needs: dict[tuple, float]) -> Said:
        """Seen, touched, largest cutter, losses."""
        one = Said(floor.seen_share, 0.0, self.look.beside.fits[floor.face], 0.0, "floor")
        one.share_out("material_above", np.array(floor.hidden_by), 1 - one.seen)
        one.by = [0.0] * len(self.cutters)
        if one.seen <= 1e-9:
            return one
        one.depth = min(needs.values(), default=0.0)
        one.by = [self.share(floor, tool, needs) for tool in self.cutters]
        least = self._least(needs)
        if least is None:
            one.touched = max([self.share(floor, t, needs) for t in [*self._longest(), *self.shop.bulls]], default=0.0)
            self._edges(floor, one, needs)
            thin = one.depth > self.shop.limits.fail * 2 * min(one.fits, self.shop.largest)
            reason = "too_long_for_its_diameter" if thin else "holder_collides"
            one.lose(reason, -1, one.left)
        else:
            one.touched = max([self.share(floor, least, needs), *one.by])
            self._losses(floor, one, least.DC / 2)
        if one.seen > 1 - self.shop.limits.share:
            self._largest(floor, one, needs)
        return one

    def _needs(self, floors: list[Floor]) -> list[dict[tuple, float]]:
        """Stick-out by group of holders that clears all that stands near each floor."""
        if not floors:
            return []
        box = shapely.bounds(np.array([f.seen for f in floors], object))
        level = np.array([f.level for f in floors])
        box = np.where(np.isnan(box), 0.0, box)  # what is hidden as a whole
        rows = [
            (self.m.tops.near(box[:, :2], box[:, 2:], level, g.holder + g.largest) - level).tolist()
            for g in self.shop.groups
        ]
        keys = [g.key for g in self.shop.groups]
        return [dict(zip(keys, column, strict=True)) for column in zip(*rows, strict=True)] or [{} for _ in floors]

    def _least(self, needs: dict[tuple, float]) -> Tool | None:
        """The smallest mill that is long enough for all of the floor."""
        return self.shop.smallest_mill(needs)

    def _longest(self) -> list[Tool]:
        """Of each group of holders the longest mill, and those half as thick."""
        out = []
        for g in self.shop.groups:
            for size in (g.largest, g.largest / 2, g.largest / 4):
                k = int(g.longest_within(np.array([size + FIT_MM]))[0])
                out += [g.mills[k]] if k >= 0 else []
        return list({t.id: t for t in out}.values())

    def share(self, floor: Floor, tool: Tool, needs: dict[tuple, float]) -> float:
        """Share of the floor that a cutter touches, its holder clear of the part."""
        radius = tool.DC / 2
        if self._plain(tool, needs):
            return self._by_shape(floor, radius)
        stack = self.shop.stack(tool)
        high = float(self.m.scene.high[self.m.scene.tile(floor.face)])
        steps = [(r, floor.level + start) for r, start in stack.steps if floor.level + start < high - CLEAR_MM]
        flat = tool.DC / 2 - (tool.RE if round_edged(tool) else 0.0)
        if flat < tool.DC / 2:
            steps += [
                (flat + float(np.sqrt(tool.RE**2 - (tool.RE - up) ** 2)), floor.level + up)
                for up in tool.RE * np.array([0.04, 0.15, 0.3, 0.5, 0.7, 0.95])
            ]
        if not steps:
            return self._by_shape(floor, radius)
        key = (round(radius, 6), round(flat, 6), tuple(steps))
        if key not in floor.shares:
            region = touched_region(floor, self.look.material, radius, flat, tuple(steps))
            floor.shares[key] = region.area / floor.area
        return floor.shares[key]

    def _by_shape(self, floor: Floor, radius: float) -> float:
        """Share of a floor that a flat cutter touches, whatever its holder."""
        told = self.look.beside.share(floor, radius)
        if told is not None:
            return told
        if round(radius, 6) not in floor.shares:
            touched_shares([(floor, radius)], self.look.material)
        return floor.shares[round(radius, 6)]

    def _largest(self, floor: Floor, one: Said, needs: dict[tuple, float]) -> None:
        radius = one.fits
        for _ in range(8):
            tool = self.shop.largest_mill(radius + FIT_MM, needs)
            if tool is None:
                return
            if self.share(floor, tool, needs) > 1 - self.shop.limits.share:
                one.largest, one.depth = tool, needs[self.shop.key_of(tool)]
                return
            radius = tool.DC / 2 - 0.01

    def _edges(self, floor: Floor, one: Said, needs: dict[tuple, float]) -> None:
        """What mills lose only because their edges are round, where there is no square one."""
        for tool in self.shop.bulls if one.left > 1e-9 else ():
            square = self.share(floor, tool.model_copy(update={"RE": 0.0, "kind": "endmill"}), needs)
            if square > one.touched:
                one.lose("floor_radius_too_small", -1, square - one.touched)
                return

    def _losses(self, floor: Floor, one: Said, least: float) -> None:
        lost = one.left
        if lost <= 1e-9:
            return
        fit, k = self.look.foot_fit, floor.walls
        bad = k[fit.radius[k] < least - FIT_MM]
        # At the bottom of a bore its own wall is on all sides.
        gap = (fit.across[bad] > OPPOSITE) | self._bores[fit.face[bad] % self.m.scene.part_faces]
        total = max(len(bad), 1)
        one.share_out("gap_too_narrow", fit.face[bad[gap]], lost * gap.sum() / total)
        one.share_out("corner_too_tight", fit.face[bad[~gap]], lost * (total - gap.sum()) / total)
