"""The whole price curves of a rule: each aim as the rule's limit moves, walked.

A curve goes from break point to break point and is exact; the curve of a window, which
is not made of straight pieces, is refined until straight lines fit it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.rule import natural
from optimiser.explaining.reaches import (
    Standing,
    idle_reach,
    is_curved,
    reach_of,
    straight_reach,
    value_at,
)
from optimiser.explaining.slopes import known_slopes, one_sided
from optimiser.solving import Optimum, Session

__all__ = [
    "GIVES_WAY",
    "NOTHING",
    "STANDS",
    "STRAIGHT_ON",
    "Leg",
    "PriceCurve",
    "PricePoint",
    "legs",
    "price_curves",
]

NOTHING = "no formula beyond"
GIVES_WAY = "an earlier aim gives way"
STRAIGHT_ON = "straight on"
MOVED = 1e-7  # an aim that differs by no more has not moved
# Limits closer than this to where a limit stands are where it stands.
STANDS = 2e-6
# What is just beyond the end of a curve, in parts of the limit.
BEYOND = 1e-5


class PricePoint(Struct, frozen=True):
    """The aim with the limit there."""

    limit: float
    value: float


class PriceCurve(Struct, frozen=True):
    """One aim along a rule's limit.

    Attributes
    ----------
    of, unit : str
        The aim and its unit; earlier aims are held, so that where one of them has to
        give way this curve ends.
    points : tuple of PricePoint
        Break points in order of the limit, straight between them.
    tolerance : float
        0 where the curve is exact; else what straight lines may miss it by.
    low_end, high_end : str
        Why it ends there: "no formula beyond", "an earlier aim gives way", "straight
        on", "as asked" or "no limit beyond" (a share below 0, say).
    choices_kept : bool
        Whether the chosen ingredients were kept.
    """

    of: str
    unit: str
    points: tuple[PricePoint, ...]
    tolerance: float
    low_end: str
    high_end: str
    choices_kept: bool

    def side(self, limit: float, direction: float) -> tuple[PricePoint, ...]:
        """Return the points on one side of a limit, the nearest first."""
        beyond = [p for p in self.points if direction * (p.limit - limit) > STANDS]
        return tuple(sorted(beyond, key=lambda point: direction * point.limit))

    def starts(self, limit: float, direction: float) -> float:
        """Return how far from a limit the aim begins to move; endless if nowhere."""
        here = next(p.value for p in self.points if p.limit == limit)
        flat = 0.0
        for point in self.side(limit, direction):
            if abs(point.value - here) > MOVED:
                return flat
            flat = abs(point.limit - limit)
        return math.inf


class Leg(Struct, frozen=True):
    """An aim along one side of a limit, the nearest point first, and how it ends."""

    curve: PriceCurve
    points: tuple[PricePoint, ...]
    end: str


def legs(
    curves: Sequence[PriceCurve], limit: float, direction: float
) -> tuple[Leg, ...]:
    """Return what tells one side of a limit: the first aim that responds, as a price.

    Where an earlier aim has to give way further on, a second leg tells that one from
    there. Nothing responds where there is none.
    """
    moved = [c for c in curves if math.isfinite(c.starts(limit, direction))]
    if not moved:
        return ()
    told = min(moved, key=lambda curve: curve.starts(limit, direction))
    first = _leg(told, limit, direction)
    earlier = moved[: moved.index(told)]
    if not earlier:
        return (first,)
    last = max(direction * p.limit for p in first.points) + STANDS
    second = _leg(earlier[0], limit, direction)
    beyond = tuple(p for p in second.points if direction * p.limit > last)
    return (first, replace(second, points=beyond)) if beyond else (first,)


def _leg(curve: PriceCurve, limit: float, direction: float) -> Leg:
    end = curve.low_end if direction < 0.0 else curve.high_end
    return Leg(curve, curve.side(limit, direction), end)


MOST_POINTS = 200
# How far a straight line between two points of a window's curve may miss it, but for
# a jump, which is held between two limits so close together.
TOLERANCE = 1e-3
JUMP = 1e-6
# A bend that hides between two points is looked for from this many pieces on.
SEGMENTS = 8


def price_curves(
    optimum: Optimum,
    number: int,
    low: float | None = None,
    high: float | None = None,
) -> tuple[PriceCurve, ...]:
    """Return the aims, in order, along a rule's limit.

    The last is the first by which something has responded at once on both sides, as
    far as the limit can move; later ones are not looked at.

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
    curved = is_curved(session, number)
    walk = _refined if curved else _walked
    curves: list[PriceCurve] = []
    for stage, goal in enumerate(session.programme.goals):
        session.aim_at(stage, optimum.tops)
        session.run()
        here = Standing(number, rule.limit, session.objective())
        try:
            below, low_end = walk(session, here, -1.0, low)
            session.move(number, rule.limit)
            session.run()
            above, high_end = walk(session, here, 1.0, high)
        finally:
            session.restore(number)
        curve = PriceCurve(
            of=goal.name,
            unit=goal.unit,
            points=(*reversed(below), PricePoint(here.limit, here.value), *above),
            tolerance=TOLERANCE if curved else 0.0,
            low_end=low_end,
            high_end=high_end,
            choices_kept=session.programme.whole,
        )
        curves.append(_ended(session, number, curve) if stage else curve)
        if all(_told(curves, rule.limit, direction) for direction in (-1.0, 1.0)):
            break
    session.aim_at(len(optimum.best) - 1, optimum.tops)
    session.run()
    return tuple(curves)


