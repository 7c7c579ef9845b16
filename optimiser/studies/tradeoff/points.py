"""Points of a curve: their names, the elbow, and what each few percent need."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from msgspec import Struct

from optimiser.studies.made import Made

__all__ = ["BreakPoint", "Step", "elbow_of", "letters", "steps_of"]

STEPS = (5.0, 2.0, 1.0, 0.5, 0.2, 0.1)
MOST_STEPS = 6


class BreakPoint(Struct, frozen=True):
    """A break point: ``across`` and ``up`` in the units of their axes.

    ``slope`` is the change of ``up`` per unit of ``across`` up to the next point,
    None at the last.
    """

    name: str
    across: float
    up: float
    slope: float | None
    formula: Made


class Step(Struct, frozen=True):
    """So many percent less of ``up`` in all, and where ``across`` then is."""

    percent: float
    across: float
    further: float


def letters(number: int) -> str:
    """Return the name of a point.

    >>> letters(0), letters(27)
    ('A', 'AB')
    """
    more, last = divmod(number, 26)
    return (letters(more - 1) if more else "") + chr(ord("A") + last)


def elbow_of(points: Sequence[BreakPoint]) -> str | None:
    """Return the point furthest below the line between the ends, if one is."""
    first, last = points[0], points[-1]
    run, rise = last.across - first.across, last.up - first.up
    if len(points) < 3 or not run or not rise:
        return None
    below = [
        (point.across - first.across) / run - (point.up - first.up) / rise
        for point in points
    ]
    far = min(range(len(points)), key=lambda number: below[number])
    return points[far].name if below[far] < -1e-6 else None


def steps_of(points: Sequence[BreakPoint], exact: bool) -> tuple[Step, ...]:
    """Return what each further few percent of ``up`` need, as far as they go."""
    first, least = points[0], points[-1].up
    if first.up <= 0 or least >= first.up:
        return ()
    most = 100.0 * (first.up - least) / first.up
    size = next((each for each in STEPS if most >= 2 * each), None)
    if size is None:
        return ()
    steps: list[Step] = []
    before = first.across
    for number in range(1, MOST_STEPS + 1):
        percent = number * size
        if percent > most + 1e-9:
            break
        across = _where(points, first.up * (1 - percent / 100.0), exact)
        steps.append(Step(percent, across, across - before))
        before = across
    return tuple(steps)


def _where(points: Sequence[BreakPoint], up: float, exact: bool) -> float:
    """Return where the curve comes down to a value of ``up``."""
    for one, other in pairwise(points):
        if other.up <= up + 1e-9:
            if not exact or other.up == one.up:
                return other.across
            share = min(1.0, max(0.0, (one.up - up) / (one.up - other.up)))
            return one.across + share * (other.across - one.across)
    return points[-1].across
