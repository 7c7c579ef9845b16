"""Ingredients that are in and out: the prices at which that changes, and how.

Out: below which price an ingredient comes in, with how much, and what its least
dose would cost if it were forced in. In: up to which price it stays, and what takes
its place when it leaves.
"""

from __future__ import annotations

import math

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.scenario import Scenario
from optimiser.explaining.answer import Unused
from optimiser.explaining.entering import unused_ingredients
from optimiser.solving import Optimum, Session

__all__ = ["Entering", "Staying", "entering", "staying"]

# How many unused ingredients are looked at closely: those nearest to coming in.
NEAREST = 25
# A dose to force in where a scenario gives no least dose, percent.
USUAL_DOSE = 1.0
# Times its price that an ingredient is looked at; beyond, no price is said to move it.
FAR_PRICE = 100.0
Floats = NDArray[np.float64]


class Entering(Struct, frozen=True):
    """An ingredient that is out.

    ``enters_below`` is money per kg (None: no price brings it in), ``enters_with``
    the percent it comes in with just below that, ``forced_cost`` the change of the
    cost, money per kg of product, with ``forced_dose`` percent of it in (None: it
    cannot be in).
    """

    ingredient: str
    name: str
    price_per_kg: float | None
    enters_below: float | None
    enters_with: float | None
    forced_dose: float
    forced_cost: float | None


class Staying(Struct, frozen=True):
    """An ingredient that is in.

    Its amount first falls when its price passes ``falls_above``, money per kg, to
    ``falls_to`` percent; it leaves above ``leaves_above``. None: no price does that.
    ``replaced_by`` holds (name, points) of what then moves, the most first.
    """

    ingredient: str
    name: str
    percent: float
    price_per_kg: float
    falls_above: float | None
    falls_to: float | None
    leaves_above: float | None
    replaced_by: tuple[tuple[str, float], ...]


def cost_stage(session: Session) -> int | None:
    """Return which of the aims is cost; None where it is none of them."""
    names = [goal.name for goal in session.programme.goals]
    return names.index("cost") if "cost" in names else None


def entering(
    optimum: Optimum, scenario: Scenario, catalogue: Catalogue
) -> tuple[Entering, ...]:
    """Return the unused ingredients nearest to coming in, nearest first."""
    session = optimum.session
    stage = cost_stage(session)
    if stage is None:
        return ()
    near = sorted(unused_ingredients(optimum, catalogue), key=_drop)[:NEAREST]
    session.aim_at(stage, optimum.tops)
    session.run()
    best = session.objective()
    index = {key: i for i, key in enumerate(session.programme.ingredients)}
    found = []
    for each in near:
        column = index[each.ingredient]
        dose = _least_dose(scenario, each.ingredient)
        amount = None
        if each.enters_below is not None:
            amount = _amount_below(session, column, each.enters_below)
        found.append(
            Entering(
                each.ingredient,
                each.name,
                each.price_per_kg,
                each.enters_below,
                amount,
                dose,
                _forced(session, column, dose, best),
            )
        )
    return tuple(found)


def _drop(unused: Unused) -> float:
    """Return by what part a price would have to fall; endless if no fall is enough."""
    if not unused.price_per_kg or unused.enters_below is None:
        return math.inf
    return 1.0 - unused.enters_below / unused.price_per_kg


def _least_dose(scenario: Scenario, key: str) -> float:
    own = scenario.least_if_used.get(key) or scenario.least_if_used.get("default")
    return USUAL_DOSE if own is None else own[0]


def _amount_below(session: Session, column: int, price: float) -> float | None:
    """Return the percent an ingredient comes in with a little below a price."""
    session.charge(column, price * (1.0 - 1e-4) / 100.0)
    try:
        return float(session.corner().amounts[column]) if session.run() else None
    finally:
        session.charge(column, None)


def _forced(session: Session, column: int, dose: float, best: float) -> float | None:
    """Return what a least dose costs; with choices kept, None if it is not chosen."""
    upper = float(session.arrays.upper[column])
    session.bound(column, dose, upper)
    try:
        return session.objective() - best if session.run() else None
    finally:
        session.bound(column, float(session.arrays.lower[column]), upper)


