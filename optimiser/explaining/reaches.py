"""Where a limit stands, and how far a slope holds as it moves on.

A straight rule's goal lies on its first piece up to where it breaks; a window's price
has no such end, and holds to where it has drifted by a little (decision 4).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats
from optimiser.domain.rule import natural
from optimiser.solving import Session, SolverError
from optimiser.solving.session import FAR

__all__ = [
    "NOTCH",
    "SMALLEST",
    "STEP",
    "WAYS",
    "Standing",
    "idle_reach",
    "is_curved",
    "known_reaches",
    "noise_of",
    "reach_of",
    "reaches_within",
    "scale_of",
    "straight_reach",
    "value_at",
    "within_natural",
]

# The first step, and the least, in parts of `scale_of`.
STEP = 1e-3
SMALLEST = 1e-6


class Standing(Struct, frozen=True):
    """Where a limit stands: the rule's number, its limit, and the goal there."""

    rule: int
    limit: float
    value: float


def is_curved(session: Session, number: int) -> bool:
    """Whether the goal bends along a rule's limit: it moves more than bounds."""
    rules = session.programme.rules
    return any(rules[each].curved for each in session.together(number))


def value_at(session: Session, number: int, limit: float) -> float | None:
    """Return the goal with a limit moved, or None where no formula can be found.

    So close to an edge that rounding decides, the solver may not say which it is: that
    is a place to stop like the edge itself.
    """
    rule = session.programme.rules[number]
    if rule.logarithmic and limit <= 0.0:
        return None
    session.move(number, limit)
    try:
        return session.objective() if session.run() else None
    except SolverError:
        session.start_afresh()
        return None


def noise_of(here: Standing) -> float:
    """Return what the goal may be off where it has not moved, from corner to corner."""
    return 1e-7 + 3e-8 * abs(here.value)


def scale_of(session: Session, here: Standing) -> float:
    """Return what steps are parts of: the limit, or one unit if it is smaller."""
    return max(1.0, abs(session.programme.rules[here.rule].limit))


WAYS = (-1.0, 1.0)  # down, up
# How far the price of a window may drift before "holds to" ends.
DRIFT = 0.02
CROSSED = 0.1  # of that: a price that has left its line by so much has left it
# A price that ends so soon, in units of the limit, is looked at for what comes after.
NOTCH = 0.1
NEAR = 5e-3  # to what part of itself that step is found


def known_reaches(
    session: Session, known: Mapping[int, float]
) -> dict[tuple[int, float], float]:
    """Return how far each known slope holds, by rule and direction, in units.

    It ends where the limit means nothing any more. Nothing where the corner does not
    tell; see `Session.bound_ranges`.
    """
    ranges = session.bound_ranges() if known else None
    return {} if ranges is None else reaches_within(session, known, ranges)


def reaches_within(
    session: Session, numbers: Iterable[int], ranges: tuple[Floats, Floats]
) -> dict[tuple[int, float], float]:
    """Return how far limits move while their rows' bounds stay within ranges.

    Told of straight rules that move alone, by rule and direction, in units.
    """
    rules = session.programme.rules
    numbers = [
        number
        for number in numbers
        if session.together(number) == (number,) and rules[number].per_constant > 0.0
    ]
    limits = np.array([rules[number].limit for number in numbers])
    per = np.array([rules[number].per_constant for number in numbers])
    low, high = (bounds[numbers] / per for bounds in ranges)
    far = FAR * np.maximum(1.0, np.abs(limits))
    low[limits - low >= far], high[high - limits >= far] = -math.inf, math.inf
    # Where a limit means nothing any more; between 0 and 100 it always does.
    for place in np.flatnonzero((low < 0.0) | (high > 100.0)):
        least, most = natural(rules[numbers[place]])
        low[place], high[place] = max(low[place], least), min(high[place], most)
    both = np.maximum(0.0, (limits - low, high - limits)).tolist()
    return {
        (number, direction): reach
        for direction, reaches in zip(WAYS, both, strict=True)
        for number, reach in zip(numbers, reaches, strict=True)
    }


