"""Where a solve ended: what its corner solves for, and whether others are as good."""

from __future__ import annotations

import highspy
import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats, Mask
from optimiser.errors import ProofError

__all__ = ["Ending"]


class Ending(Struct, frozen=True, eq=False):
    """The columns of a model where it was solved, then its rows.

    Attributes
    ----------
    columns : int
        How many of them are columns.
    basic : bool array
        What the corner solves for; the others lie at a bound, or at zero.
    values, prices, lower, upper : float arrays
    """

    columns: int
    basic: Mask
    values: Floats
    prices: Floats
    lower: Floats
    upper: Floats

    @classmethod
    def of(cls, solver: highspy.Highs) -> Ending:
        """Return where a solver ended.

        Raises
        ------
        ProofError
            If that is no corner.
        """
        model, solution = solver.getLp(), solver.getSolution()
        # A row is -1 less its number.
        status, numbers = solver.getBasicVariables()  # type: ignore[attr-defined]
        if status == highspy.HighsStatus.kError:
            raise ProofError("the solver did not end in a corner")
        columns, rows = solver.getNumCol(), solver.getNumRow()
        basic = np.zeros(columns + rows, dtype=bool)
        basic[np.where(numbers < 0, columns - 1 - numbers, numbers)] = True
        return cls(
            columns,
            basic,
            np.array(solution.col_value + solution.row_value),
            np.array(solution.col_dual + solution.row_dual),
            np.array(model.col_lower_ + model.row_lower_),
            np.array(model.col_upper_ + model.row_upper_),
        )

    @property
    def has_one_price_each(self) -> bool:
        """Whether the corner has one set of prices, so that both sides are alike.

        It has when everything basic lies strictly inside its bounds (no degeneracy).
        """
        inside = self.values[self.basic]
        to_bound = np.minimum(
            inside - self.lower[self.basic], self.upper[self.basic] - inside
        )
        return bool((to_bound > 1e-7 * np.maximum(1.0, np.abs(inside))).all())

    @property
    def is_the_only_one(self) -> bool:
        """Whether every way to leave the corner costs something.

        It does when everything that is not basic, and could move, has a price.
        """
        free = ~self.basic & (np.abs(self.prices) <= 1e-9)
        return not bool((free & (self.lower < self.upper)).any())
