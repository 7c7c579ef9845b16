"""How a goal changes as one limit moves: one side at a time, and how far.

A side is the true one-sided slope: the limit is moved a little and the question
solved again, then half as far, until the two agree. That is right at corners where
a solver's own price is only one of many (decision 4).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping

from msgspec import Struct

from optimiser.solving import Session, SolverError
from optimiser.solving.session import FAR

__all__ = [
    "Place",
    "Slope",
    "idle_reach",
    "known_reaches",
    "known_slopes",
    "slope_at",
    "tidy",
    "value_at",
]

# First step, in parts of the limit (or of one unit, if the limit is smaller).
STEP = 1e-3
SHRINK = 8.0
SMALLEST = 1e-6
# How far the price of a window may drift before "holds to" ends.
DRIFT = 0.02
# A price that ends so soon, in units of the limit, is looked at for what comes after.
NOTCH = 0.1
NEAR = 5e-3  # to what part of itself that step is found


class Slope(Struct, frozen=True):
    """Change of a goal per unit moved; ``reach`` in units, ``inf`` without end."""

    slope: float
    reach: float


class Place(Struct, frozen=True):
    """Where a limit stands: the rule's number, its limit, and the goal there."""

    rule: int
    limit: float
    value: float


def tidy(limit: float) -> float:
    """Return a round limit where rounding in the solver has only just missed it."""
    near = round(limit, 4) + 0.0
    return near if abs(limit - near) < 2e-6 else limit


def known_slopes(session: Session, numbers: Iterable[int]) -> dict[int, float]:
    """Return the goal's change per unit of each limit, where the corner tells it.

    It does when the corner has one set of prices and the limit moves only a bound.
    """
    numbers = list(numbers)
    if not numbers or not session.prices_are_unique():
        return {}
    prices = session.corner().row_prices
    rules = session.programme.rules
    return {
        number: sum(
            float(prices[each]) * rules[each].per_constant
            for each in session.together(number)
        )
        for number in numbers
        if not any(rules[each].curved for each in session.together(number))
    }


def known_reaches(
    session: Session, known: Mapping[int, float]
) -> dict[tuple[int, float], float]:
    """Return how far each known slope holds, by rule and direction, in units.

    Nothing where the corner does not tell; see `Session.bound_ranges`.
    """
    ranges = session.bound_ranges() if known else None
    if ranges is None:
        return {}
    found = {}
    for number in known:
        rule = session.programme.rules[number]
        if session.together(number) != (number,) or rule.per_constant <= 0.0:
            continue
        for direction, ends in ((-1.0, ranges[0]), (1.0, ranges[1])):
            reach = direction * (ends[number] / rule.per_constant - rule.limit)
            endless = reach >= FAR * max(1.0, abs(rule.limit))
            found[number, direction] = math.inf if endless else max(0.0, float(reach))
    return found


def value_at(session: Session, number: int, limit: float) -> float | None:
    """Return the goal with a limit moved, or None where no formula is left."""
    rule = session.programme.rules[number]
    if rule.logarithmic and limit <= 0.0:
        return None
    session.move(number, limit)
    return session.objective() if session.run() else None


def slope_at(
    session: Session,
    place: Place,
    direction: float,
    known: float | None = None,
    reach: float | None = None,
) -> Slope | None:
    """Return the one-sided slope of the current goal; None if it cannot move.

    Parameters
    ----------
    place : Place
        Where the limit stands in the session; it stands there again afterwards.
    direction : float
        +1 or -1: which way the limit moves.
    known, reach : float, optional
        The goal's change per unit of the limit, and how far it holds, where the corner
        tells them.
    """
    if known is not None:
        slope = direction * known
        if abs(slope) <= 1e-9:
            return Slope(0.0, math.inf)
        if reach is None:
            return Slope(slope, _reach(session, place, direction, slope))
        return Slope(slope, _natural(session, place, direction, reach))
    try:
        slope_found = _by_steps(session, place, direction)
        if slope_found is None and _eases(session, place.rule, direction):
            session.start_afresh()  # easing always leaves a formula: look again
            slope_found = _by_steps(session, place, direction)
    finally:
        session.move(place.rule, place.limit)
    if slope_found is None or slope_found == 0.0:
        return None if slope_found is None else Slope(0.0, math.inf)
    return Slope(slope_found, _reach(session, place, direction, slope_found))


def _eases(session: Session, number: int, direction: float) -> bool:
    side = session.programme.rules[number].side
    return (side == "max" and direction > 0.0) or (side == "min" and direction < 0.0)


