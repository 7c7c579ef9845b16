"""Ingredients that are in: up to which price each stays, and what takes its place."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from optimiser.domain.catalogue import Catalogue
from optimiser.explaining.entering import SAME, SHOWN, cost_stage
from optimiser.solving import Optimum, Session

__all__ = ["Staying", "staying"]

# Times its price that an ingredient is looked at; beyond, no price is said to move it.
FAR_PRICE = 100.0
Floats = NDArray[np.float64]


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


def staying(
    optimum: Optimum, catalogue: Catalogue, session: Session | None = None
) -> tuple[Staying, ...]:
    """Return how far the price of each used ingredient may rise before it leaves.

    Parameters
    ----------
    session : Session, optional
        Where to ask: one with the choices open, or by default with them kept.

    Notes
    -----
    The cost is a concave function of one price, with the amount as its slope: the
    line from where we stand meets the cost without the ingredient at a price where
    the amount is smaller, and so on to the last piece (Newton's method, finite).
    """
    session = session or optimum.session
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
            if left <= SAME * max(1.0, abs(without)) or amount <= 1e-9:
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
    A fall too small to weigh out is passed over: what comes after it is looked at.
    """
    end = FAR_PRICE * price if leaves is None else leaves * (1.0 + 1e-6)
    try:
        here, start, far = price, _at_price(session, column, price), end
        for _ in range(120):
            there = _at_price(session, column, far)
            if start is None or there is None:
                break
            straight = start[0] + start[1] * (far - here) / 100.0
            slope = (start[1] - there[1]) / 100.0
            if straight - there[0] > SAME * max(1.0, abs(straight)):
                if slope <= 0.0:
                    break
                far = max(here, far - (straight - there[0]) / slope)
                continue
            if far >= 0.999 * FAR_PRICE * price:
                break
            after = _at_price(session, column, far * (1.0 + 1e-5))
            if after is None or start[1] - after[1] >= SHOWN:
                return far, None if after is None else after[1]
            here, start, far = far * (1.0 + 1e-5), after, end
            if here >= end:
                break
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
