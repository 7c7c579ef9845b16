"""What each binding rule costs: both sides apart, each with how far it holds.

A side is the true one-sided slope: the limit is moved a little and the question
solved again, then half as far, until the two agree. That is right at corners where
a solver's own price is only one of many (decision 4).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from optimiser.domain.rule import Rule
from optimiser.explaining.answer import Price
from optimiser.solving import Optimum, Session

__all__ = ["Sides", "is_binding", "is_broken", "price_sides"]

# First step, in parts of the limit (or of one unit, if the limit is smaller).
STEP = 1e-3
SHRINK = 8.0
SMALLEST = 1e-6
# How far the price of a window may drift before "holds to" ends.
DRIFT = 0.02


@dataclass(frozen=True, slots=True)
class Sides:
    """Prices of easing and of tightening one rule; None where it cannot move."""

    ease: Price | None
    tighten: Price | None


@dataclass(frozen=True, slots=True)
class Slope:
    """Change of a goal per unit moved; ``reach`` in units, ``inf`` without end."""

    slope: float
    reach: float


def is_binding(rule: Rule, slack: float | None) -> bool:
    """Whether a rule has no room at the answer.

    A rule about nothing (an exclusion that meets no ingredient) does not bind.
    """
    if slack is None or rule.amounts.columns.size == 0:
        return False
    return abs(slack) <= 1e-6 * max(1.0, abs(rule.limit))


def is_broken(rule: Rule, slack: float | None) -> bool:
    """Whether a formula breaks a rule by more than rounding."""
    return slack is not None and slack < -1e-6 * max(1.0, abs(rule.limit))


def price_sides(optimum: Optimum, binding: Sequence[int]) -> dict[int, Sides]:
    """Return the two prices of each binding rule, by the rule's number.

    The aim named is the first that responds, earlier aims held; a rule on choices
    has no price while the choices are kept.

    Parameters
    ----------
    binding : sequence of int
        Numbers of the rules of the programme to price; arithmetic is left alone.
    """
    session = optimum.session
    rules = session.programme.rules
    found: dict[tuple[int, float], tuple[int, Slope | None]] = {}
    waiting = [
        (number, direction)
        for number in binding
        if rules[number].owner != "arithmetic" and rules[number].kind != "choice"
        for direction in (-1.0, 1.0)
    ]
    for stage in range(len(optimum.best)):
        session.aim_at(stage, optimum.tops)
        session.run()
        best = session.objective()
        known = _known_slopes(session, waiting)
        for key in list(waiting):
            slope = _slope(session, key[0], key[1], best, known.get(key[0]))
            found.setdefault(key, (stage, slope))
            if slope is None or slope.slope != 0.0:
                found[key] = (stage, slope)
                waiting.remove(key)
    session.aim_at(len(optimum.best) - 1, optimum.tops)
    session.run()
    return {
        number: _sides(session, rules[number], number, found)
        for number in binding
        if (number, 1.0) in found
    }


def _known_slopes(
    session: Session, waiting: Sequence[tuple[int, float]]
) -> dict[int, float]:
    """Return the goal's change per unit of each limit, where the corner tells it.

    It does when the corner has one set of prices and the limit moves only a bound.
    """
    if not waiting or not session.prices_are_unique():
        return {}
    prices = session.corner().row_prices
    rules = session.programme.rules
    return {
        number: float(prices[number]) * rules[number].per_constant
        for number, _ in waiting
        if not rules[number].curved
    }


def _sides(
    session: Session,
    rule: Rule,
    number: int,
    found: dict[tuple[int, float], tuple[int, Slope | None]],
) -> Sides:
    """Return easing and tightening; a pin eases towards the cheaper side."""
    down, up = (
        _price(session, rule, direction, *found[number, direction])
        for direction in (-1.0, 1.0)
    )
    if rule.side == "min":
        return Sides(ease=down, tighten=up)
    if rule.side == "max":
        return Sides(ease=up, tighten=down)
    if down is None or up is None:
        only = up if down is None else down
        helps = only is not None and only.price <= 0.0
        return Sides(only, None) if helps else Sides(None, only)
    return Sides(down, up) if down.price <= up.price else Sides(up, down)


def _price(
    session: Session, rule: Rule, direction: float, stage: int, slope: Slope | None
) -> Price | None:
    if slope is None:
        return None
    name = session.programme.goals[stage].name
    until = None
    if math.isfinite(slope.reach) and slope.slope != 0.0:
        until = _tidy(rule.limit + direction * slope.reach)
    return Price(name, slope.slope, until)


def _tidy(until: float) -> float:
    """Return a round end where rounding in the solver has only just missed it."""
    near = round(until, 4) + 0.0
    return near if abs(until - near) < 5e-6 * max(1.0, abs(until)) else until


def _slope(
    session: Session,
    number: int,
    direction: float,
    best: float,
    known: float | None,
) -> Slope | None:
    """Return the one-sided slope of the current goal; None if it cannot move."""
    rule = session.programme.rules[number]
    if known is not None:
        slope = direction * known
        if abs(slope) <= 1e-9:
            return Slope(0.0, math.inf)
        return Slope(slope, session.reach(number, direction, slope, best))
    scale = max(1.0, abs(rule.limit))
    noise = 1e-8 * max(1.0, abs(best))
    step = STEP * scale
    try:
        while step >= SMALLEST * scale:
            far = _value(session, number, rule.limit + direction * step)
            if far is None:
                step /= SHRINK
                continue
            if abs(far - best) <= noise:
                return Slope(0.0, math.inf)
            half = _value(session, number, rule.limit + direction * step / 2)
            if half is None:  # convex, so only rounding can do this
                step /= SHRINK
                continue
            bend = (far - best) - 2.0 * (half - best)
            straight = 0.05 if rule.curved else 1e-6
            if abs(bend) <= noise + straight * abs(far - best):
                slope = (far - best) / step
                if rule.curved:
                    slope = 2.0 * (half - best) / (step / 2) - slope
                session.restore(number)
                return Slope(slope, _reach(session, number, direction, slope, best))
            step /= SHRINK
    finally:
        session.restore(number)
    return None


def _value(session: Session, number: int, limit: float) -> float | None:
    """Return the goal with a limit moved, or None where no formula is left."""
    rule = session.programme.rules[number]
    if rule.logarithmic and limit <= 0.0:
        return None
    session.move(number, limit)
    return session.objective() if session.run() else None


def _reach(
    session: Session, number: int, direction: float, slope: float, best: float
) -> float:
    rule = session.programme.rules[number]
    if not rule.curved:
        return session.reach(number, direction, slope, best)
    return _walk(session, number, direction, slope, best)


def _walk(
    session: Session, number: int, direction: float, slope: float, best: float
) -> float:
    """Return how far a window's price holds, to DRIFT, by doubling and halving."""
    rule = session.programme.rules[number]
    scale = max(1.0, abs(rule.limit))

    def holds(step: float) -> bool:
        value = _value(session, number, rule.limit + direction * step)
        straight = slope * step
        return value is not None and abs(value - best - straight) <= DRIFT * abs(
            straight
        )

    good, bad = 0.0, STEP * scale
    while holds(bad):
        good, bad = bad, 4.0 * bad
        if bad > 1e3 * scale:
            return math.inf
    while bad - good > 5e-3 * bad:
        middle = (good + bad) / 2.0
        good, bad = (middle, bad) if holds(middle) else (good, middle)
    session.restore(number)
    return good