def _by_steps(session: Session, place: Place, direction: float) -> float | None:
    """Return the slope by ever smaller steps; None if no step leaves a formula."""
    rule = session.programme.rules[place.rule]
    scale = max(1.0, abs(rule.limit))
    noise = 1e-7 + 3e-8 * abs(place.value)
    step = STEP * scale
    for longer in (1.0, 10.0, 100.0):  # a price can be too low for a short step
        far = value_at(session, place.rule, place.limit + direction * longer * step)
        if far is None or abs(far - place.value) > noise:
            break
    else:
        return 0.0
    step *= 1.0 if far is None else longer
    while step >= SMALLEST * scale:
        far = value_at(session, place.rule, place.limit + direction * step)
        if far is not None and abs(far - place.value) <= noise:
            return 0.0
        half = None
        if far is not None:
            half = value_at(session, place.rule, place.limit + direction * step / 2)
        if far is not None and half is not None:
            bend = (far - place.value) - 2.0 * (half - place.value)
            straight = 0.05 if rule.curved else 1e-6
            if abs(bend) <= noise + straight * abs(far - place.value):
                slope = (far - place.value) / step
                if rule.curved:  # one step of Richardson's extrapolation
                    slope = 4.0 * (half - place.value) / step - slope
                return slope
        step /= SHRINK
    return None


def _reach(session: Session, place: Place, direction: float, slope: float) -> float:
    """Return how far a slope holds: exactly, or to DRIFT by walking the limit."""
    exact = _straight_reach(session, place, direction, slope)
    if exact is not None and not (session.has_tangents and exact < NOTCH):
        return exact
    # A straight rule of the model that begins to hold often changes next to nothing.
    walked = _walk(session, place, direction, slope)
    return walked if exact is None else max(exact, walked)


def _straight_reach(
    session: Session, place: Place, direction: float, slope: float
) -> float | None:
    """Return how far a slope holds; None for a window, or where the solver is lost."""
    rules = session.programme.rules
    if any(rules[each].curved for each in session.together(place.rule)):
        return None
    try:
        exact = session.reach(place.rule, direction, slope, place.value)
    except SolverError:
        session.start_afresh()
        return None
    return _natural(session, place, direction, exact)


def _natural(session: Session, place: Place, direction: float, reach: float) -> float:
    """Return a reach that leaves no share below nothing."""
    if direction < 0.0 and session.programme.rules[place.rule].unit == "%":
        return min(reach, max(0.0, place.limit))
    return reach


def idle_reach(session: Session, place: Place, direction: float) -> float:
    """Return how far a limit moves before the goal, idle so far, begins to answer."""
    scale = max(1.0, abs(session.programme.rules[place.rule].limit))
    noise = 1e-7 + 3e-8 * abs(place.value)

    def answers(step: float) -> bool:
        value = value_at(session, place.rule, place.limit + direction * step)
        return value is None or abs(value - place.value) > noise

    try:
        good, bad = 0.0, STEP * scale
        while not answers(bad):
            good, bad = bad, 2.0 * bad
            if bad > 1e3 * scale:
                return math.inf
        while bad - good > max(NEAR * bad, SMALLEST * scale):
            middle = (good + bad) / 2.0
            good, bad = (good, middle) if answers(middle) else (middle, bad)
    finally:
        session.move(place.rule, place.limit)
    return good


def _walk(session: Session, place: Place, direction: float, slope: float) -> float:
    """Return how far a window's price holds, to DRIFT.

    Steps grow by what the drift so far lets hope for, two to four times; then the
    step where the drift is DRIFT is closed in on, along a line and by halving.
    """
    rule = session.programme.rules[place.rule]
    scale = max(1.0, abs(rule.limit))

    def drift(step: float) -> float:
        """Return by what part the goal has left the straight line, in DRIFTs."""
        limit, straight = place.limit + direction * step, slope * step
        value = None
        if limit >= 0.0 or rule.unit != "%":  # no share is less than nothing
            value = value_at(session, place.rule, limit)
        if value is None:
            return math.inf
        return abs(value - place.value - straight) / (DRIFT * abs(straight))

    try:
        good, bad = (0.0, 0.0), (STEP * scale, drift(STEP * scale))
        while bad[1] <= 1.0:
            step = bad[0] * min(4.0, max(2.0, 1.0 / max(bad[1], 1e-9)))
            good, bad = bad, (step, drift(step))
            if bad[0] > 1e3 * scale:
                return math.inf
        for halve in itertools.cycle((False, False, True)):  # a kink bends no line
            if bad[0] - good[0] <= max(NEAR * bad[0], SMALLEST * scale):
                break
            step = (good[0] + bad[0]) / 2.0 if halve else _between(good, bad)
            found = (step, drift(step))
            good, bad = (found, bad) if found[1] <= 1.0 else (good, found)
    finally:
        session.move(place.rule, place.limit)
    return good[0]


def _between(good: tuple[float, float], bad: tuple[float, float]) -> float:
    """Return a step between two, near where a straight line reaches a drift of 1."""
    width, middle = bad[0] - good[0], (good[0] + bad[0]) / 2.0
    if math.isinf(bad[1]):
        return middle
    guess = good[0] + width * (1.0 - good[1]) / (bad[1] - good[1])
    # Half a tolerance past the guess, so that the farther end comes near as well.
    guess += math.copysign(NEAR / 2.0 * bad[0], middle - guess)
    return min(max(guess, good[0] + width / 20.0), bad[0] - width / 20.0)
