"""The unknowns of the setup model: which direction and mode each slot has, and what is cut in it from where."""

from __future__ import annotations

from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from planner.setups.data import Cuts, SetupProblem

Bool = cp_model.IntVar


@dataclass
class Variables:
    """Boolean unknowns for `slots` setups in order.

    `direction[k, d]`: slot k is cut from d. `mode[k, m]`: it is held so. `cut[u, k, d]`: unit u is cut in slot k from d, `cuts_in[u, k]`: all of these.
    `same[k]`: the clamping of slot k - 1 goes on in slot k. `any_cut[cuts, k]`: one of the cuts is made in slot k, `any_by[cuts, k]`: in slot k or before; rules that speak of the
    same cuts share them, which keeps the model small.
    """

    model: cp_model.CpModel
    problem: SetupProblem
    slots: int
    direction: dict[tuple[int, int], Bool] = field(default_factory=dict)
    mode: dict[tuple[int, int], Bool] = field(default_factory=dict)
    cut: dict[tuple[str, int, int], Bool] = field(default_factory=dict)
    cuts_in: dict[tuple[str, int], list[Bool]] = field(default_factory=dict)
    same: dict[int, Bool] = field(default_factory=dict)
    any_cut: dict[tuple[Cuts, int], Bool | None] = field(default_factory=dict)
    any_by: dict[tuple[Cuts, int], Bool | None] = field(default_factory=dict)

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
                self.cuts_in[unit.id, k] = [self.cut[unit.id, k, d] for d in unit.directions]
            if k:
                self.same[k] = new(f"slot {k} in the clamping before")

    def in_slot(self, unit: str, k: int) -> cp_model.LinearExprT:
        """1 when the unit is cut in slot k."""
        return sum(self.cuts_in[unit, k])

    def by_slot(self, unit: str, k: int) -> cp_model.LinearExprT:
        """1 when the unit is cut in slot k or before."""
        return sum(cut for j in range(k + 1) for cut in self.cuts_in[unit, j])

    def cuts_of(self, side: str) -> Cuts:
        """All cuts that take something off the side."""
        return self.problem.cuts_of(side)

    def one_of(self, cuts: Cuts, k: int) -> Bool | None:
        """An unknown that is true wherever one of the cuts is made in slot k; None where there are none."""
        if (cuts, k) not in self.any_cut:
            self.any_cut[cuts, k] = self._either([self.cut[name, k, d] for name, d in cuts])
        return self.any_cut[cuts, k]

    def one_by(self, cuts: Cuts, k: int) -> Bool | None:
        """An unknown that is true wherever one of the cuts is made in slot k or before; None where there are none."""
        if (cuts, k) not in self.any_by:
            before = self.one_by(cuts, k - 1) if k else None
            self.any_by[cuts, k] = self._either([v for v in (before, self.one_of(cuts, k)) if v is not None])
        return self.any_by[cuts, k]

    def _either(self, unknowns: list[Bool]) -> Bool | None:
        if len(unknowns) < 2:
            return unknowns[0] if unknowns else None
        out = self.model.new_bool_var("")
        for unknown in unknowns:
            self.model.add_implication(unknown, out)
        return out

    def never(self, held: Bool, cut: Bool | None) -> None:
        """Not both; nothing to forbid where `cut` is None."""
        if cut is not None:
            self.model.add_implication(held, cut.negated())
