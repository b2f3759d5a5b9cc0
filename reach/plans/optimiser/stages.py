"""A mixed-integer model solved stage after stage: each stage's best is kept while the next is sought.

Built on HiGHS (MIT licence). One thread, fixed seed, variables in the
caller's order: the same model gives the same answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray

from reach.plans.optimiser.time_budget import TimeBudget

_SHARE_PAST_LIMIT = 0.02
TIE_BREAK = "call signs"  # how the name of such a stage begins
_TOLERANCE = 1e-6  # of integer feasibility and of a kept objective


@dataclass(frozen=True)
class StageProof:
    """What one stage found. gap : distance of `value` to the best still possible; 0 when proven optimal."""

    name: str
    value: float
    gap: float

    @property
    def proven(self) -> bool:
        """Whether nothing better exists."""
        return self.gap <= 10 * _TOLERANCE

    @property
    def is_tie_break(self) -> bool:
        """Whether it only decides between plans equal in everything else."""
        return self.name.startswith(TIE_BREAK)

    @property
    def words(self) -> str:
        """'fewest relays 3: proven' or the gap left open."""
        state = "proven" if self.proven else f"not proven, at most {self.gap:.3g} from the best"
        return f"{self.name} {self.value:.4g}: {state}"


class Infeasible(Exception):
    """No assignment of the variables meets every row."""


class _QuietHighs(highspy.Highs):  # type: ignore[misc]
    """The solver greets on standard output when callbacks are set up, unless it is silenced first."""

    def enableCallbacks(self) -> None:
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()


class StagedModel:
    """Variables between 0 and an upper bound, rows, and objectives taken one after the other."""

    def __init__(
        self, *, time_limit_s: float, budget: TimeBudget | None = None, stage_share: float = 1.0
    ) -> None:
        """time_limit_s : for all stages together; one that finds it used up still gets a fiftieth.

        budget : told what every run of the solver took. stage_share : most of the time left that one run may
        take, 0 to 1, so that a hard stage does not starve those after it.
        """
        self._stage_share = stage_share
        self._budget = budget
        self._upper: list[float] = []
        self._integer: list[bool] = []
        self._rows: list[tuple[float, float, Sequence[int], Sequence[float]]] = []
        self._time_limit_s = time_limit_s
        self._solver: highspy.Highs | None = None
        self.proofs: list[StageProof] = []
        self.values: NDArray[np.float64] = np.zeros(0)
        self._bound_of_run = -np.inf  # what no assignment can go below, by the last run of the solver

    def add_binary(self) -> int:
        """A variable that is 0 or 1; returns its number."""
        self._upper.append(1.0)
        self._integer.append(True)
        return len(self._upper) - 1

    def add_share(self, upper: float = 1.0) -> int:
        """A continuous variable from 0 to `upper`; returns its number."""
        self._upper.append(upper)
        self._integer.append(False)
        return len(self._upper) - 1

    def add_late_share(self, *, upper: float, now: float) -> int:
        """A continuous variable added after a stage, with its value so far; returns its number."""
        solver = self._running()
        solver.addVar(0.0, upper)
        self.values = np.append(self.values, now)
        return self.add_share(upper)

    def make_integer(self, columns: Sequence[int]) -> None:
        """From now on these variables are whole."""
        solver = self._running()
        for column in columns:
            self._integer[column] = True
        solver.changeColsIntegrality(
            len(columns),
            np.sort(np.array(columns, dtype=np.int32)),
            np.array([highspy.HighsVarType.kInteger] * len(columns)),
        )

    def add_row(
        self,
        columns: Sequence[int],
        values: Sequence[float],
        *,
        lower: float = -np.inf,
        upper: float = np.inf,
    ) -> None:
        """lower <= sum(values * columns) <= upper. A column stands once in a row."""
        if self._solver is None:
            self._rows.append((lower, upper, columns, values))
        else:
            self._solver.addRow(
                lower,
                upper,
                len(columns),
                np.array(columns, dtype=np.int32),
                np.array(values, dtype=np.float64),
            )

    def bounds_off(self, columns: Sequence[int]) -> None:
        """Hold these variables at zero from now on."""
        self._bound(columns, [0.0] * len(columns))

    def bounds_on(self, columns: Sequence[int]) -> None:
        """Let these variables take their range again."""
        self._bound(columns, [self._upper[column] for column in columns])

    def _bound(self, columns: Sequence[int], upper: Sequence[float]) -> None:
        ascending = np.argsort(columns, kind="stable")  # the solver takes a set in ascending order
        self._running().changeColsBounds(
            len(columns),
            np.array(columns, dtype=np.int32)[ascending],
            np.zeros(len(columns)),
            np.array(upper, dtype=np.float64)[ascending],
        )

    def minimise(
        self, name: str, columns: Sequence[int], costs: Sequence[float], *,
        slack: float = 0.0, at_best: float = -np.inf,
    ) -> StageProof:  # fmt: skip
        """Smallest sum(costs * columns); later stages may be worse by `slack` at most. Raises Infeasible.

        at_best : what no assignment can go below, where known; it bounds the gap when time runs out.
        """
        return self._stage(name, columns, costs, sign=1.0, slack=slack, floor=at_best)

    def maximise(
        self, name: str, columns: Sequence[int], gains: Sequence[float], *,
        slack: float = 0.0, at_best: float = np.inf,
    ) -> StageProof:  # fmt: skip
        """Largest sum(gains * columns); later stages may be worse by `slack` at most. Raises Infeasible.

        at_best : what no assignment can exceed, where known; it bounds the gap when time runs out.
        """
        return self._stage(name, columns, gains, sign=-1.0, slack=slack, floor=-at_best)

    @property
    def time_left(self) -> bool:
        """Whether the time for all stages is not yet used up."""
        return bool(self._running().getRunTime() < self._time_limit_s)

    def start_from(self, ones: Sequence[int]) -> None:
        """Offer a known assignment, these variables 1 and all others 0, for the first stage to improve on."""
        self.values = np.zeros(len(self._upper))
        self.values[list(ones)] = 1.0

    def feasible(self) -> bool:
        """Whether any assignment meets every row as they stand; keeps it in `values` when one does."""
        solver = self._running()
        return self._run(solver, self._set_costs([], []), None)

    def _stage(
        self, name: str, columns: Sequence[int], costs: Sequence[float], *,
        sign: float, slack: float, floor: float,
    ) -> StageProof:  # fmt: skip
        solver = self._running()
        signed = [sign * cost for cost in costs]
        dense = self._set_costs(columns, signed)
        if not self._run(solver, dense, self.values if len(self.values) else None):
            raise Infeasible(name)
        value = float(np.dot(self.values[list(columns)], signed)) if len(columns) else 0.0
        bound = max(self._bound_of_run, floor)
        gap = max(value - bound, 0.0) if np.isfinite(bound) else abs(value)
        proof = StageProof(name=name, value=sign * value + 0.0, gap=0.0 if gap <= 10 * _TOLERANCE else gap)
        self.proofs.append(proof)
        if len(columns):
            self.add_row(columns, signed, upper=value + slack + _TOLERANCE)
        return proof

    def _set_costs(self, columns: Sequence[int], costs: Sequence[float]) -> NDArray[np.float64]:
        dense = np.zeros(len(self._upper))
        dense[list(columns)] = costs
        self._running().changeColsCost(len(dense), np.arange(len(dense), dtype=np.int32), dense)
        return dense

    def _run(
        self, solver: highspy.Highs, costs: NDArray[np.float64], start: NDArray[np.float64] | None
    ) -> bool:
        """Solve; keeps a solution in `values` and returns True when there is one.

        The presolve of HiGHS 1.16 has handed a start back unchanged, as optimal, when it had solved the model
        alone, and has made solutions that break rows: one without the objective that is reported with it is
        sought again from nothing, then without presolve. The start stands, unproven, where neither helps.
        """
        ways: list[tuple[NDArray[np.float64] | None, str]] = [(None, "choose"), (None, "off")]
        for offered, presolve in ways if start is None else [(start, "choose"), *ways]:
            self._solve(solver, offered, presolve)
            objective = float(solver.getInfo().objective_function_value)
            self._bound_of_run = float(solver.getInfo().mip_dual_bound)
            found = np.array(solver.getSolution().col_value, dtype=np.float64)
            if len(found) != len(self._upper) or not np.isfinite(objective):
                if start is None:
                    return False
                self.values = start  # known to fit: there was no time to look at it, or rounding hid it
                return True
            integer = np.array(self._integer)
            found[integer] = np.round(found[integer])
            if abs(float(costs @ found) - objective) <= 1e-4 * max(1.0, abs(objective)):
                self.values = found
                return True
        if start is None:
            raise RuntimeError("the optimiser's solution does not have the objective it reports")
        self.values, self._bound_of_run = start, -np.inf
        return True

    def _solve(self, solver: highspy.Highs, start: NDArray[np.float64] | None, presolve: str) -> None:
        """One run within the time left. presolve : 'choose' or 'off', as the solver calls it."""
        left_s = self._time_limit_s - solver.getRunTime()  # that adds up over runs, the limit is one run's
        limit_s = max(left_s * self._stage_share, self._time_limit_s * _SHARE_PAST_LIMIT)
        solver.setOptionValue("time_limit", limit_s)
        solver.setOptionValue("presolve", presolve)
        solver.clearSolver()
        if start is not None:
            solution = highspy.HighsSolution()
            solution.col_value = list(start)
            solver.setSolution(solution)
        before_s = solver.getRunTime()
        solver.run()
        if self._budget is not None:
            self._budget.spend(solver.getRunTime() - before_s)

    def _running(self) -> highspy.Highs:
        if self._solver is None:
            self._solver = self._build()
        return self._solver

    def _build(self) -> highspy.Highs:
        solver = _QuietHighs()
        solver.setOptionValue("threads", 1)
        solver.setOptionValue("random_seed", 0)
        solver.setOptionValue("mip_rel_gap", 0.0)
        solver.setOptionValue("mip_abs_gap", _TOLERANCE)
        solver.setOptionValue("mip_feasibility_tolerance", _TOLERANCE / 10)
        model = highspy.HighsLp()
        count = len(self._upper)
        model.num_col_ = count
        model.num_row_ = len(self._rows)
        model.col_cost_ = np.zeros(count)
        model.col_lower_ = np.zeros(count)
        model.col_upper_ = np.array(self._upper)
        model.row_lower_ = np.array([row[0] for row in self._rows])
        model.row_upper_ = np.array([row[1] for row in self._rows])
        lengths = [len(row[2]) for row in self._rows]
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.start_ = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32)
        model.a_matrix_.index_ = np.array([c for row in self._rows for c in row[2]], dtype=np.int32)
        model.a_matrix_.value_ = np.array([v for row in self._rows for v in row[3]], dtype=np.float64)
        if any(self._integer):
            model.integrality_ = [
                highspy.HighsVarType.kInteger if whole else highspy.HighsVarType.kContinuous
                for whole in self._integer
            ]
        solver.passModel(model)
        return solver
