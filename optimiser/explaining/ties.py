"""Ties and near-ties: clearly different formulas at the same cost, or nearly."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from optimiser.domain.catalogue import Catalogue
from optimiser.solving import Optimum, Session

__all__ = ["CLEARLY", "Tie", "tied"]

# Points of ingredients from which two formulas are clearly different.
CLEARLY = 5.0
# How many ingredients are pushed up or down to find a different formula.
MOST_TRIED = 60
Floats = NDArray[np.float64]


class Tie(Struct, frozen=True):
    """Another formula at nearly the same value of the last aim.

    ``within`` is the part that was allowed on top, ``distance`` in points of
    ingredients; ``amounts`` are (key, name, percent here, percent there) of what
    differs.
    """

    within: float
    aim: str
    value: float
    distance: float
    amounts: tuple[tuple[str, str, float, float], ...]


def tied(optimum: Optimum, catalogue: Catalogue, within: float = 0.0) -> Tie | None:
    """Return the most different formula found within a part of the best value.

    Each ingredient is pushed as high and as low as the value allows, and the
    formula furthest from the answer is kept; that finds every tie, though not
    always the furthest formula. Choices are kept. None if none is clearly
    different.
    """
    session = optimum.session
    stage = len(optimum.best) - 1
    session.aim_at(stage, optimum.tops)
    session.run()
    if within == 0.0 and session.answer_is_unique():
        return None
    best = optimum.best[-1]
    room = within * abs(best) + 1e-9 * max(1.0, abs(best))
    session.hold(best + room)
    session.expect_other_costs()
    try:
        if within == 0.0 and not _any_move(session, optimum):
            return None
        found = _furthest(session, optimum)
    finally:
        session.expect_other_limits()
        session.aim_at(stage, optimum.tops)
        session.run()
    here = optimum.amounts[: len(session.programme.ingredients)]
    distance = float(np.abs(found - here).sum() / 2.0)
    if distance < CLEARLY - 1e-6:
        return None
    goal = session.programme.goals[stage]
    value = goal.row.at(np.append(found, optimum.amounts[found.size :]))
    return Tie(
        within,
        goal.name,
        float(value),
        distance,
        _moves(session, found, here, catalogue),
    )


def _any_move(session: Session, optimum: Optimum) -> bool:
    """Whether some other formula has the very same value: three looks are enough.

    If every unused ingredient together cannot come in, and a random wish among the
    used ones cannot move up or down, the answer is the only one.
    """
    here = optimum.amounts[: len(session.programme.ingredients)]
    wishes = [np.where(here <= 1e-7, -1.0, 0.0)]
    random = np.random.default_rng(0).normal(size=here.size)
    wishes += [np.where(here > 1e-7, random, 0.0), np.where(here > 1e-7, -random, 0.0)]
    for wish in wishes:
        session.wish(wish)
        if session.run():
            there = session.corner().amounts[: here.size]
            if np.abs(there - here).sum() / 2.0 > 1e-3:
                return True
    return False


def _furthest(session: Session, optimum: Optimum) -> Floats:
    here = optimum.amounts[: len(session.programme.ingredients)]
    furthest, most = here, 0.0
    used = [int(i) for i in np.flatnonzero(here > 1e-7)]
    unused = [int(i) for i in np.flatnonzero(here <= 1e-7)]
    ways = [(column, sign) for sign in (1.0, -1.0) for column in used]
    ways += [(column, -1.0) for column in unused]
    for column, sign in ways[: MOST_TRIED + len(used)]:
        wish = np.zeros(here.size)
        wish[column] = sign
        session.wish(wish)
        if not session.run():
            continue
        there = session.corner().amounts[: here.size]
        distance = float(np.abs(there - here).sum())
        if distance > most:
            furthest, most = there, distance
    return furthest


def _moves(
    session: Session, found: Floats, here: Floats, catalogue: Catalogue
) -> tuple[tuple[str, str, float, float], ...]:
    keys = session.programme.ingredients
    order = np.argsort(-np.abs(found - here).round(6), kind="stable")
    return tuple(
        (keys[i], catalogue.ingredients[keys[i]].name, float(here[i]), float(found[i]))
        for i in (int(each) for each in order)
        if abs(found[i] - here[i]) > 0.05
    )
