"""Prices at which what is shown changes, found by asking the whole question anew.

Where the cost is left room and another aim comes after it, that aim decides which of
the formulas within the room is shown. A price then moves the room too: the amount of
an ingredient is no slope of the cost, and may even rise with its price. So all aims
are solved in order at trial prices, step by step away from today's, and the step in
which the change lies is halved. A change that is undone within a step is passed over.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from msgspec.structs import replace

from optimiser.domain.rule import Goal, Programme, Row
from optimiser.solving import attempted

__all__ = [
    "FAR_PRICE",
    "IN",
    "LEAST_PRICE",
    "TrialPrices",
    "decided_later",
    "priced_at_least",
]

# Money per kg; a price below that is none that anybody asks.
LEAST_PRICE = 0.005
# Times its price that an ingredient is looked at; beyond, no price is said to move it.
FAR_PRICE = 100.0
# A price counts as at least that part of what the product costs: chalk is all but free.
LEAST_PART = 0.1
# Steps away from today's price, as parts of it; the last one up is FAR_PRICE. None is
# round, for at a round price formulas tie, and what a tie shows holds on neither side.
DOWN = (
    *(0.9893, 0.9671, 0.9387, 0.8969, 0.8473, 0.7961, 0.6983, 0.5963, 0.4937),
    *(0.3943, 0.2939, 0.1951, 0.0971, 0.0),
)
UP = (
    *(1.0103, 1.0301, 1.0607, 1.1017, 1.1503, 1.2007, 1.3007, 1.5013, 2.0011, 3.0011),
    *(5.0021, 10.0043, 30.0133, FAR_PRICE),
)
# Part of a price to which a change is found.
NARROW = 1e-6
# Percent from which an ingredient is in: less is room that an earlier aim was left.
IN = 1e-5


def decided_later(programme: Programme, stage: int) -> bool:
    """Whether the cost, aim number ``stage``, leaves room to an aim after it."""
    return programme.goals[stage].slack > 0.0 and stage + 1 < len(programme.goals)


def priced_at_least(price: float, cost: float) -> float:
    """Return a price, or a part of what the product costs where that is more."""
    return max(price, LEAST_PART * cost)


class TrialPrices:
    """A question, to be solved anew with another price of one ingredient.

    Parameters
    ----------
    stage : int
        Which of the aims is cost.
    column : int
        The ingredient whose price is tried.
    now : float
        Its price, money per kg.
    """

    def __init__(
        self, programme: Programme, stage: int, column: int, now: float
    ) -> None:
        self._programme = programme
        self._stage = stage
        self._column = column
        self._now = now
        self._known: dict[float, float | None] = {}

    def amount(self, price: float) -> float | None:
        """Return the percent shown at a price per kg; None if nothing is proved."""
        if price not in self._known:
            found = attempted(self._at(price))
            self._known[price] = (
                None if found is None else float(found.amounts[self._column])
            )
        return self._known[price]

    def _at(self, price: float) -> Programme:
        goals = list(self._programme.goals)
        goal = goals[self._stage]
        goals[self._stage] = replace(goal, row=_priced(goal, self._column, price))
        return replace(self._programme, goals=tuple(goals))

    def comes_in(
        self, least: float, hint: float | None = None
    ) -> tuple[float | None, float | None]:
        """Return the price below which an ingredient comes in, and with how much.

        That much is None where it comes in little by little.

        Parameters
        ----------
        least : float
            Percent that it has to reach at some price to count.
        hint : float, optional
            A price near which that may be; it need not be right.
        """
        now = self._now
        steps = {max(LEAST_PRICE, now * by) for by in DOWN}
        if hint is not None and LEAST_PRICE < hint <= now:
            steps |= {hint * (1.0 - 1e-4), min(now, hint * (1.0 + 1e-4))}
        outside, inside = now, None
        for price in sorted(steps, reverse=True):
            amount = self.amount(price)
            if amount is None or amount <= IN:
                outside, inside = price, None
                continue
            inside = price if inside is None else inside
            if amount >= least:
                below = self._halved(outside, inside, lambda there: there > IN)
                amount = self.amount(below)
                sudden = amount is not None and amount >= least
                return below, amount if sudden else None
        return None, None

    def falls_below(self, amount: float, cost: float) -> float | None:
        """Return the price above which no more than an amount is shown, if one does.

        Parameters
        ----------
        amount : float
            Percent; at 0 the price is sought above which the ingredient is out.
        cost : float
            What the product costs, money per kg.
        """
        before, least = self._now, max(amount, IN)
        scale = priced_at_least(self._now, cost)
        for by in (1.0 + NARROW, *UP):
            price = self._now + scale * (by - 1.0)
            there = self.amount(price)
            if there is not None and there <= least:
                return self._halved(before, price, lambda found: found <= least)
            before = price
        return None

    def _halved(
        self, before: float, after: float, changed: Callable[[float], bool]
    ) -> float:
        """Return the price, between two, from which on what is shown has changed."""
        while abs(after - before) > NARROW * max(before, after):
            middle = (before + after) / 2.0
            there = self.amount(middle)
            if there is not None and changed(there):
                after = middle
            else:
                before = middle
        return after


def _priced(goal: Goal, column: int, price: float) -> Row:
    """Return the row of the cost with another price per kg of one ingredient."""
    pairs: Iterable[tuple[int, float]] = zip(
        goal.row.columns.tolist(), goal.row.coefficients.tolist(), strict=True
    )
    kept = [(each, cost) for each, cost in pairs if each != column]
    return Row.of(sorted([*kept, (column, price / 100.0)]))
