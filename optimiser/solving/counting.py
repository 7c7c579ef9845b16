"""A question in counts alone: what whole numbers tell of an amount is no column more.

An amount in steps is its count times the step. A search over both branches on the one
and rounds the other; over the counts it has half the columns, and a smaller tree.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats, Indices
from optimiser.domain.rule import Goal, Programme, Row
from optimiser.solving.arrays import Arrays, dense

__all__ = ["InCounts", "counted"]


class InCounts(Struct, frozen=True, eq=False):
    """A programme without the amounts that its counts tell; its rules are as they were.

    Attributes
    ----------
    arrays : Arrays
        Of the columns that are left. Where a row told an amount, it keeps its bounds.
    left : int array
        Which columns of the whole question these are.
    told : float array, shape (columns of the whole question, columns left)
        What each column comes to, as a sum over those left.
    """

    programme: Programme
    arrays: Arrays
    left: Indices
    told: Floats


def counted(programme: Programme, arrays: Arrays) -> InCounts | None:
    """Return a question in counts alone; None where no amount is told by some."""
    matrix = arrays.matrix()
    amounts = (matrix != 0.0) & ~arrays.whole
    counts = (matrix != 0.0) & arrays.whole
    nothing = (arrays.row_lower == 0.0) & (arrays.row_upper == 0.0)
    tells = nothing & (amounts.sum(axis=1) == 1) & counts.any(axis=1)
    # The first row that tells an amount does; another is about what is told.
    row_of = {int(amounts[row].argmax()): row for row in np.flatnonzero(tells)[::-1]}
    if not row_of:
        return None
    columns, rows = np.array([*row_of.items()]).T
    sums = -matrix[rows] / matrix[rows, columns][:, None]
    sums[:, ~arrays.whole] = 0.0
    told = np.eye(arrays.lower.size)
    told[columns] = sums
    left = np.delete(np.arange(arrays.lower.size), columns)
    told = told[:, left]
    small = matrix @ told
    small[rows] = told[columns]
    lower, upper = arrays.row_lower.copy(), arrays.row_upper.copy()
    lower[rows], upper[rows] = arrays.lower[columns], arrays.upper[columns]
    entries = np.nonzero(small)
    goals = tuple(_over(goal, told) for goal in programme.goals)
    ingredients = len(programme.ingredients)
    return InCounts(
        programme=replace(
            programme,
            ingredients=tuple(
                programme.ingredients[column] for column in left if column < ingredients
            ),
            columns=tuple(programme.columns[column] for column in left),
            goals=goals,
        ),
        arrays=replace(
            arrays,
            starts=np.searchsorted(entries[0], np.arange(lower.size + 1)),
            columns=entries[1],
            values=small[entries],
            row_lower=lower,
            row_upper=upper,
            lower=arrays.lower[left],
            upper=arrays.upper[left],
            whole=arrays.whole[left],
        ),
        left=left,
        told=told,
    )


def _over(goal: Goal, told: Floats) -> Goal:
    """Return a goal as a sum over the columns that are left."""
    full = dense(goal, told.shape[0]) @ told
    kept = np.flatnonzero(full)
    return replace(goal, row=Row(kept, full[kept]))