def _ended(session: Session, number: int, curve: PriceCurve) -> PriceCurve:
    """Return a later aim's curve with why it ends: there may be formulas beyond."""
    low, high = curve.points[0].limit, curve.points[-1].limit
    low_end, high_end = curve.low_end, curve.high_end
    if low_end == NOTHING and _goes_on(session, number, low, -1.0):
        low_end = GIVES_WAY
    if high_end == NOTHING and _goes_on(session, number, high, 1.0):
        high_end = GIVES_WAY
    return replace(curve, low_end=low_end, high_end=high_end)


def _goes_on(session: Session, number: int, edge: float, direction: float) -> bool:
    """Whether there are formulas beyond, of the same choices and no earlier aim held.

    An earlier aim may have choices of its own, which tell nothing of these.
    """
    stage = session.stage
    session.aim_at(stage, [math.inf] * stage)
    beyond = edge + direction * BEYOND * max(1.0, abs(edge))
    try:
        return value_at(session, number, beyond) is not None
    finally:
        session.restore(number)


def _told(curves: Sequence[PriceCurve], limit: float, direction: float) -> bool:
    """Whether a side needs no later aim: one responds at once, or it cannot move."""
    if not curves[0].side(limit, direction):
        end = curves[0].low_end if direction < 0.0 else curves[0].high_end
        return end in {NOTHING, "no limit beyond"}
    return any(c.starts(limit, direction) == 0.0 for c in curves)


def _walked(
    session: Session, here: Standing, direction: float, end: float | None
) -> tuple[list[PricePoint], str]:
    """Return break points in one direction, each a straight piece from the last."""
    points = [PricePoint(here.limit, here.value)]
    at = here
    end, why = _stop(session, here, direction, end)
    if end is not None and direction * (end - here.limit) <= 0.0:
        return [], why
    for _ in range(MOST_POINTS):
        known = known_slopes(session, [at.rule]).get(at.rule)
        slope = one_sided(session, at, direction, known)
        if slope is None:
            return _bends(points), NOTHING
        reach = _piece(session, at, direction, slope)
        stop = at.limit + direction * reach
        ends = end is not None and direction * (stop - end) >= -STANDS
        flat = slope == 0.0 and why == "no limit beyond"
        if flat if ends else math.isinf(reach):
            return _bends(points), STRAIGHT_ON
        if end is not None and ends:
            length = direction * (end - at.limit)
            points.append(PricePoint(end, at.value + slope * length))
            return _bends(points), why
        value = value_at(session, at.rule, stop)
        if value is None:  # the very edge, missed by rounding
            points.append(PricePoint(stop, at.value + slope * reach))
            return _bends(points), NOTHING
        points.append(PricePoint(stop, value))
        at = Standing(at.rule, stop, value)
    return _bends(points), "as asked"


