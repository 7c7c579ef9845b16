"""How a goal changes as one limit moves: one side at a time, and how far.

A side is the true one-sided slope: the limit is moved a little and the question
solved again, until the straight line there leads back to where the limit stands. That
is right at corners where a solver's own price is only one of many (decision 4).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats
from optimiser.explaining.reaches import (
    NOTCH,
    SMALLEST,
    STEP,
    WAYS,
    Standing,
    is_curved,
    known_reaches,
    noise_of,
    reach_of,
    reaches_within,
    scale_of,
    value_at,
)
from optimiser.solving import Session

__all__ = [
    "Slope",
    "known_sides",
    "known_slopes",
    "one_sided",
    "round_limit",
    "slope_at",
]

SHRINK = 8.0  # from one step to the next shorter one
FLAT = 1e-9  # a slope below it is none
LITTLE = 1e-4  # of a limit: nobody moves one by less
NOTHING = 1e-9  # of a limit: room that is rounding
JUMPED = 1e-3  # of an aim: more than the smallest step changes where it does not jump
BENT = (
    0.005  # a window's step is short enough where half of it tells so nearly the same
)


class Slope(Struct, frozen=True):
    """Change of a goal per unit moved; ``reach`` in units, ``inf`` without end.

    ``slope`` is endless where the goal changes by a jump.
    """

    slope: float
    reach: float


def round_limit(limit: float) -> float:
    """Return a round limit where rounding in the solver has only just missed it."""
    near = round(limit, 4) + 0.0
    return near if abs(limit - near) < 2e-6 else limit


def known_slopes(session: Session, numbers: Iterable[int]) -> dict[int, float]:
    """Return the goal's change per unit of each limit, where the corner tells it.

    It does when the corner has one set of prices and the limit moves only a bound.
    """
    numbers = [number for number in numbers if not is_curved(session, number)]
    if not numbers or not session.prices_are_unique():
        return {}
    prices = session.corner().row_prices
    return {number: _at_prices(session, number, prices) for number in numbers}


def known_sides(
    session: Session, numbers: Collection[int]
) -> dict[tuple[int, float], tuple[float, float | None]]:
    """Return what the corner tells of moving limits, by rule and direction.

    That is the goal's change per unit of the limit, and how far it holds (None where
    it is not told). A corner with more than one set of prices is asked one way at a
    time: its own are right as far as it stays, if that is the first step at least.
    """
    hair = _all_but_met(session, numbers)
    numbers = [number for number in numbers if number not in hair]
    known = known_slopes(session, numbers)
    if known:
        ends = known_reaches(session, known)
        return {
            (number, direction): (slope, ends.get((number, direction)))
            for number, slope in known.items()
            for direction in WAYS
        }
    straight = [number for number in numbers if not is_curved(session, number)]
    ranges = session.corner_ranges() if straight else None
    if ranges is None:
        return {}
    prices, rules = session.corner().row_prices, session.programme.rules
    # Short of that, the goal may go on as it does; see also `reach_of`.
    enough = NOTCH if session.has_tangents else 0.0
    least_told = enough if session.answer_is_unique() else math.inf
    found: dict[tuple[int, float], tuple[float, float | None]] = {}
    for key, reach in reaches_within(session, straight, ranges).items():
        if reach >= STEP * max(1.0, abs(rules[key[0]].limit)):
            slope = _at_prices(session, key[0], prices)
            found[key] = slope, reach if reach >= least_told else None
    return found


def _all_but_met(session: Session, numbers: Iterable[int]) -> set[int]:
    """Return rules with a hair's breadth of room at the corner, which tells nothing.

    They count as binding, and a bend so near is taken to be at the limit.
    """
    places = np.array(list(numbers), dtype=np.intp)
    arrays, rules = session.arrays, session.programme.rules
    activity = session.activity()[places]
    low, high = arrays.row_lower[places], arrays.row_upper[places]
    room = np.minimum(activity - low, high - activity)
    if not (within := room > 0.0).any():
        return set()
    found = set()
    for number, each in zip(places[within].tolist(), room[within], strict=True):
        rule = rules[number]
        whole = rule.per_constant * max(1.0, abs(rule.limit))
        if NOTHING * whole < each < SMALLEST * whole and not is_curved(session, number):
            found.add(number)
    return found


def _at_prices(session: Session, number: int, prices: Floats) -> float:
    """Return the goal's change per unit of a straight limit, at a corner's prices."""
    rules = session.programme.rules
    return sum(
        float(prices[each]) * rules[each].per_constant
        for each in session.together(number)
    )


def slope_at(
    session: Session,
    here: Standing,
    direction: float,
    known: float | None = None,
    reach: float | None = None,
) -> Slope | None:
    """Return the one-sided slope of the current goal; None if it cannot move.

    Parameters
    ----------
    here : Standing
        Where the limit stands in the session; it stands there again afterwards.
    direction : float
        +1 or -1: which way the limit moves.
    known, reach : float, optional
        The goal's change per unit of the limit, and how far it holds, where the corner
        tells them.
    """
    slope = one_sided(session, here, direction, known)
    if slope is None:
        return None
    if slope == 0.0 or math.isinf(slope):
        return Slope(slope, 0.0 if slope else math.inf)
    if known is not None and reach is not None:
        return Slope(slope, reach)
    reach = reach_of(session, here, direction, slope)
    if reach < LITTLE * scale_of(session, here) and _is_edge(session, here, direction):
        return None
    return Slope(slope, reach)


def _is_edge(session: Session, here: Standing, direction: float) -> bool:
    """Whether a little further there is no formula: rounding alone went so far.

    Of a later aim that is not told: those before it may give way.
    """
    if session.stage:
        return False
    try:
        little = LITTLE * scale_of(session, here)
        return value_at(session, here.rule, here.limit + direction * little) is None
    finally:
        session.move(here.rule, here.limit)


def one_sided(
    session: Session, here: Standing, direction: float, known: float | None = None
) -> float | None:
    """Return the slope alone; see :func:`slope_at`. Endless where the goal jumps."""
    if known is not None:
        return 0.0 if abs(known) <= FLAT else direction * known
    found = _by_steps if is_curved(session, here.rule) else _from_beyond
    try:
        slope = found(session, here, direction)
        if slope is None and _eases(session, here.rule, direction):
            session.start_afresh()  # easing always leaves a formula: look again
            slope = found(session, here, direction)
    finally:
        session.move(here.rule, here.limit)
    return slope


def _eases(session: Session, number: int, direction: float) -> bool:
    side = session.programme.rules[number].side
    return (side == "max" and direction > 0.0) or (side == "min" and direction < 0.0)


def _from_beyond(session: Session, here: Standing, direction: float) -> float | None:
    """Return the slope of the straight piece that begins here; None if none does.

    Inside a piece the corner's price of the limit is its slope, to the last digit and
    however many sets of prices there are; and the goal being convex, the piece begins
    here if its line leads back to here. A bend too near for that is taken to be here.
    """
    scale = scale_of(session, here)
    step, slope = STEP * scale, None
    while step >= SMALLEST * scale:
        value = value_at(session, here.rule, here.limit + direction * step)
        if value is not None:
            prices = session.corner().row_prices
            slope = direction * _at_prices(session, here.rule, prices)
            if abs(value - slope * step - here.value) <= noise_of(here):
                break
        step /= SHRINK
    return 0.0 if slope is not None and abs(slope) <= FLAT else slope


def _by_steps(session: Session, here: Standing, direction: float) -> float | None:
    """Return the slope of a window's curve; None if no step leaves a formula.

    By ever smaller steps, until half of one tells nearly the same. What the smallest
    still changes by more than JUMPED is a jump, and its slope endless.
    """
    scale, noise = scale_of(session, here), noise_of(here)
    step = STEP * scale
    for longer in (1.0, 10.0, 100.0):  # a price can be too low for a short step
        far = value_at(session, here.rule, here.limit + direction * longer * step)
        if far is None or abs(far - here.value) > noise:
            break
    else:
        return 0.0
    step *= 1.0 if far is None else longer
    slope = None
    while step >= SMALLEST * scale:
        if far is None:
            far = value_at(session, here.rule, here.limit + direction * step)
        half = None
        if far is not None:
            half = value_at(session, here.rule, here.limit + direction * step / 2)
        if far is not None and half is not None:
            whole, part = far - here.value, half - here.value
            if abs(whole) <= noise:
                return 0.0
            if abs(whole - 2.0 * part) <= noise + BENT * abs(whole):
                # One step of Richardson's extrapolation.
                return (4.0 * part - whole) / step
            slope = (
                math.copysign(math.inf, whole) if abs(part) > JUMPED else whole / step
            )
        step, far = step / SHRINK, None
    return slope