def reach_of(session: Session, here: Standing, direction: float, slope: float) -> float:
    """Return how far a slope holds: exactly, or to DRIFT by walking the limit."""
    exact = straight_reach(session, here, direction, slope)
    if exact is not None and not (session.has_tangents and exact < NOTCH):
        return exact
    # A straight rule of the model that begins to hold often changes next to nothing.
    walked = _walk(session, here, direction, slope)
    return walked if exact is None else max(exact, walked)


def straight_reach(
    session: Session, here: Standing, direction: float, slope: float
) -> float | None:
    """Return how far a slope holds; None for a window, or where the solver is lost."""
    if is_curved(session, here.rule):
        return None
    try:
        exact = session.reach(here.rule, direction, slope, here.value)
    except SolverError:
        session.start_afresh()
        return None
    return within_natural(session, here, direction, exact)


def within_natural(
    session: Session, here: Standing, direction: float, reach: float
) -> float:
    """Return a reach that ends where the limit means nothing any more."""
    end = natural(session.programme.rules[here.rule])[direction > 0.0]
    return min(reach, max(0.0, direction * (end - here.limit)))


def idle_reach(session: Session, here: Standing, direction: float) -> float:
    """Return how far a limit moves before the goal, idle so far, begins to answer.

    The limit stands where it stood afterwards.
    """
    exact = straight_reach(session, here, direction, 0.0)
    if exact is not None:
        return exact
    scale, noise = scale_of(session, here), noise_of(here)

    def answers(step: float) -> bool:
        value = value_at(session, here.rule, here.limit + direction * step)
        return value is None or abs(value - here.value) > noise

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
        session.move(here.rule, here.limit)
    return good


def _walk(session: Session, here: Standing, direction: float, slope: float) -> float:
    """Return how far a window's price holds, to DRIFT.

    Steps grow by what the drift so far lets hope for, two to four times; then the
    step where the drift is DRIFT is closed in on, along a line and by halving.
    """
    scale = scale_of(session, here)
    low, high = natural(session.programme.rules[here.rule])

    def drift(step: float) -> float:
        """Return by what part the goal has left the straight line, in DRIFTs."""
        limit, straight = here.limit + direction * step, slope * step
        value = None
        if low <= limit <= high:
            value = value_at(session, here.rule, limit)
        if value is None:
            return math.inf
        return (value - here.value - straight) / (DRIFT * abs(straight))

    def holds(found: float, before: float) -> bool:
        """Whether it is near the line still, and not again, from its other side."""
        crossed = found * before < 0.0 and abs(before) > CROSSED
        return abs(found) <= 1.0 and not crossed

    try:
        good, bad = (0.0, 0.0), (STEP * scale, drift(STEP * scale))
        while holds(bad[1], good[1]):
            step = bad[0] * min(4.0, max(2.0, 1.0 / max(abs(bad[1]), 1e-9)))
            good, bad = bad, (step, drift(step))
            if bad[0] > 1e3 * scale:
                return math.inf
        for halve in itertools.cycle((False, False, True)):  # a kink bends no line
            if bad[0] - good[0] <= max(NEAR * bad[0], SMALLEST * scale):
                break
            step = (good[0] + bad[0]) / 2.0 if halve else _between(good, bad)
            found = (step, drift(step))
            good, bad = (found, bad) if holds(found[1], good[1]) else (good, found)
    finally:
        session.move(here.rule, here.limit)
    return good[0]


def _between(good: tuple[float, float], bad: tuple[float, float]) -> float:
    """Return a step between two, near where a straight line reaches a drift of 1."""
    width, middle = bad[0] - good[0], (good[0] + bad[0]) / 2.0
    most, least = abs(bad[1]), abs(good[1])
    if math.isinf(most) or most <= 1.0:
        return middle
    guess = good[0] + width * (1.0 - least) / (most - least)
    # Half a tolerance past the guess, so that the farther end comes near as well.
    guess += math.copysign(NEAR / 2.0 * bad[0], middle - guess)
    return min(max(guess, good[0] + width / 20.0), bad[0] - width / 20.0)
