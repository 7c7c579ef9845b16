"""Walking along a trade-off: the corners of an exact curve, or level by level."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import pairwise

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from optimiser.domain.rule import Goal, Programme, Row, Rule
from optimiser.explaining.facts import TRACE
from optimiser.solving import Infeasible, Optimum, optimise

__all__ = [
    "Place",
    "as_good",
    "corners",
    "distinct",
    "extreme",
    "held_at",
    "levels",
    "refined",
    "undominated",
]

Floats = NDArray[np.float64]
# Relative to the size of the curve: corners nearer than this to a line are on it.
STRAIGHT = 1e-7
MOST_CORNERS = 2000
HALVINGS = 6
NOTABLE = 3e-3  # of an aim


class Place(Struct, frozen=True, eq=False):
    """A proved formula on the curve: ``across`` what it is weighed against, ``up``.

    ``held`` says that the second opinion had to be held for it.
    """

    across: float
    up: float
    programme: Programme
    optimum: Optimum
    held: bool = False


def held_at(
    programme: Programme, up: Goal, rule: Rule, then: Goal | None = None
) -> tuple[Programme, Optimum] | None:
    """Return the least of ``up`` with a rule more; None where no formula is left."""
    goals = (up,) if then is None else (up, then)
    asked = replace(programme, rules=(*programme.rules, rule), goals=goals)
    found = optimise(asked)
    return None if isinstance(found, Infeasible) else (asked, found)


def corners(programme: Programme) -> list[Place] | None:
    """Return every corner of the curve of goal 0 against goal 1, from the left.

    The left end has the least of goal 1 (and of goal 0 then), the right end the
    least of goal 0. None where no formula keeps the rules.

    Notes
    -----
    For a continuous programme the curve is convex and made of straight pieces. The
    weights for which a chord is level tell whether a corner lies below it; if none
    does, the chord is a piece of the curve, and the optimum's proof is the proof of
    that. Source: Aneja and Nair, Management Science 25:73, 1979.
    """
    up, across = programme.goals
    left = _place(programme, (across, up), up, across)
    if left is None:
        return None
    right = _place(programme, (up, across), up, across)
    assert right is not None
    found = [left, right]
    size = max(1e-9, left.up - right.up), max(1e-9, right.across - left.across)
    waiting = [(left, right)]
    while waiting and len(found) < MOST_CORNERS:
        one, other = waiting.pop()
        rise, run = one.up - other.up, other.across - one.across
        if rise <= STRAIGHT * size[0] or run <= STRAIGHT * size[1]:
            continue
        new = _below(programme, one, other, size)
        if new is not None:
            found.append(new)
            waiting += [(one, new), (new, other)]
    return _bent(sorted(found, key=lambda place: (place.across, -place.up)), size)


def _below(
    programme: Programme, one: Place, other: Place, size: tuple[float, float]
) -> Place | None:
    """Return a formula below the chord of two; None if the chord is the curve."""
    up, across = programme.goals
    per_up = (other.across - one.across) / size[1] / size[0]
    per_across = (one.up - other.up) / size[0] / size[1]
    row = _sum(programme, ((up.row, per_up), (across.row, per_across)))
    new = _place(programme, (Goal("both", "", row),), up, across)
    if new is None:
        return None
    level = per_up * one.up + per_across * one.across
    value = per_up * new.up + per_across * new.across
    scale = abs(per_up) * size[0] + abs(per_across) * size[1]
    return new if value < level - STRAIGHT * scale else None


def _place(
    programme: Programme, goals: tuple[Goal, ...], up: Goal, across: Goal
) -> Place | None:
    asked = replace(programme, goals=goals)
    found = optimise(asked)
    if isinstance(found, Infeasible):
        return None
    amounts = _tightened(programme, found)
    return Place(_tidy(across.at(amounts)), _tidy(up.at(amounts)), asked, found)


def _tidy(value: float) -> float:
    """Return zero for what is only the room that an earlier aim was left."""
    return 0.0 if abs(value) < 1e-7 else value


def _tightened(programme: Programme, found: Optimum) -> Floats:
    """Return the amounts with each helping column at the least it may be.

    A weight of nothing leaves a "moved" column free; its definition does not.
    """
    amounts = found.amounts.copy()
    for link in programme.links:
        last = int(link.row.columns[-1])
        if programme.columns[last].kind in {"moved", "bought"}:
            amounts[last] = 0.0
            amounts[last] = max(0.0, link.row.at(amounts) - link.upper)
    return amounts


def _sum(programme: Programme, parts: tuple[tuple[Row, float], ...]) -> Row:
    total = np.zeros(len(programme.columns))
    for row, weight in parts:
        total[row.columns] += weight * row.coefficients
    return Row.of(enumerate(total))


def _bent(places: list[Place], size: tuple[float, float]) -> list[Place]:
    """Return the corners among places: what lies on a straight piece is left out."""
    kept: list[Place] = []
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
    one: Place, middle: Place, other: Place, size: tuple[float, float]
) -> bool:
    across = (
        (middle.across - one.across) / size[1],
        (other.across - one.across) / size[1],
    )
    up = (middle.up - one.up) / size[0], (other.up - one.up) / size[0]
    return abs(across[0] * up[1] - across[1] * up[0]) <= 10 * STRAIGHT


def extreme(programme: Programme, rule: Rule) -> float | None:
    """Return the most of a "min" rule's value that any formula reaches; least of "max".

    Source: Dinkelbach, Management Science 13:492, 1967: the best ratio is the one
    from which nothing can be gained, and each step reaches it faster than the last.
    """
    sign = -1.0 if rule.side == "min" else 1.0
    best: float | None = None
    guess = 0.0 if not rule.logarithmic else 1.0
    for _ in range(50):
        row, _ = rule.linear(guess)
        goal = Goal("extreme", "", Row(row.columns, sign * row.coefficients))
        found = optimise(replace(programme, goals=(goal,)))
        if isinstance(found, Infeasible):
            return None
        value = rule.value(found.amounts)
        if value is None:
            return best
        if best is not None and abs(value - best) <= 1e-10 * max(1.0, abs(best)):
            return value
        best = guess = value
    return best


def distinct(places: list[Place]) -> list[Place]:
    """Return the places without those at one point with the one before."""
    kept: list[Place] = []
    for place in places:
        near = kept and abs(kept[-1].across - place.across) < 1e-6
        if not near or abs(kept[-1].up - place.up) > 1e-6:
            kept.append(place)
    return kept


def as_good(line: list[Place], each: list[Place]) -> bool:
    """Whether a curve of straight pieces is nowhere notably above some places."""
    across = [place.across for place in line]
    up = [place.up for place in line]
    reach = max(across[-1], each[-1].across) - min(across[0], each[0].across)
    if across[0] > each[0].across + NOTABLE * reach:
        return False
    found = np.interp([place.across for place in each], across, up)
    least = np.array([place.up for place in each])
    return bool(np.all(found <= least + NOTABLE * np.maximum(1.0, np.abs(least))))


def undominated(places: list[Place]) -> list[Place]:
    """Return the places that no other one betters in both, from the left."""
    kept: list[Place] = []
    for place in sorted(places, key=lambda each: (each.across, each.up)):
        if not kept or place.up < kept[-1].up - 1e-9 * max(1.0, abs(place.up)):
            kept.append(place)
    return kept


def levels(
    values: Iterable[float],
    solve: Callable[[float], Place | None],
) -> list[Place]:
    """Return a proved formula at each level that has one."""
    return [place for value in values if (place := solve(value)) is not None]


def refined(places: list[Place], solve: Callable[[float], Place | None]) -> list[Place]:
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


def _used(place: Place) -> frozenset[str]:
    amounts = place.optimum.amounts
    return frozenset(
        key
        for column, key in enumerate(place.programme.ingredients)
        if amounts[column] > max(TRACE, 1e-4)
    )
