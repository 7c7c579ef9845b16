"""Walking along a trade-off: the corners of an exact curve, or level by level."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Goal, Programme, Row, Rule
from optimiser.explaining.answering import NoFormula, Question, best
from optimiser.explaining.opinions import Solved

__all__ = [
    "Waypoint",
    "as_good",
    "corners",
    "distinct",
    "extreme",
    "levels",
    "refined",
    "undominated",
]

# Relative to the size of the curve: corners nearer than this to a line are on it.
STRAIGHT = 1e-7
MOST_CORNERS = 2000
HALVINGS = 6
NOTABLE = 3e-3  # of an aim
SEEN = 1e-4  # percent


class Waypoint(Struct, frozen=True, eq=False):
    """A proved formula on the curve: ``across`` what it is weighed against, ``up``."""

    across: float
    up: float
    solved: Solved


def corners(question: Question, catalogue: Catalogue) -> list[Waypoint] | NoFormula:
    """Return every corner of the curve of goal 0 against goal 1, from the left.

    The left end has the least of goal 1 (and of goal 0 then), the right end the
    least of goal 0. By straight sums; no second opinion is heard.

    Notes
    -----
    For a continuous programme the curve is convex and made of straight pieces. The
    weights for which a chord is level tell whether a corner lies below it; if none
    does, the chord is a piece of the curve, and the optimum's proof is the proof of
    that. Source: Aneja and Nair, Management Science 25:73, 1979.
    """
    up, across = question.programme.goals

    def place(*goals: Goal) -> Waypoint | NoFormula:
        return _place(question, goals, catalogue)

    left = place(across, up)
    if isinstance(left, NoFormula):
        return left
    right = place(up, across)
    if isinstance(right, NoFormula):
        return right
    found = [left, right]
    size = max(1e-9, left.up - right.up), max(1e-9, right.across - left.across)
    waiting = [(left, right)]
    while waiting and len(found) < MOST_CORNERS:
        one, other = waiting.pop()
        rise, run = one.up - other.up, other.across - one.across
        if rise <= STRAIGHT * size[0] or run <= STRAIGHT * size[1]:
            continue
        weights = run / size[1] / size[0], rise / size[0] / size[1]
        new = place(_both(question.programme, *weights))
        if not isinstance(new, NoFormula) and _below(new, one, weights, size):
            found.append(new)
            waiting += [(one, new), (new, other)]
    return _bent(sorted(found, key=lambda place: (place.across, -place.up)), size)


def _below(
    new: Waypoint,
    one: Waypoint,
    weights: tuple[float, float],
    size: tuple[float, float],
) -> bool:
    """Whether a place lies below the level line through another."""
    per_up, per_across = weights
    level = per_up * one.up + per_across * one.across
    value = per_up * new.up + per_across * new.across
    scale = abs(per_up) * size[0] + abs(per_across) * size[1]
    return value < level - STRAIGHT * scale


def _place(
    question: Question, goals: tuple[Goal, ...], catalogue: Catalogue
) -> Waypoint | NoFormula:
    up, across = question.programme.goals
    asked = replace(question, programme=replace(question.programme, goals=goals))
    found = best([asked], catalogue, hear=False)
    if isinstance(found, NoFormula):
        return found
    amounts = found.optimum.amounts
    return Waypoint(_tidy(across.at(amounts)), _tidy(up.at(amounts)), found)


def _tidy(value: float) -> float:
    """Return zero for what is only the room that an earlier aim was left."""
    return 0.0 if abs(value) < 1e-7 else value


def _both(programme: Programme, per_up: float, per_across: float) -> Goal:
    """Return both goals of a programme as one, each at its weight."""
    total = np.zeros(len(programme.columns))
    for goal, weight in zip(programme.goals, (per_up, per_across), strict=True):
        total[goal.row.columns] += weight * goal.row.coefficients
    return Goal("both", "", Row.of(enumerate(total)))


def _bent(places: list[Waypoint], size: tuple[float, float]) -> list[Waypoint]:
    """Return the corners among places: what lies on a straight piece is left out."""
    kept: list[Waypoint] = []
    for place in places:
        if kept and (
            abs(place.across - kept[-1].across) <= STRAIGHT * size[1]
            and abs(place.up - kept[-1].up) <= STRAIGHT * size[0]
        ):
            continue
        while len(kept) > 1 and _on_the_line(kept[-2], kept[-1], place, size):
            kept.pop()
        kept.append(place)
    return kept


def _on_the_line(
    one: Waypoint, middle: Waypoint, other: Waypoint, size: tuple[float, float]
) -> bool:
    across = (
        (middle.across - one.across) / size[1],
        (other.across - one.across) / size[1],
    )
    up = (middle.up - one.up) / size[0], (other.up - one.up) / size[0]
    return abs(across[0] * up[1] - across[1] * up[0]) <= 10 * STRAIGHT


def extreme(question: Question, rule: Rule, catalogue: Catalogue) -> float | None:
    """Return the most of a "min" rule's value that any formula reaches; least of "max".

    Source: Dinkelbach, Management Science 13:492, 1967: the best ratio is the one
    from which nothing can be gained, and each step reaches it faster than the last.
    """
    sign = -1.0 if rule.side == "min" else 1.0
    most: float | None = None
    guess = 0.0 if not rule.logarithmic else 1.0
    for _ in range(50):
        row, _ = rule.linear(guess)
        goal = Goal("extreme", "", Row(row.columns, sign * row.coefficients))
        asked = replace(question.programme, goals=(goal,))
        found = best([replace(question, programme=asked)], catalogue, hear=False)
        if isinstance(found, NoFormula):
            return None
        value = rule.value(found.optimum.amounts)
        if value is None:
            return most
        if most is not None and abs(value - most) <= 1e-10 * max(1.0, abs(most)):
            return value
        most = guess = value
    return most


def distinct(places: list[Waypoint]) -> list[Waypoint]:
    """Return the places without those at one point with the one before."""
    kept: list[Waypoint] = []
    for place in places:
        near = kept and abs(kept[-1].across - place.across) < 1e-6
        if not near or abs(kept[-1].up - place.up) > 1e-6:
            kept.append(place)
    return kept


def as_good(line: list[Waypoint], each: list[Waypoint]) -> bool:
    """Whether a curve of straight pieces is nowhere notably above some places."""
    across = [place.across for place in line]
    up = [place.up for place in line]
    reach = max(across[-1], each[-1].across) - min(across[0], each[0].across)
    if across[0] > each[0].across + NOTABLE * reach:
        return False
    found = np.interp([place.across for place in each], across, up)
    least = np.array([place.up for place in each])
    return bool(np.all(found <= least + NOTABLE * np.maximum(1.0, np.abs(least))))


def undominated(places: list[Waypoint]) -> list[Waypoint]:
    """Return the places that no other one betters in both, from the left."""
    kept: list[Waypoint] = []
    for place in sorted(places, key=lambda each: (each.across, each.up)):
        if not kept or place.up < kept[-1].up - 1e-9 * max(1.0, abs(place.up)):
            kept.append(place)
    return kept


def levels(
    values: Sequence[float],
    solve: Callable[[float], Waypoint | None],
    progress: Callable[[int, int], None] | None = None,
) -> list[Waypoint]:
    """Return a proved formula at each level that has one."""
    found: list[Waypoint] = []
    for number, value in enumerate(values, start=1):
        place = solve(value)
        if place is not None:
            found.append(place)
        if progress is not None:
            progress(number, len(values))
    return found


def refined(
    places: list[Waypoint], solve: Callable[[float], Waypoint | None]
) -> list[Waypoint]:
    """Return places with more of them where the ingredients used change."""
    found = list(places)
    for one, other in pairwise(places):
        low, high = one, other
        for _ in range(HALVINGS):
            if _used(low) == _used(high):
                break
            middle = solve((low.across + high.across) / 2.0)
            if middle is None:
                break
            low, high = (middle, high) if _used(middle) == _used(low) else (low, middle)
        if low is not one:
            found.append(low)
        if high is not other:
            found.append(high)
    return sorted(found, key=lambda place: (place.across, -place.up))


def _used(place: Waypoint) -> frozenset[str]:
    amounts = place.solved.amounts
    return frozenset(key for key, percent in amounts.items() if percent > SEEN)
