"""One number of one row changed, each of many in turn, from the same corner.

What a little more of a limit is worth where the limit stands before a column, as in
``amount <= 100 * kg * (1 / size)``: there the row changes, and not its bound.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from optimiser.domain.arrays import Floats
from optimiser.domain.rule import Programme
from optimiser.solving.arrays import Arrays
from optimiser.solving.proof import GAP_TOLERANCE, RULE_TOLERANCE, duality_gap
from optimiser.solving.session import Session

__all__ = ["least_with_another_number"]


def least_with_another_number(
    programme: Programme, column: int, others: Iterable[tuple[int, float]]
) -> Iterator[float | None]:
    """Yield the least of the first goal, each time with one number of a row changed.

    Parameters
    ----------
    programme : Programme
        One that has a formula, and nothing in whole numbers.
    column : int
        Where the number stands.
    others : iterable of (number of a "max" rule, the coefficient in its place)

    Yields
    ------
    float or None
        None where the answer did not pass its check; then ask for it by itself.
    """
    arrays = Arrays.of(programme)
    session = Session(programme, arrays)
    session.run()
    start = session.basis()
    for row, coefficient in others:
        entries = slice(arrays.starts[row], arrays.starts[row + 1])
        changed = np.zeros(session.size)
        changed[arrays.columns[entries]] = arrays.values[entries]
        own, changed[column] = float(changed[column]), coefficient
        session.put(row, column, coefficient)
        found = session.run()
        yield _proved(session, row, changed) if found else None
        session.put(row, column, own)
        session.start_from(start)


def _proved(session: Session, row: int, changed: Floats) -> float | None:
    """Return the goal's least if its amounts keep every row and nothing beats them."""
    arrays, corner = session.arrays, session.corner()
    amounts, top = corner.amounts, arrays.row_upper[row]
    activity = arrays.activity(amounts)
    activity[row] = changed @ amounts
    sides = np.where(np.isfinite(arrays.row_lower), arrays.row_lower, arrays.row_upper)
    room = RULE_TOLERANCE * np.maximum(1.0, np.abs(sides))
    missed = np.maximum(arrays.row_lower - activity, activity - arrays.row_upper)
    # The row as it is now stands beside the others, in the place of its old self.
    prices = corner.row_prices[: session.rows].copy()
    held = changed[None, :], np.array([top]), prices[[row]]
    prices[row] = 0.0
    gap = duality_gap(arrays, session.costs(), amounts, prices, held)
    return corner.objective if np.all(missed <= room) and gap <= GAP_TOLERANCE else None
