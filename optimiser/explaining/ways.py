"""Ways out of a clash: the smallest easings, each solved again and priced.

Law, safety, an assessor's envelope and arithmetic are never eased.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.rule import Column, Goal, Programme, Row, Rule
from optimiser.explaining.answer import Easing
from optimiser.rules.shares import with_limit
from optimiser.solving import Optimum, attempted

__all__ = ["Way", "eased", "ways_out"]

MOST = 3
# A window is multiplied out: one unit of its limit moves its row by what its part
# sums to, about this many percent. Only the choice between easings rests on it.
TYPICAL_PART = 60.0
ZERO_SCALE = 15.0
# Moving a limit by more than so many times itself is no easing any more.
WILD = 2.0


class Way(Struct, frozen=True):
    """Easings that make an answer possible, and that answer."""

    easings: tuple[Easing, ...]
    optimum: Optimum


def ways_out(
    programme: Programme, clash: Sequence[Rule], most: int = MOST
) -> tuple[Way, ...]:
    """Return up to ``most`` clearly different smallest easings, smallest first.

    Parameters
    ----------
    clash : sequence of Rule
        A clash of the programme; easing one rule of it is looked for first.

    Notes
    -----
    Every easing is measured in parts of its rule's own limit, so that 2 points of a
    40 % band weigh less than 2 points of a 4 % limit. Where no single rule is enough
    the smallest sum of parts is taken, then again with the rule that gave most kept
    as it is. A way that moves a limit by more than itself is offered only when there
    is no other.
    """
    easable = {rule.id for rule in programme.rules if rule.may_ease}
    found = []
    for rule in clash:
        if rule.may_ease:
            way = _smallest(programme, easable - {rule.id})
            if way is not None:
                found.append(way)
    kept: set[str] = set()
    for _ in range(most):
        way = _smallest(programme, kept)
        if way is None:
            break
        found.append(way)
        kept.add(max(way.easings, key=_part).rule.id)
    return _different(found)[:most]


def _different(ways: Sequence[Way]) -> tuple[Way, ...]:
    """Return the ways that ease different rules, smallest first, wild ones last."""
    ordered = sorted(ways, key=lambda way: (len(way.easings), size_of(way)))
    chosen: list[Way] = []
    for way in ordered:
        rules = {easing.rule.id for easing in way.easings}
        if not any({e.rule.id for e in other.easings} <= rules for other in chosen):
            chosen.append(way)
    mild = [way for way in chosen if all(_part(e) <= WILD for e in way.easings)]
    return tuple(sorted(mild, key=size_of)) or tuple(sorted(chosen, key=size_of)[:1])


def size_of(way: Way) -> float:
    """Return how much a way eases, in parts of its rules' own limits."""
    return sum(_part(easing) for easing in way.easings)


def eased(programme: Programme, easings: Mapping[str, float]) -> Programme:
    """Return a programme with other limits for some rules, by id."""
    rules = tuple(
        with_limit(rule, easings[rule.id]) if rule.id in easings else rule
        for rule in programme.rules
    )
    return replace(programme, rules=rules)


def _part(easing: Easing) -> float:
    return abs(easing.to - easing.rule.limit) / _scale(easing.rule)


def _scale(rule: Rule) -> float:
    """Return what counts as one whole change of a rule, in its own unit.

    A rule at zero ("no beeswax") has no size of its own: a band's usual width then.
    """
    if rule.limit == 0.0 and rule.unit == "%":
        return ZERO_SCALE
    return max(abs(rule.limit), 1.0)


def _smallest(programme: Programme, kept: Collection[str]) -> Way | None:
    """Return the smallest easing that spares the ``kept`` rules; None if none does."""
    elastic, numbers = _elastic(programme, kept)
    found = attempted(elastic)
    if found is None:
        return None
    easings = []
    for number in numbers:
        rule = programme.rules[number]
        value = rule.value(found.amounts)
        if value is None or not _broken(rule, value):
            continue
        easings.append(Easing(rule, _outward(rule, value)))
    for fine in (1.0, 0.1, 0.01, 0.0):
        tried = [_exactly(each, fine) for each in easings]
        solved = attempted(eased(programme, {e.rule.id: e.to for e in tried}))
        if solved is not None:
            return Way(tuple(tried), solved)
        if tried == easings:
            break
    return None


def _exactly(easing: Easing, fine: float) -> Easing:
    """Return an easing of an exact share to a round one, if ``fine`` is not zero.

    What lies outward of an exact share is not known, so that a round one is tried.
    """
    rule = easing.rule
    if rule.side != "exact" or rule.kind == "choice" or fine == 0.0:
        return easing
    step = _steps(rule.limit) * fine
    return Easing(rule, round(round(easing.to / step) * step, 9))


def _elastic(
    programme: Programme, kept: Collection[str]
) -> tuple[Programme, Sequence[int]]:
    """Return a programme in which easable rules give way, at a price a unit."""
    columns = list(programme.columns)
    rules = list(programme.rules)
    prices: list[tuple[int, float]] = []
    numbers = []
    for number, rule in enumerate(programme.rules):
        about_nothing = not rule.curved and rule.per_constant == 0.0
        if not rule.may_ease or rule.id in kept or about_nothing:
            continue
        numbers.append(number)
        for sign in (1.0, -1.0):
            if sign == {"min": -1.0, "max": 1.0}.get(rule.side):
                continue
            give = len(columns)
            columns.append(Column("given", f"{rule.id} {sign:+g}"))
            unit = TYPICAL_PART if rule.curved else rule.per_constant
            rules[number] = _with_column(rules[number], give, sign)
            prices.append((give, 1.0 / (unit * _scale(rule))))
    return (
        replace(
            programme,
            columns=tuple(columns),
            rules=tuple(rules),
            goals=(Goal("easing", "parts", Row.of(prices)),),
        ),
        numbers,
    )


def _with_column(rule: Rule, column: int, coefficient: float) -> Rule:
    pairs = zip(rule.amounts.columns, rule.amounts.coefficients, strict=True)
    return replace(rule, amounts=Row.of([*pairs, (column, coefficient)]))


def _broken(rule: Rule, value: float) -> bool:
    slack = {"min": value - rule.limit, "max": rule.limit - value}.get(
        rule.side, -abs(value - rule.limit)
    )
    return slack < -1e-7 * _scale(rule)


def _outward(rule: Rule, value: float) -> float:
    """Return a limit that allows a value, in steps a maker would write."""
    if rule.kind == "choice":
        return float(round(value))
    step = _steps(rule.limit or value)
    if rule.side == "exact":
        return round(value, 9)
    edge = math.floor if rule.side == "min" else math.ceil
    towards = 1e-6 if rule.side == "min" else -1e-6
    return round(edge(value / step + towards) * step, 9)


def _steps(limit: float) -> float:
    """Return the step a maker would move a limit by.

    >>> _steps(12.34), _steps(3.2), _steps(0.31)
    (0.5, 0.1, 0.01)
    """
    size = abs(limit)
    if size >= 10.0:
        return 0.5
    return 0.1 if size >= 1.0 else 0.01
