"""Amounts rounded so that what is printed adds up.

Amounts are rounded in hundredths, as whole numbers. An amount that already stands
on a hundredth (a cap of 3.75 %, a pinned 1 %) is printed as it is and never moved;
the others are rounded down to their step, then raised by a step, those that lost
most first, until the total is met. What remains of less than a step goes to the
largest of them. So an ingredient that sits at its cap never goes above it.

A column of percentages is shown with one decimal where each amount, rounded by
itself, then adds up; else with two, so that no line is moved by more than 0.01 to make
it add up. Small doses may have two where the others have one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from optimiser.presenting.page import Number, TableColumn
from optimiser.presenting.words import cents

__all__ = [
    "FINE",
    "adding_up",
    "as_text",
    "decimals_of",
    "grams",
    "percents",
    "percents_column",
    "places",
]

# Ingredients used in small amounts, written to 0.01 % in the trade.
FINE = frozenset({"scent", "colour", "preservative", "antioxidant"})
_ON_A_HUNDREDTH = 1e-4  # of a hundredth: 1e-6 of a percent


def adding_up(
    amounts: Sequence[float],
    steps: Sequence[int],
    kept: Sequence[int] | None = None,
    total: int | None = None,
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
    total : int, optional
        What they are to add up to, in hundredths; by default their sum.

    >>> adding_up([33.34, 33.333333, 33.326667], [10, 10, 10])
    [3334, 3336, 3330]
    """
    exact = [amount * 100 for amount in amounts]
    whole = cents(math.fsum(amounts)) if total is None else total
    marks = kept or [1] * len(exact)
    free = [at for at, each in enumerate(exact) if not _stands(each / marks[at])]
    rounded = [round(each) for each in exact]
    for at in free:
        rounded[at] = math.floor(exact[at] / steps[at]) * steps[at]
    rest = whole - sum(rounded)
    for at in sorted(free, key=lambda at: (rounded[at] - exact[at]) / steps[at]):
        if steps[at] <= rest:
            rounded[at] += steps[at]
            rest -= steps[at]
    if free:
        rounded[max(free, key=lambda at: exact[at])] += rest
    return rounded


def _stands(number: float) -> bool:
    return abs(number - round(number)) < _ON_A_HUNDREDTH


def places(columns: Sequence[Sequence[float]], categories: Sequence[str]) -> int:
    """Return with how many decimals columns of percentages side by side are shown.

    >>> places([[33.3, 66.7]], ["wax", "liquid oil"])
    1
    >>> places([[33.34, 33.333333, 33.326667]], ["wax", "wax", "liquid oil"])
    2
    """
    fine = [each in FINE for each in categories]
    return 1 if all(_adds_up(column, fine) for column in columns) else 2


def _adds_up(amounts: Sequence[float], fine: Sequence[bool]) -> bool:
    """Whether a column adds up at one decimal with every amount to its nearest."""
    total = 0
    for amount, small in zip(amounts, fine, strict=True):
        exact = amount * 100
        nearest = round(exact) if small else 10 * round(exact / 10)
        if not small and _stands(exact) and nearest != round(exact):
            return False  # a figure of two decimals, such as a cap of 3.75 %
        total += nearest
    whole = cents(math.fsum(amounts))
    return total == whole and whole % 10 == 0


def percents(
    amounts: Sequence[float], categories: Sequence[str], places: int = 1
) -> list[int]:
    """Return percentages in hundredths: to so many decimals, small doses to 0.01 %."""
    coarse = 10 if places == 1 else 1
    return adding_up(amounts, [1 if each in FINE else coarse for each in categories])


def grams(amounts: Sequence[float]) -> list[int]:
    """Return grams in hundredths: to 0.1 g, or all to 0.01 g if one is below a gram."""
    few = any(0 < each < 1 and not _stands(each * 10) for each in amounts)
    step = 1 if few else 10
    total = step * round(cents(math.fsum(amounts)) / step)
    steps = [step] * len(amounts)
    return adding_up(amounts, steps, kept=steps, total=total)


def decimals_of(hundredths: Sequence[int]) -> int:
    """Return the decimals that a column needs so that all its figures have as many.

    >>> decimals_of([420, 10]), decimals_of([420, 375])
    (1, 2)
    """
    return 2 if any(each % 10 for each in hundredths) else 1


def as_text(
    hundredths: int, fine: bool = False, sign: bool = False, places: int = 1
) -> str:
    """Return hundredths as a number of so many decimals, two where it needs them.

    >>> as_text(420), as_text(375), as_text(90, fine=True), as_text(50, sign=True)
    ('4.2', '3.75', '0.90', '+0.5')
    >>> as_text(420, places=2)
    '4.20'
    """
    shown = 2 if fine or hundredths % 10 else places
    return f"{hundredths / 100:{'+' if sign and hundredths else ''}.{shown}f}"


def percents_column(
    head: str,
    hundredths: Sequence[int],
    categories: Sequence[str],
    places: int,
    nothing: str | None = None,
) -> TableColumn:
    """Return percentages that add up, with their total.

    ``nothing`` stands for a share of zero, where it is given.
    """
    cells = [
        Number(
            each / 100,
            nothing
            if nothing is not None and not each
            else as_text(each, kind in FINE, places=places),
        )
        for each, kind in zip(hundredths, categories, strict=True)
    ]
    total = sum(hundredths)
    whole = Number(total / 100, as_text(total, places=places))
    return TableColumn(head, (*cells, whole))
