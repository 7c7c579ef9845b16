"""What it costs to force a little of an ingredient in, choices and all."""

from __future__ import annotations

import numpy as np

from optimiser.solving import Session

__all__ = ["cost_of_forcing"]

# The dose an ingredient is forced in at, percent, to feel what it would cost.
DOSE = 0.01


def cost_of_forcing(session: Session, column: int, best: float) -> float | None:
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
        session.unbound(column)
        if flag is not None:
            session.unbound(flag)


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
