"""One programme under many price lists: re-solved in place, and proved together.

The rules stay, so the last corner is always allowed, and a warm re-solve takes a few
steps; often its corner is the best of many other lists too (see
:mod:`optimiser.solving.repricing`). The proof of a thousand answers is a handful of
matrix products.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats, Indices, Mask
from optimiser.domain.rule import Programme, Row
from optimiser.errors import ProofError
from optimiser.science.algebra import need_room
from optimiser.solving.arrays import goal_rows
from optimiser.solving.optimise import Infeasible, Optimum, cleaned, optimise
from optimiser.solving.proof import GAP_TOLERANCE, RULE_TOLERANCE, duality_gap
from optimiser.solving.session import Session

__all__ = ["Corners", "Repriced", "reprice"]

Progress = Callable[[int], None]


class Repriced(Struct, frozen=True, eq=False):
    """What came of each price list, in order.

    Attributes
    ----------
    amounts : float array, shape (lists, columns)
    values : float array, shape (lists,)
        What each formula costs.
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
    amounts = np.empty((len(costs), len(programme.columns)))
    gaps = np.empty(len(costs))
    for number, row in enumerate(costs):
        found = optimise(_priced(programme, row))
        if isinstance(found, Infeasible):
            return None
        amounts[number], gaps[number] = found.amounts, found.gap
        if progress is not None:
            progress(number + 1)
    values = np.einsum("ij,ij->i", costs, amounts[:, : costs.shape[1]])
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
        self.arrays = self.session.arrays
        self.session.aim_at(len(programme.goals) - 1, first.tops)
        self.session.expect_other_costs()
        self.corners = self._corners()

    def _corners(self) -> Corners:
        """Return the rows of the session: the programme's, then a row a goal."""
        own = np.full(len(self.programme.goals), np.inf)
        tops = np.append(self.tops, np.inf)
        goals = goal_rows(self.programme.goals, self.arrays.lower.size)
        return Corners(
            np.vstack([self.arrays.matrix(), goals]),
            np.concatenate([self.arrays.row_lower, -own]),
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
        amounts = cleaned(amounts, self.arrays)
        gaps = self._gaps(whole, amounts, prices)
        gaps[self._broken(amounts)] = np.inf
        self._solve_again(
            np.flatnonzero(~(gaps <= GAP_TOLERANCE)), costs, amounts, gaps
        )
        return Repriced(amounts, np.einsum("ij,ij->i", whole, amounts), gaps)

    def _same_corner(
        self,
        amounts: Floats,
        costs: Floats,
        waiting: Indices,
        prices: Floats,
    ) -> Indices:
        """Return which waiting lists keep the corner; their prices are filled in."""
        basic, idle = self.session.basic()
        same, found = self.corners.still_best(amounts, basic, idle, costs[waiting])
        prices[waiting[same]] = found
        return same

    def _gaps(self, costs: Floats, amounts: Floats, prices: Floats) -> Floats:
        """Return the relative gap of each answer to a bound that no answer beats."""
        rows, held = prices[:, : self.session.rows], prices[:, self.session.rows :]
        goals = goal_rows(self.programme.goals[:-1], self.arrays.lower.size)
        earlier = (goals, self.tops, held[:, : self.tops.size])
        return duality_gap(self.arrays, costs, amounts, rows, earlier)

    def _broken(self, amounts: Floats) -> Mask:
        """Return which answers break a row by more than rounding."""
        activity = self.arrays.activity(amounts)
        low, high = self.arrays.row_lower, self.arrays.row_upper
        side = np.where(np.isfinite(low), low, high)
        room = RULE_TOLERANCE * np.maximum(1.0, np.abs(side))
        missed = np.maximum(low - activity, activity - high)
        broken: Mask = np.any(~(missed <= room), axis=1)
        return broken

    def _solve_again(
        self, doubtful: Indices, costs: Floats, amounts: Floats, gaps: Floats
    ) -> None:
        """Solve afresh what could not be proved from where the last one ended."""
        for number in doubtful:
            found = optimise(_priced(self.programme, costs[number]))
            if isinstance(found, Infeasible):
                raise ProofError("a price list took the formula away")
            amounts[number], gaps[number] = found.amounts, found.gap


TOLERANCE = 1e-9
ON_A_BOUND = 1e-9


class Corners(Struct, frozen=True, eq=False):
    """The rows and bounds that corners of one programme are made of.

    Attributes
    ----------
    matrix : float array, shape (rows, columns)
    row_lower, row_upper, lower, upper : float arrays
    """

    matrix: Floats
    row_lower: Floats
    row_upper: Floats
    lower: Floats
    upper: Floats

    def still_best(
        self, amounts: Floats, basic: Mask, idle: Mask, costs: Floats
    ) -> tuple[Indices, Floats]:
        """Return for which lists of costs a corner is the best, and its prices.

        Parameters
        ----------
        amounts : float array, shape (columns,)
            The corner.
        basic : bool array, shape (columns,)
            Columns that the corner solves for.
        idle : bool array, shape (rows,)
            Rows that the corner does not rest on; their price is zero.
        costs : float array, shape (lists, columns)

        Returns
        -------
        tuple of int array, shape (same,), and float array, shape (same, rows)
            Numbers of the lists it is best for, and the prices there.
        """
        held = np.flatnonzero(~idle)
        nothing = np.zeros(0, dtype=np.int64), np.zeros((0, self.row_lower.size))
        if held.size != basic.sum():
            return nothing
        rows = self.matrix[held]
        need_room()
        try:
            inverse = np.linalg.inv(rows[:, basic])
        except np.linalg.LinAlgError:
            return nothing
        own = costs[:, basic] @ inverse
        # Few pass the rows' signs; only those are looked at column by column.
        lower, upper = self.row_lower[held], self.row_upper[held]
        some = np.flatnonzero(_signs(own, rows @ amounts, lower, upper))
        reduced = costs[some] - own[some] @ rows
        same = some[_signs(reduced, amounts, self.lower, self.upper)]
        prices = np.zeros((same.size, self.row_lower.size))
        prices[:, held] = own[same]
        return same, prices


def _signs(prices: Floats, values: Floats, lower: Floats, upper: Floats) -> Mask:
    """Return which rows of prices are positive only at lower bounds, and so on."""
    room = ON_A_BOUND * np.maximum(1.0, np.abs(values))
    least = np.where(values >= upper - room, -np.inf, -TOLERANCE)
    most = np.where(values <= lower + room, np.inf, TOLERANCE)
    bound = np.isfinite(least) | np.isfinite(most)
    some = prices[:, bound]
    wrong: Mask = np.maximum(least[bound] - some, some - most[bound]).max(
        axis=1, initial=-np.inf
    ) > np.float64(0.0)
    return ~wrong
