"""A programme as plain arrays: what every solver and every check starts from."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats, Indices, Mask
from optimiser.domain.rule import Goal, Programme, Row, Rule

__all__ = ["Arrays", "dense", "goal_rows", "side_bounds"]


def side_bounds(rule: Rule, bound: float) -> tuple[float, float]:
    """Return the lower and the upper side of a rule's row at a bound."""
    lower = bound if rule.side in {"min", "exact"} else -math.inf
    upper = bound if rule.side in {"max", "exact"} else math.inf
    return lower, upper


class Arrays(Struct, frozen=True, eq=False):
    """Rows in order: one a rule, then one a link. Row-wise sparse matrix.

    Attributes
    ----------
    starts : int array, shape (rows + 1,)
    columns : int array, shape (entries,)
    values : float array, shape (entries,)
    row_lower, row_upper : float arrays, shape (rows,)
    lower, upper : float arrays, shape (columns,)
    whole : bool array, shape (columns,)
    """

    starts: Indices
    columns: Indices
    values: Floats
    row_lower: Floats
    row_upper: Floats
    lower: Floats
    upper: Floats
    whole: Mask

    @classmethod
    def of(cls, programme: Programme) -> Arrays:
        """Return the arrays of a programme at its limits as written."""
        rows, lower, upper = _linear(programme.rules)
        for link in programme.links:
            rows.append(link.row)
            lower.append(link.lower)
            upper.append(link.upper)
        sizes = np.array([row.columns.size for row in rows], dtype=np.int64)
        return cls(
            starts=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64),
            columns=np.concatenate([row.columns for row in rows]),
            values=np.concatenate([row.coefficients for row in rows]),
            row_lower=np.array(lower),
            row_upper=np.array(upper),
            lower=np.array([column.lower for column in programme.columns]),
            upper=np.array([column.upper for column in programme.columns]),
            whole=np.array([column.whole for column in programme.columns], dtype=bool),
        )

    def beside(self, place: int, rules: Sequence[Rule]) -> Arrays:
        """Return the arrays with the rows of some rules more, from row ``place`` on."""
        if not rules:
            return self
        rows, lower, upper = _linear(rules)
        entry = self.starts[place]
        ends = entry + np.cumsum([row.columns.size for row in rows])
        after = self.starts[place + 1 :] + (ends[-1] - entry)
        columns = np.concatenate([row.columns for row in rows])
        values = np.concatenate([row.coefficients for row in rows])
        return replace(
            self,
            starts=np.concatenate([self.starts[: place + 1], ends, after]),
            columns=np.insert(self.columns, entry, columns),
            values=np.insert(self.values, entry, values),
            row_lower=np.insert(self.row_lower, place, lower),
            row_upper=np.insert(self.row_upper, place, upper),
        )

    def matrix(self) -> Floats:
        """Return the rows as a dense matrix, shape (rows, columns)."""
        full = np.zeros((self.row_lower.size, self.lower.size))
        full[self.entry_rows(), self.columns] = self.values
        return full

    def activity(self, amounts: Floats) -> Floats:
        """Return every row's sum at ``amounts``, of one formula or a row a formula."""
        if amounts.ndim > 1:
            return amounts @ self.matrix().T
        sums = np.zeros(self.row_lower.size)
        np.add.at(sums, self.entry_rows(), self.values * amounts[self.columns])
        return sums

    def transposed(self, prices: Floats) -> Floats:
        """Return what each column earns at one price a row, for one list or many."""
        if prices.ndim > 1:
            return prices @ self.matrix()
        sums = np.zeros(self.lower.size)
        np.add.at(sums, self.columns, self.values * prices[self.entry_rows()])
        return sums

    def over(self, inside: Mask) -> tuple[Arrays, Mask]:
        """Return the question over some columns, and which rows are about any of them.

        The other rows are left out, whatever they ask for.
        """
        rows, within = self.entry_rows(), inside[self.columns]
        some = np.zeros(self.row_lower.size, dtype=bool)
        some[rows[within]] = True
        sizes = np.bincount(rows[within], minlength=some.size)[some]
        place = np.cumsum(inside) - 1
        return Arrays(
            starts=np.concatenate([[0], np.cumsum(sizes)]),
            columns=place[self.columns[within]],
            values=self.values[within],
            row_lower=self.row_lower[some],
            row_upper=self.row_upper[some],
            lower=self.lower[inside],
            upper=self.upper[inside],
            whole=self.whole[inside],
        ), some

    def entry_rows(self) -> Indices:
        """Return the row of each entry."""
        return np.repeat(np.arange(self.row_lower.size), np.diff(self.starts))


def _linear(rules: Sequence[Rule]) -> tuple[list[Row], list[float], list[float]]:
    """Return the rows of rules at their limits, and their lower and upper sides."""
    rows: list[Row] = []
    lower: list[float] = []
    upper: list[float] = []
    for rule in rules:
        row, bound = rule.linear(rule.limit)
        low, high = side_bounds(rule, bound)
        rows.append(row)
        lower.append(low)
        upper.append(high)
    return rows, lower, upper


def dense(goal: Goal, size: int) -> Floats:
    """Return a goal's row as one number a column."""
    full = np.zeros(size)
    full[goal.row.columns] = goal.row.coefficients
    return full


def goal_rows(goals: Sequence[Goal], size: int) -> Floats:
    """Return the rows of goals, shape (goals, columns)."""
    return np.array([dense(goal, size) for goal in goals]).reshape(-1, size)
