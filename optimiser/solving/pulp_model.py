"""The programme in PuLP, and the two solvers it may go to.

PuLP sees neutral names (``c000012``, ``r3``); columns and rows keep our numbers,
so nothing has to be mapped back. The HiGHS object that PuLP leaves behind is what
:mod:`optimiser.solving.session` re-solves in place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import highspy
import numpy as np
import pulp

from optimiser.domain.arrays import Floats, Indices
from optimiser.domain.rule import Goal, Row
from optimiser.solving.arrays import Arrays
from optimiser.solving.patience import searched

__all__ = ["QuietHiGHS", "solve_with_cbc", "solve_with_highs", "to_pulp"]

TIGHT = {
    "primal_feasibility_tolerance": 1e-9,
    "dual_feasibility_tolerance": 1e-9,
    "mip_feasibility_tolerance": 1e-9,
    "mip_rel_gap": 1e-9,
    "mip_abs_gap": 1e-9,
}


class QuietHiGHS(pulp.HiGHS):  # type: ignore[misc]
    """PuLP's HiGHS without its banner, filled from arrays in one call.

    ``highspy.Highs.__init__`` logs to file descriptor 1 before anything can turn it
    off, so only its C++ part is made here (see decision 2). A search begins from
    ``near``, where one number a column is given that keeps every row.
    """

    near: Floats | None = None

    def createAndConfigureSolver(self, lp: pulp.LpProblem) -> None:  # noqa: N802 - PuLP's name
        """Make a silent HiGHS object."""
        solver = highspy.Highs.__new__(highspy.Highs)
        super(highspy.Highs, solver).__init__()
        solver.setOptionValue("output_flag", False)
        solver.callbacks = []
        solver.setOptionValue("threads", 1)
        for key, value in TIGHT.items():
            solver.setOptionValue(key, value)
        if lp.isMIP():
            # What it simplifies before a search has lost the best choice and called
            # another the best; searches of this size hardly gain by it.
            solver.setOptionValue("presolve", "off")
        lp.solverModel = solver

    def callSolver(self, lp: pulp.LpProblem) -> None:  # noqa: N802 - PuLP's name
        """Run, in the time that is left where whole numbers are searched for."""
        if lp.isMIP():
            searched(lp.solverModel)
        else:
            lp.solverModel.run()

    def buildSolverModel(self, lp: pulp.LpProblem) -> None:  # noqa: N802 - PuLP's name
        """Hand the whole model over at once instead of row by row."""
        variables = lp.variables()
        for number, variable in enumerate(variables):
            variable.index = number
        starts, columns, values, lower, upper = [0], [], [], [], []
        for number, row in enumerate(lp._constraints.values()):
            row.index = number
            columns.extend([variable.index for variable in row])
            values.extend(row.values())
            starts.append(len(columns))
            low, high = row.getLb(), row.getUb()
            lower.append(-math.inf if low is None else low)
            upper.append(math.inf if high is None else high)
        model = highspy.HighsLp()
        model.num_col_, model.num_row_ = len(variables), len(lower)
        model.col_cost_ = np.array([lp.objective.get(v, 0.0) for v in variables])
        model.col_lower_ = np.array([_or(v.lowBound, -math.inf) for v in variables])
        model.col_upper_ = np.array([_or(v.upBound, math.inf) for v in variables])
        model.row_lower_, model.row_upper_ = np.array(lower), np.array(upper)
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.num_col_, model.a_matrix_.num_row_ = len(variables), len(lower)
        model.a_matrix_.start_ = np.array(starts)
        model.a_matrix_.index_ = np.array(columns, dtype=np.int32)
        model.a_matrix_.value_ = np.array(values, dtype=np.float64)
        if any(variable.cat == pulp.LpInteger for variable in variables):
            kinds = highspy.HighsVarType
            model.integrality_ = [
                kinds.kInteger if v.cat == pulp.LpInteger else kinds.kContinuous
                for v in variables
            ]
        lp.solverModel.passModel(model)
        if self.near is not None:
            start = highspy.HighsSolution()
            start.col_value = self.near.tolist()
            lp.solverModel.setSolution(start)


def _or(bound: float | None, otherwise: float) -> float:
    return otherwise if bound is None else bound


def to_pulp(
    arrays: Arrays, goal: Goal, holds: Sequence[tuple[Row, float]] = ()
) -> pulp.LpProblem:
    """Return the programme as a PuLP problem that minimises one goal.

    Parameters
    ----------
    holds : sequence of (row, top)
        Earlier goals, each to stay at or below its top.
    """
    problem = pulp.LpProblem("formula", pulp.LpMinimize)
    columns = [
        problem.add_variable(
            f"c{number:07d}",
            None if math.isinf(low) else float(low),
            None if math.isinf(high) else float(high),
            pulp.LpInteger if whole else pulp.LpContinuous,
        )
        for number, (low, high, whole) in enumerate(
            zip(arrays.lower, arrays.upper, arrays.whole, strict=True)
        )
    ]
    # PuLP gives an empty aim a column of its own, first in line; a zero keeps it out.
    aim = pulp.LpAffineExpression({columns[0]: 0.0})
    aim.update(_expression(columns, goal.row.columns, goal.row.coefficients))
    problem.setObjective(aim)
    for number in range(arrays.row_lower.size):
        here = slice(arrays.starts[number], arrays.starts[number + 1])
        entries = _expression(columns, arrays.columns[here], arrays.values[here])
        low, high = arrays.row_lower[number], arrays.row_upper[number]
        problem.addConstraint(_row(entries, low, high), f"r{number}")
    for number, (row, top) in enumerate(holds):
        entries = _expression(columns, row.columns, row.coefficients)
        problem.addConstraint(_row(entries, -math.inf, top), f"h{number}")
    return problem


def _expression(
    columns: list[pulp.LpVariable], where: Indices, values: Floats
) -> pulp.LpAffineExpression:
    return pulp.LpAffineExpression(
        {columns[c]: v for c, v in zip(where.tolist(), values.tolist(), strict=True)}
    )


def _row(
    entries: pulp.LpAffineExpression, low: float, high: float
) -> pulp.LpConstraint:
    if low == high:
        return pulp.LpConstraint(entries, pulp.LpConstraintEQ, rhs=float(low))
    if math.isinf(high):
        return pulp.LpConstraint(entries, pulp.LpConstraintGE, rhs=float(low))
    return pulp.LpConstraint(entries, pulp.LpConstraintLE, rhs=float(high))


def solve_with_highs(
    problem: pulp.LpProblem, near: Floats | None = None
) -> highspy.Highs:
    """Solve, and return the HiGHS object for what comes after."""
    quiet = QuietHiGHS(msg=False)
    quiet.near = near
    try:
        problem.solve(quiet)
    except KeyError as error:  # PuLP knows no such end
        if error.args[:1] == (highspy.HighsModelStatus.kMemoryLimit,):
            raise MemoryError from error
        raise
    solver: highspy.Highs = problem.solverModel
    return solver


def solve_with_cbc(problem: pulp.LpProblem) -> Floats | None:
    """Return CBC's amounts, or None where it finds no formula.

    CBC writes about eight digits; its answer is polished by the session.
    """
    from pulp.apis import coin_api  # noqa: PLC0415 - only when CBC is asked for

    # PuLP 3 carries CBC in its wheel; PuLP 4 takes the one on the path.
    path = getattr(coin_api, "pulp_cbc_path", None)
    status = problem.solve(pulp.COIN_CMD(path=path, msg=False))
    if pulp.LpStatus[status] != "Optimal":
        return None
    return np.array([_or(variable.varValue, 0.0) for variable in problem.variables()])
