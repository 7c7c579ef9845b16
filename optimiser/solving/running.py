"""A HiGHS object that solves, and says plainly what came of it."""

from __future__ import annotations

import highspy

from optimiser.errors import OptimiserError

__all__ = ["Running", "SolverError"]


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
        if status == kinds.kUnknown:  # lost its way from the last corner
            self._solver.clearSolver()
            status = self._run_once()
        if status == kinds.kUnboundedOrInfeasible:
            self._solver.setOptionValue("presolve", "off")
            status = self._run_once()
            self._solver.setOptionValue("presolve", "choose")
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
