"""The programme in PuLP, for a second solver to hold the first one's values against.

PuLP sees neutral names (``c000012``, ``r3``); columns and rows keep our numbers, so
nothing has to be mapped back.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pulp

from optimiser.domain.arrays import Floats, Indices
from optimiser.domain.rule import Goal, Row
from optimiser.solving.arrays import Arrays

__all__ = ["solve_with_cbc", "to_pulp"]


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


def solve_with_cbc(problem: pulp.LpProblem) -> Floats | None:
    """Return CBC's amounts, or None where it finds no formula.

    CBC writes about eight digits, enough to compare.
    """
    from pulp.apis import coin_api  # noqa: PLC0415 - only when CBC is asked for

    # PuLP 3 carries CBC in its wheel; PuLP 4 takes the one on the path.
    path = getattr(coin_api, "pulp_cbc_path", None)
    status = problem.solve(pulp.COIN_CMD(path=path, msg=False))
    if pulp.LpStatus[status] != "Optimal":
        return None
    values = [variable.varValue for variable in problem.variables()]
    return np.array([0.0 if value is None else value for value in values])
