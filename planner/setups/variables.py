"""The unknowns of the setup model: which direction and mode each slot has, and what is cut in it from where."""

from __future__ import annotations

from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from planner.setups.data import SetupProblem

Bool = cp_model.IntVar


@dataclass
class Variables:
    """Boolean unknowns for `slots` setups in order.

    `direction[k, d]`: slot k is cut from d. `mode[k, m]`: it is held so. `cut[u, k, d]`: unit u is cut in slot k from d.
    `same[k]`: the clamping of slot k - 1 goes on in slot k. `lifted[m, k]`: the raw layer below mode m is there in slot k.
    """

    model: cp_model.CpModel
    problem: SetupProblem
    slots: int
    direction: dict[tuple[int, int], Bool] = field(default_factory=dict)
    mode: dict[tuple[int, int], Bool] = field(default_factory=dict)
    cut: dict[tuple[str, int, int], Bool] = field(default_factory=dict)
    same: dict[int, Bool] = field(default_factory=dict)
    lifted: dict[tuple[int, int], Bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        new, problem = self.model.new_bool_var, self.problem
        for k in range(self.slots):
            for d in range(len(problem.directions)):
                self.direction[k, d] = new(f"slot {k} from {problem.directions[d]}")
            for m, mode in enumerate(problem.modes):
                self.mode[k, m] = new(f"slot {k} held by {mode.id}")
            for unit in problem.units:
                for d in unit.directions:
                    self.cut[unit.id, k, d] = new(f"{unit.id} in slot {k} from {problem.directions[d]}")
            if k:
                self.same[k] = new(f"slot {k} in the clamping before")

    def in_slot(self, unit: str, k: int) -> cp_model.LinearExprT:
        """1 when the unit is cut in slot k."""
        directions = next(u.directions for u in self.problem.units if u.id == unit)
        return sum(self.cut[unit, k, d] for d in directions)

    def by_slot(self, unit: str, k: int) -> cp_model.LinearExprT:
        """1 when the unit is cut in slot k or before."""
        return sum(self.in_slot(unit, j) for j in range(k + 1))

    def cutters(self, side: str, k: int) -> list[Bool]:
        """The unknowns that, when true, cut the side in slot k."""
        return [
            self.cut[unit.id, k, d]
            for unit in self.problem.units
            for d in unit.directions
            if side in unit.cuts.get(d, frozenset())
        ]
