"""A HiGHS object that solves, and says plainly what came of it."""

from __future__ import annotations

from collections.abc import Iterator

import highspy
import numpy as np
from numpy.typing import NDArray

from optimiser.errors import OptimiserError
from optimiser.solving.arrays import Floats

__all__ = ["Running", "SolverError"]


# Other ways to ask where a solver loses its way; the first only begins anew.
OTHERWISE = (
    ("presolve", "choose"),
    ("presolve", "off"),
    ("simplex_scale_strategy", 0),
    ("solver", "ipm"),
)


class SolverError(OptimiserError):
    """The solver stopped without an answer, or said something unexpected."""


class Running:
    """Solving and its outcomes, apart from what the columns and rows mean."""

    def __init__(self, solver: highspy.Highs) -> None:
        self._solver = solver

    def run(self) -> bool:
        """Solve as it stands; return whether a formula exists.

        Raises
        ------
        SolverError
            If the solver stops for any other reason.
        """
        kinds = highspy.HighsModelStatus
        status = self._run_once()
        for option, value in OTHERWISE:
            if status in {kinds.kOptimal, kinds.kInfeasible}:
                break
            self._solver.clearSolver()  # it lost its way from the last corner
            _, usual = self._solver.getOptionValue(option)
            self._solver.setOptionValue(option, value)
            status = self._run_once()
            self._solver.setOptionValue(option, usual)
        if status == kinds.kOptimal:
            return True
        if status == kinds.kInfeasible:
            return False
        raise SolverError(f"the solver stopped with '{status}'")

    def start_afresh(self) -> None:
        """Forget the last corner: the next solve starts cold."""
        self._solver.clearSolver()

    def _run_once(self) -> highspy.HighsModelStatus:
        self._solver.run()
        return self._solver.getModelStatus()

    def solved(self) -> bool:
        """Return whether the first solve, done by PuLP, found a formula."""
        status = self._solver.getModelStatus()
        kinds = highspy.HighsModelStatus
        if status == kinds.kOptimal:
            return True
        return False if status == kinds.kInfeasible else self.run()

    def objective(self) -> float:
        """Return the current goal's value at the last solve."""
        return float(self._solver.getInfo().objective_function_value)

    def search_bound(self) -> float:
        """Return the value that no formula can beat, as the search proved it."""
        return float(self._solver.getInfo().mip_dual_bound)

    def conflicting_rows(self) -> set[int] | None:
        """Return rows of a small clash as the solver finds it; None if it cannot.

        Strategy 4 asks for an irreducible set; only status 3 says that it is one,
        and a caller proves minimality in rules by itself all the same.
        """
        self._solver.setOptionValue("iis_strategy", 4)
        _, found = self._solver.getIis()
        if int(found.status_) != 3:
            return None
        return {int(row) for row in found.row_index_}

    def prices_are_unique(self) -> bool:
        """Whether the corner has one set of prices, so that both sides are alike.

        It has when everything basic lies strictly inside its bounds (no degeneracy).
        """
        for basic, values, lower, upper in self._sides("value"):
            inside = values[basic]
            room = 1e-7 * np.maximum(1.0, np.abs(inside))
            if np.any(inside - lower[basic] <= room):
                return False
            if np.any(upper[basic] - inside <= room):
                return False
        return True

    def answer_is_unique(self) -> bool:
        """Whether every way to leave the corner costs something.

        It does when everything that is not basic, and could move, has a price.
        """
        for basic, prices, lower, upper in self._sides("dual"):
            if np.any(np.abs(prices)[~basic & (lower < upper)] <= 1e-9):
                return False
        return True

    def _sides(
        self, what: str
    ) -> Iterator[tuple[NDArray[np.bool_], Floats, Floats, Floats]]:
        """Yield which are basic, their values or prices, and bounds: columns, rows."""
        basis, solution = self._solver.getBasis(), self._solver.getSolution()
        model = self._solver.getLp()
        for kind, status in (("col", basis.col_status), ("row", basis.row_status)):
            yield (
                np.array([each == highspy.HighsBasisStatus.kBasic for each in status]),
                np.array(getattr(solution, f"{kind}_{what}")),
                np.array(getattr(model, f"{kind}_lower_")),
                np.array(getattr(model, f"{kind}_upper_")),
            )
