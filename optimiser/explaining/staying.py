"""Ingredients that are in: up to which price each stays, and what takes its place."""

from __future__ import annotations

import math

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Column, Goal, Link, Programme, Row
from optimiser.explaining.entering import SAME, SHOWN, cost_stage
from optimiser.explaining.facts import TRACE
from optimiser.explaining.trial_prices import (
    FAR_PRICE,
    TrialPrices,
    decided_later,
    priced_at_least,
)
from optimiser.solving import CutShortError, Optimum, Session, within

__all__ = ["Nearest", "Staying", "Without", "staying"]

# Times a price at which something changes, to see what it has changed to.
JUST_ABOVE = 1.0 + 1e-5
# Points from which it is told that something moves.
TOLD_MOVE = 0.05
# How many of the things that move are told.
TOLD_MOVES = 5


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
        Where to ask: one with the choices open, or by default with them kept. Where a
        search in it is cut short, what was not looked at by then is left out.

    Notes
    -----
    The cost is a concave function of one price, with the amount as its slope: the
    line from where we stand meets the cost without the ingredient at a price where
    the amount is smaller, and so on to the last piece (Newton's method, finite).
    Where an aim after the cost decides what is shown, within room that the cost is
    left, prices are found by asking anew (see `trial_prices`).
    """
    session = session or optimum.session
    stage = cost_stage(session)
    if stage is None:
        return ()
    nearest = Nearest(optimum, kept=session is optimum.session)
    found = []
    try:
        with within(None) as patience:
            session.aim_at(stage, optimum.tops)
            for column, key in enumerate(session.programme.ingredients):
                price = catalogue.price_per_kg(key)
                if optimum.amounts[column] <= TRACE or price is None:
                    continue
                told = _looked_at(optimum, catalogue, session, nearest, column, price)
                if patience.cut:
                    break
                found.append(told)
            session.run()
    except CutShortError:
        pass  # those that were looked at by then are told
    return tuple(found)


def _looked_at(
    optimum: Optimum,
    catalogue: Catalogue,
    session: Session,
    nearest: Nearest,
    column: int,
    price: float,
) -> Staying:
    """Return what an ingredient that is in is told of; the session aims at cost."""
    key, stage = session.programme.ingredients[column], session.stage
    amount = float(optimum.amounts[column])
    without = nearest.without(column, stage)
    leaves: float | None = None
    if decided_later(session.programme, stage):
        trials = TrialPrices(session.programme, stage, column, price)
        cost = optimum.best[stage]
        if without is not None:
            leaves = trials.falls_below(0.0, cost)
        falls = _searched_fall(trials, amount, cost)
    else:
        if without is not None:
            leaves = _leaving_price(session, column, price, without.value)
        falls = _first_fall(session, column, price, amount, leaves)
    moves: tuple[tuple[str, float], ...] = ()
    if without is not None:
        moves = _moves(optimum, column, without.amounts, catalogue)
    name = catalogue.ingredients[key].name
    return Staying(key, name, amount, price, *falls, leaves, moves)


def _searched_fall(
    trials: TrialPrices, amount: float, cost: float
) -> tuple[float | None, float | None]:
    """Return the price above which less is shown, and how much that is."""
    above = trials.falls_below(amount - SHOWN, cost) if amount >= SHOWN else None
    if above is None:
        return None, None
    return above, _weighed(trials.amount(above * JUST_ABOVE))


def _weighed(percent: float | None) -> float | None:
    """Return an amount, or 0 for the dust that a solver leaves of one."""
    return 0.0 if percent is not None and percent <= TRACE else percent


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
    session: Session,
    column: int,
    price: float,
    amount: float,
    leaves: float | None,
) -> tuple[float | None, float | None]:
    """Return the price at which an amount first falls, and to what.

    From far off, the line through the cost there meets the line from here, as steep
    as the amount shown, at a price nearer to the first break, and so on until it lies
    on the line from here. A fall too small to weigh out is passed over: what comes
    after it is looked at. (Of formulas that tie the solver may stand at another than
    the one shown, so its amount is no slope to begin with.)
    """
    try:
        now = _at_price(session, column, price)
        if now is None:
            return None, None
        none = FAR_PRICE * priced_at_least(price, now[0])
        end = none if leaves is None else leaves * (1.0 + 1e-6)
        here, start, far = price, (now[0], amount), end
        for _ in range(120):
            there = _at_price(session, column, far)
            if there is None:
                break
            straight = start[0] + start[1] * (far - here) / 100.0
            slope = (start[1] - there[1]) / 100.0
            if straight - there[0] > SAME * max(1.0, abs(straight)):
                if slope <= 0.0:
                    break
                far = max(here, far - (straight - there[0]) / slope)
                continue
            if far >= 0.999 * none:
                break
            after = _at_price(session, column, far * JUST_ABOVE)
            if after is None or amount - after[1] >= SHOWN:
                return far, None if after is None else _weighed(after[1])
            here, start, far = far * JUST_ABOVE, after, end
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


def _moves(
    optimum: Optimum, column: int, amounts: Floats, catalogue: Catalogue
) -> tuple[tuple[str, float], ...]:
    """Return what else moves where an ingredient leaves, in points, at most five."""
    keys = optimum.session.programme.ingredients
    moves = amounts[: len(keys)] - optimum.amounts[: len(keys)]
    order = [int(i) for i in np.argsort(-np.abs(moves)) if abs(moves[i]) > TOLD_MOVE]
    told = [i for i in order if i != column]
    return tuple(
        (catalogue.ingredients[keys[i]].name, float(moves[i]))
        for i in told[:TOLD_MOVES]
    )


# Room left to an aim for the next ones, of itself: more where choices are searched for.
HELD, SEARCHED = 1e-10, 1e-8


class Without(Struct, frozen=True, eq=False):
    """A formula without an ingredient, and what it comes to in one of the aims."""

    value: float
    amounts: Floats


class Nearest:
    """An answer's question with a last aim more: to move as little as can be.

    Many formulas may do equally well; two oils of one price can be swapped in each. Of
    these the one nearest to the answer moves only what has to move.

    Parameters
    ----------
    kept : bool
        Whether the choices are kept as they are in the answer.
    """

    def __init__(self, optimum: Optimum, *, kept: bool) -> None:
        self._optimum = optimum
        programme = _with_moves(optimum.session.programme, optimum.amounts)
        self._session = Session(programme)
        if programme.whole and kept:
            more = len(programme.columns) - optimum.amounts.size
            choices = np.append(optimum.amounts, np.zeros(more))
            for stage in range(len(programme.goals)):
                self._session.keep_choices(stage, choices)
        self._room = SEARCHED if programme.whole and not kept else HELD
        if not programme.whole:
            self._session.run()  # from its corner the others are near

    def without(self, column: int, stage: int) -> Without | None:
        """Return the formula without an ingredient; None if it is needed.

        The aims before number ``stage`` are held as in the answer, the others solved
        for in order.
        """
        session = self._session
        session.bound(column, 0.0, 0.0)
        try:
            return self._in_order(stage)
        finally:
            session.unbound(column)

    def _in_order(self, stage: int) -> Without | None:
        session = self._session
        tops = list(self._optimum.tops[:stage])
        found: Without | None = None
        for number, goal in enumerate(session.programme.goals[stage:], start=stage):
            session.aim_at(number, tops)
            if not session.run():
                break  # held too tightly for rounding: what came before it stands
            best, amounts = session.objective(), session.corner().amounts
            found = Without(best if found is None else found.value, amounts)
            tops.append(best + goal.slack + self._room * max(1.0, abs(best)))
        return found


def _with_moves(programme: Programme, amounts: Floats) -> Programme:
    """Return a programme with the least sum of absolute moves as its last aim."""
    columns, links = list(programme.columns), list(programme.links)
    moved = []
    for column, key in enumerate(programme.ingredients):
        at, here = len(columns), float(amounts[column])
        columns.append(Column("from the answer", key))
        moved.append((at, 1.0))
        up, down = (
            Row.of([(column, 1.0), (at, -1.0)]),
            Row.of([(column, 1.0), (at, 1.0)]),
        )
        links += [Link(up, -math.inf, here), Link(down, here, math.inf)]
    last = Goal("nearest", "points", Row.of(moved))
    return replace(
        programme,
        columns=tuple(columns),
        links=tuple(links),
        goals=(*programme.goals, last),
    )
