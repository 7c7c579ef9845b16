"""The whole price curve of a rule: the aim as its limit moves.

It goes from break point to break point and is exact; the curve of a window, which
is not made of straight pieces, is refined until straight lines fit it.
"""

from __future__ import annotations

import math
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.rule import Programme
from optimiser.explaining.slopes import Place, known_slopes, slope_at, tidy, value_at
from optimiser.solving import Infeasible, Optimum, Session, optimise

__all__ = ["Curve", "Point", "price_curve", "true_value"]

MOST_POINTS = 200
# How far a straight line between two points of a window's curve may miss it, but for
# a jump, which is held between two limits so close together.
TOLERANCE = 1e-3
JUMP = 1e-6
# A bend that hides between two points is looked for from this many pieces on.
SEGMENTS = 8


class Point(Struct, frozen=True):
    """The aim with the limit there."""

    limit: float
    value: float


class Curve(Struct, frozen=True):
    """A rule's price curve.

    Attributes
    ----------
    of, unit : str
        The aim that moves and its unit; earlier aims are held.
    points : tuple of Point
        Break points in order of the limit, straight between them.
    tolerance : float
        0 where the curve is exact; else what straight lines may miss it by.
    low_end, high_end : str
        Why it ends there: "no formula beyond", "straight on" or "as asked".
    choices_kept : bool
        Whether the chosen ingredients were kept.
    """

    of: str
    unit: str
    points: tuple[Point, ...]
    tolerance: float
    low_end: str
    high_end: str
    choices_kept: bool


def price_curve(
    optimum: Optimum,
    number: int,
    low: float | None = None,
    high: float | None = None,
) -> Curve:
    """Return the first aim that responds to a rule, as its limit moves.

    Parameters
    ----------
    number : int
        The rule's number in the programme.
    low, high : float, optional
        Where to stop, in the rule's unit; by default where no formula is left or
        nothing changes any more (for a window, a quarter of its limit away).
    """
    session = optimum.session
    rule = session.programme.rules[number]
    walk = _refined if rule.curved else _walked
    best: Curve | None = None
    for stage, goal in enumerate(session.programme.goals):
        session.aim_at(stage, optimum.tops)
        session.run()
        here = Place(number, rule.limit, session.objective())
        try:
            below, low_end = walk(session, here, -1.0, low)
            session.move(number, rule.limit)
            session.run()
            above, high_end = walk(session, here, 1.0, high)
        finally:
            session.restore(number)
        points = (*reversed(below), Point(here.limit, here.value), *above)
        tolerance = TOLERANCE if rule.curved else 0.0
        whole = session.programme.whole
        best = Curve(goal.name, goal.unit, points, tolerance, low_end, high_end, whole)
        if max(p.value for p in points) - min(p.value for p in points) > 1e-7:
            break
    session.aim_at(len(optimum.best) - 1, optimum.tops)
    session.run()
    if best is None:  # a programme always has an aim
        raise ValueError("the question has no aim")
    return best


def true_value(
    programme: Programme, number: int, limit: float, aim: str
) -> float | None:
    """Return an aim with a limit moved and everything chosen anew; None if no formula.

    Aims before it are solved anew as well, so it is the answer that `formulate`
    would give.
    """
    rules = list(programme.rules)
    rules[number] = replace(rules[number], limit=limit)
    found = optimise(replace(programme, rules=tuple(rules)))
    if isinstance(found, Infeasible):
        return None
    names = [goal.name for goal in programme.goals]
    return found.best[names.index(aim)]


def _walked(
    session: Session, here: Place, direction: float, end: float | None
) -> tuple[list[Point], str]:
    """Return break points in one direction, each a straight piece from the last."""
    points: list[Point] = []
    at = here
    while len(points) < MOST_POINTS:
        known = known_slopes(session, [at.rule]).get(at.rule)
        slope = slope_at(session, at, direction, known)
        if slope is None:
            return points, "no formula beyond"
        reach = slope.reach
        if slope.slope == 0.0:
            reach = session.reach(at.rule, direction, 0.0, at.value)
        stop = tidy(at.limit + direction * reach)
        if end is not None and direction * (stop - end) >= 0.0:
            length = direction * (end - at.limit)
            points.append(Point(end, at.value + slope.slope * length))
            return points, "as asked"
        if math.isinf(reach):
            return points, "straight on"
        value = value_at(session, at.rule, stop)
        if value is None:  # the very edge, missed by rounding
            points.append(Point(stop, at.value + slope.slope * reach))
            return points, "no formula beyond"
        points.append(Point(stop, value))
        at = Place(at.rule, stop, value)
    return points, "as asked"


def _refined(
    session: Session, here: Place, direction: float, end: float | None
) -> tuple[list[Point], str]:
    """Return points of a window's curve, halved until straight lines fit it."""
    span = max(0.25 * abs(here.limit), 1.0)
    stop = here.limit + direction * span if end is None else end
    edge, reason = _edge(session, here, stop)
    if edge is None:
        return [], "no formula beyond"
    points = [Point(here.limit, here.value)]
    for share in range(1, SEGMENTS):
        limit = here.limit + share / SEGMENTS * (edge.limit - here.limit)
        value = value_at(session, here.rule, limit)
        if value is not None:
            points.append(Point(limit, value))
    points.append(edge)
    waiting = list(pairwise(points))
    while waiting and len(points) < MOST_POINTS:
        left, right = waiting.pop()
        middle = (left.limit + right.limit) / 2.0
        value = value_at(session, here.rule, middle)
        if value is None:
            continue
        point = Point(middle, value)
        points.append(point)
        bend = abs(value - (left.value + right.value) / 2.0)
        if bend > TOLERANCE / 3.0 and abs(right.limit - left.limit) > JUMP * span:
            waiting += [(left, point), (point, right)]
    points.sort(key=lambda point: direction * point.limit)
    return _thinned(points)[1:], reason


def _thinned(points: list[Point]) -> list[Point]:
    """Return points without those that a straight line between neighbours meets."""
    kept = points[:1]
    for here, after in pairwise(points[1:]):
        before = kept[-1]
        share = (here.limit - before.limit) / (after.limit - before.limit)
        straight = before.value + share * (after.value - before.value)
        if abs(here.value - straight) > 1e-8:
            kept.append(here)
    return [*kept, points[-1]]


def _edge(session: Session, here: Place, stop: float) -> tuple[Point | None, str]:
    """Return the point at ``stop``, or the last before it that leaves a formula."""
    value = value_at(session, here.rule, stop)
    if value is not None:
        return Point(stop, value), "as asked"
    good, bad, found = here.limit, stop, None
    for _ in range(30):
        middle = (good + bad) / 2.0
        value = value_at(session, here.rule, middle)
        if value is None:
            bad = middle
        else:
            good, found = middle, Point(middle, value)
    return found, "no formula beyond"
