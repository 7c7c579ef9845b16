"""A formula for a large search to begin from: a small search near the plain answer.

Of thousands of ingredients that may be chosen, a good formula uses a few that the
question without its choices uses too, or would use next. A search over those is over
in no time. What it finds is where the search over all begins; where it costs no more
than the answer without choices it is the best there is, and nothing is left to search.
"""

from __future__ import annotations

import highspy
import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats, Indices, Mask
from optimiser.domain.rule import Programme
from optimiser.solving.arrays import Arrays
from optimiser.solving.loading import loaded
from optimiser.solving.patience import searched

__all__ = ["MANY", "Dive", "dived"]

# Choices from which on a search begins from a smaller one.
MANY = 400
# How many ingredients that one is over, and how many of each row that counts choices;
# more where nothing fits. How many nodes it may take.
NEAREST = ((300, 30), (1500, 150))
NODES = 100


class Dive(Struct, frozen=True, eq=False):
    """What was found near by, if anything, its value, and what none at all can beat."""

    amounts: Floats | None
    value: float
    bound: float


def dived(programme: Programme, solver: highspy.Highs) -> Dive:
    """Return amounts that keep what a solver holds, and a bound of what it minimises.

    Parameters
    ----------
    programme : Programme
        What the solver holds, with columns of its own after those of the programme.
    solver : highspy.Highs
        It is read, and asked for nothing.
    """
    arrays, costs = _held(solver)
    columns, flags = _chosen_freely(programme, arrays)
    near, bound = _without_choices(arrays, costs)
    order = np.argsort(near[columns], kind="stable")
    columns, flags = columns[order], flags[order]
    for most, counted in NEAREST:
        taken = np.arange(columns.size) < most
        for row in _counts(arrays):
            taken[np.flatnonzero(np.isin(flags, row))[:counted]] = True
        inside = np.ones(arrays.lower.size, dtype=bool)
        inside[columns[~taken]] = inside[flags[~taken]] = False
        found = _searched_over(arrays, costs, inside)
        if found is not None or taken.all():
            break
    return Dive(found, np.inf if found is None else float(costs @ found), bound)


def _chosen_freely(programme: Programme, arrays: Arrays) -> tuple[Indices, Indices]:
    """Return the columns of ingredients that may be out, and those of their choices."""
    places = {key: column for column, key in enumerate(programme.ingredients)}
    pairs = np.array(
        [
            (places[each.key], flag)
            for flag, each in enumerate(programme.columns)
            if each.kind == "used" and each.key in places
        ],
        dtype=np.int64,
    ).reshape(-1, 2)
    free = (arrays.lower[pairs] <= 0.0) & (arrays.upper[pairs] >= 0.0)
    columns, flags = pairs[free.all(axis=1)].T
    return columns, flags


def _without_choices(arrays: Arrays, costs: Floats) -> tuple[Floats, float]:
    """Return how far the answer without choices is from each column, and its value.

    What it uses is nearest of all; the rest costs so much more a unit than it is worth
    there. Without an answer, or where a choice could earn something, nothing bounds.
    """
    chosen = np.zeros(arrays.row_lower.size, dtype=bool)
    chosen[arrays.entry_rows()[arrays.whole[arrays.columns]]] = True
    plain = replace(
        arrays,
        row_lower=np.where(chosen, -np.inf, arrays.row_lower),
        row_upper=np.where(chosen, np.inf, arrays.row_upper),
    )
    amount = ~arrays.whole
    solver = loaded(plain.over(amount)[0], costs[amount])
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return costs, -np.inf
    near, solution = costs.copy(), solver.getSolution()
    near[amount] = np.where(
        np.array(solution.col_value) > 0.0, -np.inf, solution.col_dual
    )
    least = np.where(costs >= 0.0, arrays.lower, arrays.upper)[arrays.whole]
    value = solver.getInfo().objective_function_value + costs[arrays.whole] @ least
    return near, float(value)


def _counts(arrays: Arrays) -> list[Indices]:
    """Return the columns of each row that counts choices."""
    rows = np.split(arrays.columns, arrays.starts[1:-1])
    return [row for row in rows if row.size > 2 and arrays.whole[row].all()]


def _searched_over(arrays: Arrays, costs: Floats, inside: Mask) -> Floats | None:
    """Return what a search over some columns finds, all others at nothing."""
    small, some = arrays.over(inside)
    if np.any((arrays.row_lower > 0.0)[~some] | (arrays.row_upper < 0.0)[~some]):
        return None
    solver = loaded(small, costs[inside])
    searched(solver, NODES)
    status = int(solver.getInfo().primal_solution_status)
    if status != int(highspy.SolutionStatus.kSolutionStatusFeasible):
        return None
    amounts = np.zeros(inside.size)
    amounts[inside] = solver.getSolution().col_value
    return amounts


def _held(solver: highspy.Highs) -> tuple[Arrays, Floats]:
    """Return what a solver holds as it stands, and what its columns cost."""
    solver.ensureRowwise()  # type: ignore[attr-defined]
    model = solver.getLp()
    matrix = model.a_matrix_
    whole = highspy.HighsVarType.kInteger
    return Arrays(
        starts=np.array(matrix.start_, dtype=np.int64),
        columns=np.array(matrix.index_, dtype=np.int64),
        values=np.array(matrix.value_),
        row_lower=np.array(model.row_lower_),
        row_upper=np.array(model.row_upper_),
        lower=np.array(model.col_lower_),
        upper=np.array(model.col_upper_),
        whole=np.array([each == whole for each in model.integrality_]),
    ), np.array(model.col_cost_)