def _piece(session: Session, at: Standing, direction: float, slope: float) -> float:
    """Return how long a straight piece is."""
    if slope == 0.0:
        return idle_reach(session, at, direction)
    exact = straight_reach(session, at, direction, slope)
    return reach_of(session, at, direction, slope) if exact is None else exact


def _bends(points: list[PricePoint]) -> list[PricePoint]:
    """Return points after the first, without those that stand where one before does."""
    kept = points[:1]
    for point in points[1:]:
        if abs(point.limit - kept[-1].limit) > STANDS:
            kept.append(point)
    return _thinned(kept)[1:] if len(kept) > 1 else []


def _stop(
    session: Session, here: Standing, direction: float, end: float | None
) -> tuple[float | None, str]:
    """Return where to stop at the latest, and what that is."""
    if end is not None:
        return end, "as asked"
    last = natural(session.programme.rules[here.rule])[direction > 0.0]
    return (None if math.isinf(last) else last), "no limit beyond"


def _refined(
    session: Session, here: Standing, direction: float, end: float | None
) -> tuple[list[PricePoint], str]:
    """Return points of a window's curve, halved until straight lines fit it."""
    span = max(0.25 * abs(here.limit), 1.0)
    stop, why = here.limit + direction * span, "as asked"
    last, last_why = _stop(session, here, direction, end)
    if last is not None and (end is not None or direction * (stop - last) >= 0.0):
        stop, why = last, last_why
    if direction * (stop - here.limit) <= 0.0:
        return [], why
    edge, reason = _edge(session, here, stop, why)
    if edge is None:
        return [], NOTHING
    points = [PricePoint(here.limit, here.value)]
    for share in range(1, SEGMENTS):
        limit = here.limit + share / SEGMENTS * (edge.limit - here.limit)
        value = value_at(session, here.rule, limit)
        if value is not None:
            points.append(PricePoint(limit, value))
    points.append(edge)
    waiting = list(pairwise(points))
    while waiting and len(points) < MOST_POINTS:
        left, right = waiting.pop()
        middle = (left.limit + right.limit) / 2.0
        value = value_at(session, here.rule, middle)
        if value is None:
            continue
        point = PricePoint(middle, value)
        points.append(point)
        bend = abs(value - (left.value + right.value) / 2.0)
        if bend > TOLERANCE / 3.0 and abs(right.limit - left.limit) > JUMP * span:
            waiting += [(left, point), (point, right)]
    points.sort(key=lambda point: direction * point.limit)
    return _thinned(points)[1:], reason


def _thinned(points: list[PricePoint]) -> list[PricePoint]:
    """Return points without those that a straight line between neighbours meets."""
    kept = points[:1]
    for here, after in pairwise(points[1:]):
        before = kept[-1]
        share = (here.limit - before.limit) / (after.limit - before.limit)
        straight = before.value + share * (after.value - before.value)
        if abs(here.value - straight) > 1e-8:
            kept.append(here)
    return [*kept, points[-1]]


def _edge(
    session: Session, here: Standing, stop: float, why: str
) -> tuple[PricePoint | None, str]:
    """Return the point at ``stop``, or the last before it that leaves a formula."""
    value = value_at(session, here.rule, stop)
    if value is not None:
        return PricePoint(stop, value), why
    good, bad, found = here.limit, stop, None
    for _ in range(30):
        middle = (good + bad) / 2.0
        value = value_at(session, here.rule, middle)
        if value is None:
            bad = middle
        else:
            good, found = middle, PricePoint(middle, value)
    return found, NOTHING
