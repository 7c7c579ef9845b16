"""A corner found for one price list, tried on all others at once.

A corner stays the best as long as no column's reduced cost and no row's price changes
to the wrong sign, and both are linear in the costs: one matrix product tells it for
thousands of lists. Source: the optimality conditions of linear programming; they are
proved again afterwards by duality, list by list.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats, Indices, Mask

__all__ = ["Corners"]

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
