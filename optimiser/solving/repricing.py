"""One programme under many price lists: re-solved in place, and proved together.

The rules stay, so the last corner is always allowed, and a warm re-solve takes a few
steps; often its corner is the best of many other lists too (see
:mod:`optimiser.solving.corners`). The proof of a thousand answers is a handful of
matrix products.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from optimiser.domain.rule import Goal, Programme, Row
from optimiser.errors import ProofError
from optimiser.solving.arrays import Arrays, Floats
from optimiser.solving.corners import Corners
from optimiser.solving.optimise import Infeasible, Optimum, optimise
from optimiser.solving.proof import GAP_TOLERANCE, RULE_TOLERANCE
from optimiser.solving.session import Session

__all__ = ["Repriced", "reprice"]

Progress = Callable[[int], None]


class Repriced(Struct, frozen=True, eq=False):
    """What came of each price list, in order.

    Attributes
    ----------
    amounts : float array, shape (lists, columns)
    values : float array, shape (lists,)
        The cost goal, without its constant.
    gaps : float array, shape (lists,)
        How far each may be from the best, relative to its value; the proof.
    """

    amounts: Floats
    values: Floats
    gaps: Floats


def reprice(
    programme: Programme, costs: Floats, progress: Progress | None = None
) -> Repriced | None:
    """Return the proved best formula under each price list; None if none exists.

    Parameters
    ----------
    programme : Programme
        One of its goals is the cost; the prices that it holds do not matter.
    costs : float array, shape (lists, ingredients)
        Money per kg of product for each percent of an ingredient.
    progress : callable, optional
        Told the number of lists solved, now and then.

    Raises
    ------
    ProofError
        If an answer does not pass its own check.

    Notes
    -----
    Where cost is the last aim and nothing is chosen in whole numbers, the model is
    kept and only its costs change. Otherwise each list is a question of its own.
    """
    if programme.whole or programme.goals[-1].name != "cost":
        return _one_by_one(programme, costs, progress)
    first = optimise(_priced(programme, costs[0]))
    if isinstance(first, Infeasible):
        return None
    return _Repricing(programme, first).all(costs, progress)


def _priced(programme: Programme, costs: Floats) -> Programme:
    """Return the programme with other costs in its cost goal."""
    goals = tuple(
        replace(goal, row=Row.of(enumerate(costs))) if goal.name == "cost" else goal
        for goal in programme.goals
    )
    return replace(programme, goals=goals)


def _one_by_one(
    programme: Programme, costs: Floats, progress: Progress | None
) -> Repriced | None:
    place = [goal.name for goal in programme.goals].index("cost")
    amounts = np.empty((len(costs), len(programme.columns)))
    values, gaps = np.empty(len(costs)), np.empty(len(costs))
    for number, row in enumerate(costs):
        found = optimise(_priced(programme, row))
        if isinstance(found, Infeasible):
            return None
        amounts[number] = found.amounts
        values[number], gaps[number] = found.best[place], found.gap
        if progress is not None:
            progress(number + 1)
    return Repriced(amounts, values, gaps)


class _Repricing:
    """A session at its last goal, whose costs are changed again and again."""

    TOLD_EVERY = 250
    # Trying a corner on so many lists costs about as much as one re-solve; the yield
    # of the last few tries tells whether the next is worth it.
    WORTH_ONE = 400
    FIRST_YIELD = 100.0
    MEMORY = 10

    def __init__(self, programme: Programme, first: Optimum) -> None:
        self.programme = programme
        self.session: Session = first.session
        self.tops = np.array(first.tops[:-1])
        self.goals: tuple[Goal, ...] = programme.goals[:-1]
        self.arrays = self.session.arrays
        self.session.aim_at(len(programme.goals) - 1, first.tops)
        self.corners = self._corners()

    def _corners(self) -> Corners:
        """Return the rows of the session: the programme's, then a row a goal."""
        size = self.arrays.lower.size
        goals = np.zeros((len(self.programme.goals), size))
        for number, goal in enumerate(self.programme.goals):
            goals[number, goal.row.columns] = goal.row.coefficients
        free = np.full(len(self.programme.goals), np.inf)
        tops = free.copy()
        tops[: self.tops.size] = self.tops
        return Corners(
            np.vstack([_matrix(self.arrays), goals]),
            np.concatenate([self.arrays.row_lower, -free]),
            np.concatenate([self.arrays.row_upper, tops]),
            self.arrays.lower,
            self.arrays.upper,
        )

    def all(self, costs: Floats, progress: Progress | None) -> Repriced:
        """Solve every list in turn and prove all of them."""
        size = self.arrays.lower.size
        amounts = np.empty((len(costs), size))
        prices = np.zeros((len(costs), self.session.rows + len(self.programme.goals)))
        whole = np.zeros((len(costs), size))
        whole[:, : costs.shape[1]] = costs
        waiting = np.arange(len(costs))
        yields = self.FIRST_YIELD
        while waiting.size:
            now, waiting = waiting[0], waiting[1:]
            solution = self.session.resolve_with_costs(costs[now])
            amounts[now] = solution.col_value[:size]
            prices[now] = solution.row_dual
            if yields > 1.0 + waiting.size / self.WORTH_ONE:
                same = self._same_corner(amounts[now], whole, waiting, prices)
                amounts[waiting[same]] = amounts[now]
                waiting = np.delete(waiting, same)
                yields += (same.size - yields) / self.MEMORY
            if progress is not None and waiting.size % self.TOLD_EVERY == 0:
                progress(len(costs) - waiting.size)
        np.clip(amounts, self.arrays.lower, self.arrays.upper, out=amounts)
        amounts[np.abs(amounts) < 1e-9] = 0.0
        values = np.einsum("ij,ij->i", whole, amounts)
        gaps = self._gaps(whole, amounts, prices, values)
        gaps[self._broken(amounts)] = np.inf
        self._solve_again(np.flatnonzero(gaps > GAP_TOLERANCE), costs, amounts, gaps)
        values = np.einsum("ij,ij->i", whole, amounts)
        return Repriced(amounts, values, gaps)

    def _same_corner(
        self,
        amounts: Floats,
        costs: Floats,
        waiting: NDArray[np.int64],
        prices: Floats,
    ) -> NDArray[np.int64]:
        """Return which waiting lists keep the corner; their prices are filled in."""
        basic, idle = self.session.basic()
        same, found = self.corners.still_best(amounts, basic, idle, costs[waiting])
        prices[waiting[same]] = found
        return same

    def _gaps(
        self, costs: Floats, amounts: Floats, prices: Floats, values: Floats
    ) -> Floats:
        """Return the relative gap of each answer to a bound that no answer beats.

        Weak duality, as in :func:`optimiser.solving.proof.duality_gap`, a row a list.
        """
        rows = prices[:, : self.session.rows]
        held = prices[:, self.session.rows :][:, : self.tops.size]
        matrix = _matrix(self.arrays)
        reduced = costs - rows @ matrix
        bound = _worth(rows, self.arrays.row_lower, self.arrays.row_upper)
        if self.tops.size:
            goals = np.zeros((self.tops.size, amounts.shape[1]))
            for number, goal in enumerate(self.goals):
                goals[number, goal.row.columns] = goal.row.coefficients
            reduced -= held @ goals
            bound += _worth(held, np.full(self.tops.size, -np.inf), self.tops)
        bound += _worth(reduced, self.arrays.lower, self.arrays.upper)
        gaps: Floats = np.abs(values - bound) / np.maximum(1.0, np.abs(values))
        return gaps

    def _broken(self, amounts: Floats) -> NDArray[np.bool_]:
        """Return which answers break a row by more than rounding."""
        activity = amounts @ _matrix(self.arrays).T
        low, high = self.arrays.row_lower, self.arrays.row_upper
        side = np.where(np.isfinite(low), low, high)
        room = RULE_TOLERANCE * np.maximum(1.0, np.abs(side))
        worst = np.maximum(low - activity, activity - high) - room
        result: NDArray[np.bool_] = worst.max(axis=1) > 0.0
        return result

    def _solve_again(
        self, doubtful: NDArray[np.int64], costs: Floats, amounts: Floats, gaps: Floats
    ) -> None:
        """Solve afresh what could not be proved from where the last one ended."""
        for number in doubtful:
            found = optimise(_priced(self.programme, costs[number]))
            if isinstance(found, Infeasible):
                raise ProofError("a price list took the formula away")
            amounts[number], gaps[number] = found.amounts, found.gap


def _matrix(arrays: Arrays) -> Floats:
    """Return the rows as a dense matrix, shape (rows, columns)."""
    full = np.zeros((arrays.row_lower.size, arrays.lower.size))
    rows = np.repeat(np.arange(arrays.row_lower.size), np.diff(arrays.starts))
    full[rows, arrays.columns] = arrays.values
    return full


def _worth(prices: Floats, lower: Floats, upper: Floats) -> Floats:
    """Return the sum of prices times the bound each sign picks, a row a list."""
    scale = 1e-9 * np.maximum(1.0, np.abs(prices).max(axis=1, initial=0.0))
    picked = np.where(prices > 0.0, lower, upper)
    endless = np.isinf(picked)
    small = np.abs(prices) <= scale[:, None]
    sums = np.where(endless, 0.0, prices * np.where(endless, 0.0, picked)).sum(axis=1)
    sums[(endless & ~small).any(axis=1)] = -np.inf
    result: Floats = sums
    return result
