"""Ingredients that are out: the price below which each would come in."""

from __future__ import annotations

import numpy as np

from optimiser.domain.catalogue import Catalogue
from optimiser.explaining.answer import Unused
from optimiser.explaining.facts import TRACE
from optimiser.solving import Optimum, Session

__all__ = ["unused_ingredients"]

# The dose an ingredient is forced in at, percent, to feel what it would cost.
DOSE = 0.01


def unused_ingredients(optimum: Optimum, catalogue: Catalogue) -> tuple[Unused, ...]:
    """Return every ingredient that could be used and is not.

    Forcing a small dose in costs ``D`` per percent; a fall of its price by ``p``
    earns ``p/100`` per percent, so it comes in below its price less ``100 D``.
    That holds at corners, where a solver's own figure can be too high.
    """
    session = optimum.session
    stage = _cost_stage(session)
    best = None
    known = None
    if stage is not None:
        session.aim_at(stage, optimum.tops)
        session.run()
        best = session.objective()
        if not session.programme.whole and session.prices_are_unique():
            known = session.reduced_costs()
    unused = []
    for column, key in enumerate(session.programme.ingredients):
        if optimum.amounts[column] > TRACE:
            continue
        price = catalogue.price_per_kg(key)
        below = None
        if best is not None and price is not None:
            forced = (
                _cost_of_forcing(session, column, best)
                if known is None
                else float(known[column])
            )
            below = None if forced is None else price - 100.0 * forced
        if below is not None and below <= 0.0:
            below = None
        unused.append(Unused(key, catalogue.ingredients[key].name, price, below))
    return tuple(unused)


def _cost_stage(session: Session) -> int | None:
    names = [goal.name for goal in session.programme.goals]
    return names.index("cost") if "cost" in names else None


def _cost_of_forcing(session: Session, column: int, best: float) -> float | None:
    """Return money per kg of product per percent forced in; None if impossible."""
    flag = _flag(session, column)
    dose = DOSE
    if flag is not None:
        session.bound(flag, 1.0, 1.0)
        dose = max(DOSE, _least_dose(session, flag))
    upper = float(session.arrays.upper[column])
    try:
        session.bound(column, dose, upper)
        return (session.objective() - best) / dose if session.run() else None
    finally:
        session.bound(column, float(session.arrays.lower[column]), upper)
        if flag is not None:
            session.bound(flag, 0.0, 0.0)


def _flag(session: Session, column: int) -> int | None:
    key = session.programme.ingredients[column]
    for number, each in enumerate(session.programme.columns):
        if each.kind == "used" and each.key == key:
            return number
    return None


def _least_dose(session: Session, flag: int) -> float:
    """Return the least dose that a rule or a link asks of a used ingredient."""
    doses = [
        rule.limit
        for rule in session.programme.rules
        if rule.kind == "least" and flag in rule.per.columns
    ]
    for link in session.programme.links:
        where = np.flatnonzero(link.row.columns == flag)
        if where.size and link.lower == 0.0:
            doses.append(-float(link.row.coefficients[where[0]]))
    return max(doses, default=0.0)
