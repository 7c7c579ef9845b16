"""What it costs to turn one choice on, all others kept, over few columns.

With the choices kept, what is turned off is nothing, and of ten thousand ingredients a
handful is left: the question over those, with room for one more, is solved in no time.
Most doses need not even that: where the corner bears one, it tells what it costs.
"""

from __future__ import annotations

from collections.abc import Collection

import highspy
import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats, Indices
from optimiser.science.algebra import need_room
from optimiser.solving.arrays import Arrays
from optimiser.solving.ending import Ending
from optimiser.solving.loading import loaded
from optimiser.solving.session import Session, SolverError

__all__ = ["OneMore"]

ROUNDING = 1e-9
# Rows of a corner that is looked at from: its memory is their square.
MOST_ROWS = 1000


class OneMore:
    """A session's goal with its choices kept, and room for one ingredient more.

    Parameters
    ----------
    session : Session
        At a goal whose choices are kept; it is left as it is, and is not asked again.
    arrays : Arrays
        What it holds; see `Session.arrays_held`.
    out : collection of int
        Columns that the choices keep at nothing.
    """

    def __init__(self, session: Session, arrays: Arrays, out: Collection[int]) -> None:
        self._costs = session.costs()
        size = arrays.lower.size
        inside = np.ones(size, dtype=bool)
        inside[list(out)] = False
        small, some = arrays.over(inside)
        self._row = np.where(some, np.cumsum(some) - 1, -1)
        self._arrays = arrays
        self._by_column(arrays.entry_rows())
        kept = np.flatnonzero(inside)
        nothing = np.zeros(2)
        small = replace(
            small,
            lower=np.append(small.lower, nothing),
            upper=np.append(small.upper, nothing),
            whole=np.zeros(kept.size + 2, dtype=bool),
        )
        self._inside = kept
        self._spare = (kept.size, kept.size + 1)
        self._solver = loaded(small, np.append(self._costs[kept], nothing))
        self._best = self._solved()
        self._ending = None if self._best is None else Ending.of(self._solver)
        self._corner = None if self._ending is None else _Corner.of(self._ending, small)

    def _by_column(self, rows: Indices) -> None:
        """Keep the entries in order of their columns."""
        order = np.argsort(self._arrays.columns, kind="stable")
        self._entries = rows[order], self._arrays.values[order]
        every = np.arange(self._arrays.lower.size + 1)
        self._ends = np.searchsorted(self._arrays.columns[order], every)

    def slopes(self) -> dict[int, float] | None:
        """Return what a little of each column that is left costs, by its number.

        None where that is not told by the corner: what is turned off shares no bound
        with it, so that it has more often one set of prices than the whole question.
        """
        if self._ending is None or not self._ending.has_one_price_each:
            return None
        prices = self._ending.prices[: self._inside.size].tolist()
        return dict(zip(self._inside.tolist(), prices, strict=True))

    def value(self, column: int, flag: int, low: float, high: float) -> float | None:
        """Return the goal with a choice on and its amount between two; None if none.

        Parameters
        ----------
        column, flag : int
            The amount, and the 0-or-1 column that says that it is used.

        Raises
        ------
        SolverError
            If the solver stops without an answer.
        """
        ends = self._ends_beside(column, flag, low, high)
        if ends is None:
            return None
        numbers = column, flag
        told = self._told_by_the_corner(column, flag, ends[0])
        if told is not None:
            return told
        bounds = ends, (1.0, 1.0)
        for number, spare, (least, most) in zip(
            numbers, self._spare, bounds, strict=True
        ):
            for row, by in self._kept_entries(number):
                self._solver.changeCoeff(row, spare, by)
            self._solver.changeColBounds(spare, least, most)
            self._solver.changeColCost(spare, float(self._costs[number]))
        try:
            return self._solved()
        finally:
            for number, spare in zip(numbers, self._spare, strict=True):
                for row, _ in self._kept_entries(number):
                    self._solver.changeCoeff(row, spare, 0.0)
                self._solver.changeColBounds(spare, 0.0, 0.0)

    def forced(self, column: int, low: float, high: float) -> float | None:
        """Return the goal with what no choice is about between two amounts, or None."""
        place = int(np.searchsorted(self._inside, column))
        if self._ending is not None and not self._ending.basic[place]:
            told = self._told_by_the_corner(column, None, low)
            if told is not None:
                return told
        own = self._arrays.lower[column], self._arrays.upper[column]
        self._solver.changeColBounds(place, low, high)
        try:
            return self._solved()
        finally:
            self._solver.changeColBounds(place, *map(float, own))

    def _told_by_the_corner(
        self, column: int, flag: int | None, dose: float
    ) -> float | None:
        """Return the goal with a choice on and that dose; None if not told from here.

        The prices stay those of the best as long as the corner bears the dose, and no
        more than that is taken where more of it would cost more.
        """
        corner, best = self._corner, self._best
        if corner is None or best is None:
            return None
        by_amount, by_flag = corner.rows(), corner.rows()
        for number, by in ((column, by_amount), (flag, by_flag)):
            for row, each in () if number is None else self._kept_entries(number):
                by[row] += each
        amount = float(self._costs[column] - corner.prices @ by_amount)
        if amount < 0.0 or not corner.bears(dose * by_amount + by_flag):
            return None
        on = 0.0 if flag is None else float(self._costs[flag])
        return best + dose * amount + on - float(corner.prices @ by_flag)

    def _entries_of(self, number: int) -> tuple[Indices, Floats]:
        here = slice(self._ends[number], self._ends[number + 1])
        return self._entries[0][here], self._entries[1][here]

    def _kept_entries(self, number: int) -> list[tuple[int, float]]:
        rows, values = self._entries_of(number)
        own = self._row[rows]
        pairs = zip(own.tolist(), values.tolist(), strict=True)
        return [(row, by) for row, by in pairs if row >= 0]

    def _ends_beside(
        self, column: int, flag: int, low: float, high: float
    ) -> tuple[float, float] | None:
        """Return the ends of an amount by the rows that are about nothing else left."""
        of_flag = dict(zip(*(x.tolist() for x in self._entries_of(flag)), strict=True))
        of_amount = dict(
            zip(*(x.tolist() for x in self._entries_of(column)), strict=True)
        )
        for row in of_flag.keys() | of_amount.keys():
            if self._row[row] >= 0:
                continue
            by, more = of_amount.get(row, 0.0), of_flag.get(row, 0.0)
            least = float(self._arrays.row_lower[row]) - more
            most = float(self._arrays.row_upper[row]) - more
            if by == 0.0:
                if least > ROUNDING or most < -ROUNDING:
                    return None
                continue
            ends = sorted((least / by, most / by))
            low, high = max(low, ends[0]), min(high, ends[1])
        return (low, high) if low <= high + ROUNDING else None

    def _solved(self) -> float | None:
        self._solver.run()
        status = self._solver.getModelStatus()
        if status == highspy.HighsModelStatus.kOptimal:
            return float(self._solver.getInfo().objective_function_value)
        if status == highspy.HighsModelStatus.kInfeasible:
            return None
        raise SolverError(f"the solver stopped with '{status}'")


