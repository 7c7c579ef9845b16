"""A price curve as values: an aim along a rule's limit, and what tells each side."""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

__all__ = [
    "GIVES_WAY",
    "NOTHING",
    "STANDS",
    "STRAIGHT_ON",
    "Leg",
    "PriceCurve",
    "PricePoint",
    "legs",
]

NOTHING = "no formula beyond"
GIVES_WAY = "an earlier aim gives way"
STRAIGHT_ON = "straight on"
MOVED = 1e-7  # an aim that differs by no more has not moved
# Limits closer than this to where a limit stands are where it stands.
STANDS = 2e-6


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