def staying(optimum: Optimum, catalogue: Catalogue) -> tuple[Staying, ...]:
    """Return how far the price of each used ingredient may rise before it leaves.

    Notes
    -----
    The cost is a concave function of one price, with the amount as its slope: the
    line from where we stand meets the cost without the ingredient at a price where
    the amount is smaller, and so on to the last piece (Newton's method, finite).
    """
    session = optimum.session
    stage = cost_stage(session)
    if stage is None:
        return ()
    session.aim_at(stage, optimum.tops)
    found = []
    for column, key in enumerate(session.programme.ingredients):
        price = catalogue.price_per_kg(key)
        if optimum.amounts[column] <= 1e-7 or price is None:
            continue
        without = _without(session, column)
        leaves = None
        gains: tuple[tuple[str, float], ...] = ()
        if without is not None:
            leaves = _leaving_price(session, column, price, without[0])
            gains = _gains(optimum, column, without[1], catalogue)
        name = catalogue.ingredients[key].name
        amount = float(optimum.amounts[column])
        falls, to = _first_fall(session, column, price, leaves)
        found.append(Staying(key, name, amount, price, falls, to, leaves, gains))
    session.run()
    return tuple(found)


def _without(session: Session, column: int) -> tuple[float, Floats] | None:
    """Return the cost and the amounts without an ingredient; None if it is needed."""
    session.bound(column, 0.0, 0.0)
    try:
        if not session.run():
            return None
        return session.objective(), session.corner().amounts
    finally:
        low, high = session.arrays.lower[column], session.arrays.upper[column]
        session.bound(column, float(low), float(high))


def _leaving_price(
    session: Session, column: int, price: float, without: float
) -> float | None:
    """Return the price above which an ingredient is not used any more."""
    try:
        for _ in range(60):
            session.charge(column, price / 100.0)
            if not session.run():
                return None
            amount = float(session.corner().amounts[column])
            left = without - session.objective()
            if left <= 1e-9 * max(1.0, abs(without)) or amount <= 1e-9:
                return price
            price += 100.0 * left / amount
    finally:
        session.charge(column, None)
    return None


def _first_fall(
    session: Session, column: int, price: float, leaves: float | None
) -> tuple[float | None, float | None]:
    """Return the price at which an amount first falls, and to what.

    From far off, the line through the cost there meets the line from here at a
    price nearer to the first break, and so on until it lies on the line from here.
    """
    try:
        start = _at_price(session, column, price)
        far = FAR_PRICE * price if leaves is None else leaves * (1.0 + 1e-6)
        for _ in range(60):
            there = _at_price(session, column, far)
            if start is None or there is None:
                return None, None
            straight = start[0] + start[1] * (far - price) / 100.0
            if straight - there[0] <= 1e-9 * max(1.0, abs(straight)):
                if far >= 0.999 * FAR_PRICE * price:
                    return None, None
                after = _at_price(session, column, far * (1.0 + 1e-5))
                return far, None if after is None else after[1]
            slope = (start[1] - there[1]) / 100.0
            if slope <= 0.0:
                return None, None
            far -= (straight - there[0]) / slope
            far = price + max(0.0, far - price)
    finally:
        session.charge(column, None)
    return None, None


def _at_price(
    session: Session, column: int, price: float
) -> tuple[float, float] | None:
    """Return the cost and the amount at a price; None if the solver finds none."""
    session.charge(column, price / 100.0)
    if not session.run():
        return None
    return session.objective(), float(session.corner().amounts[column])


def _gains(
    optimum: Optimum, column: int, amounts: Floats, catalogue: Catalogue
) -> tuple[tuple[str, float], ...]:
    """Return what else moves where an ingredient leaves, in points, at most five."""
    keys = optimum.session.programme.ingredients
    moves = amounts[: len(keys)] - optimum.amounts[: len(keys)]
    order = [int(i) for i in np.argsort(-np.abs(moves)) if abs(moves[i]) > 0.05]
    told = [i for i in order if i != column]
    return tuple(
        (catalogue.ingredients[keys[i]].name, float(moves[i])) for i in told[:5]
    )