class _Corner(Struct, frozen=True, eq=False):
    """Where a question ended, and how what it solves for moves with the rows.

    Attributes
    ----------
    values, lower, upper : float arrays, shape (rows,)
        Of what the corner solves for.
    prices : float array, shape (rows,)
    inverse : float array, shape (rows, rows)
        How far each of ``values`` moves for one more in each row.
    """

    values: Floats
    lower: Floats
    upper: Floats
    prices: Floats
    inverse: Floats

    @classmethod
    def of(cls, ending: Ending, arrays: Arrays) -> _Corner | None:
        """Return the corner of a question; None where it is large, or not told well."""
        rows = arrays.row_lower.size
        if rows > MOST_ROWS:
            return None
        need_room()
        every = np.hstack([arrays.matrix(), -np.eye(rows)])
        basic = ending.basic
        try:
            inverse = np.linalg.inv(every[:, basic])
        except np.linalg.LinAlgError:
            return None
        values = ending.values[basic]
        again = -inverse @ (every[:, ~basic] @ ending.values[~basic])
        if not np.allclose(again, values, rtol=ROUNDING, atol=ROUNDING):
            return None
        return cls(
            values,
            ending.lower[basic],
            ending.upper[basic],
            ending.prices[ending.columns :],
            inverse,
        )

    def rows(self) -> Floats:
        """Return nothing for each row."""
        return np.zeros(self.prices.size)

    def bears(self, more: Floats) -> bool:
        """Whether all stays inside its bounds where so much comes into each row."""
        moved = self.values - self.inverse @ more
        inside = (moved >= self.lower - ROUNDING) & (moved <= self.upper + ROUNDING)
        return bool(inside.all())
