"""Amounts rounded so that what is printed adds up.

Amounts are rounded in hundredths, as whole numbers. An amount that already stands
on a hundredth (a cap of 3.75 %, a pinned 1 %) is printed as it is and never moved;
the others are rounded down to their step, then raised by a step, those that lost
most first, until the total is met. What remains of less than a step goes to the
largest of them. So an ingredient that sits at its cap never goes above it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from optimiser.presenting.words import cents

__all__ = ["FINE", "adding_up", "as_text", "grams", "percents"]

# Ingredients used in small amounts, written to 0.01 % in the trade.
FINE = frozenset({"scent", "colour", "preservative", "antioxidant"})
_ON_A_HUNDREDTH = 1e-4  # of a hundredth: 1e-6 of a percent


def adding_up(
    amounts: Sequence[float], steps: Sequence[int], kept: Sequence[int] | None = None
) -> list[int]:
    """Return amounts in hundredths that add up to their rounded total.

    Parameters
    ----------
    amounts : sequence of float
        Amounts, none negative.
    steps : sequence of int
        Step to which each is rounded, in hundredths: 10 for one decimal.
    kept : sequence of int, optional
        An amount on a multiple of so many hundredths is not moved; 1 by default.

    >>> adding_up([33.34, 33.333333, 33.326667], [10, 10, 10])
    [3334, 3336, 3330]
    """
    exact = [amount * 100 for amount in amounts]
    total = cents(math.fsum(amounts))
    marks = kept or [1] * len(exact)
    free = [at for at, each in enumerate(exact) if not _stands(each / marks[at])]
    rounded = [round(each) for each in exact]
    for at in free:
        rounded[at] = math.floor(exact[at] / steps[at]) * steps[at]
    rest = total - sum(rounded)
    for at in sorted(free, key=lambda at: (rounded[at] - exact[at]) / steps[at]):
        if steps[at] <= rest:
            rounded[at] += steps[at]
            rest -= steps[at]
    if free:
        rounded[max(free, key=lambda at: exact[at])] += rest
    return rounded


def _stands(number: float) -> bool:
    return abs(number - round(number)) < _ON_A_HUNDREDTH


def percents(amounts: Sequence[float], categories: Sequence[str]) -> list[int]:
    """Return percentages in hundredths: to 0.1 %, fine categories to 0.01 %."""
    return adding_up(amounts, [1 if each in FINE else 10 for each in categories])


def grams(amounts: Sequence[float]) -> list[int]:
    """Return grams in hundredths: to 0.1 g, and to 0.01 g below one gram."""
    steps = [1 if each < 1 else 10 for each in amounts]
    return adding_up(amounts, steps, kept=steps)


def as_text(hundredths: int, fine: bool = False, sign: bool = False) -> str:
    """Return hundredths as a number with one decimal, or two where needed.

    >>> as_text(420), as_text(375), as_text(90, fine=True), as_text(50, sign=True)
    ('4.2', '3.75', '0.90', '+0.5')
    """
    places = 2 if fine or hundredths % 10 else 1
    return f"{hundredths / 100:{'+' if sign and hundredths else ''}.{places}f}"
