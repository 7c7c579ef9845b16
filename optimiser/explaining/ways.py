"""Ways out of a clash: the smallest easings, each solved again and priced.

Law, safety, an assessor's envelope and arithmetic are never eased.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from optimiser.domain.rule import Column, Goal, Programme, Row, Rule
from optimiser.explaining.answer import Easing
from optimiser.reading.windows import MOST_RATIO
from optimiser.rules.shares import with_limit
from optimiser.solving import Optimum, attempted

__all__ = ["Way", "eased", "steps", "ways_out"]

Floats = NDArray[np.float64]
# Limits by the number of their rule.
Limits = dict[int, float]

MOST = 3
# Percent of a part that what a rule multiplies out is first taken to sum to.
FIRST_PART = 60.0
ZERO_SCALE = 15.0
# Moving a limit by more than so many times itself is no easing any more.
WILD = 2.0
# Times that easings are measured anew, and made smaller in turn, at the most.
ROUNDS = 4
STRAIGHTENED = 30
# A rule that gives for next to nothing, to see what must give beside it.
CHEAP = 1e-3
EXACTLY = 1e-9
# Parts of a step tried where a whole one, outward, is one too many; 0 is none.
FINER = (1.0, 0.1, 0.01, 0.0)
NOTHING = Goal("nothing", "", Row.of(()))


class Way(Struct, frozen=True):
    """Easings that make an answer possible, and that answer."""

    easings: tuple[Easing, ...]
    optimum: Optimum


def ways_out(
    programme: Programme, clash: Sequence[Rule], most: int = MOST
) -> tuple[Way, ...]:
    """Return up to ``most`` clearly different ways, the fewest rules first.

    Parameters
    ----------
    clash : sequence of Rule
        A clash of the programme: what helps eases one of its rules, at least.

    Notes
    -----
    Every easing is measured in parts of its rule's own limit, so that 2 points of a
    40 % band weigh less than 2 points of a 4 % limit. Each rule of the clash is
    eased by itself, and then, where that gives too few ways, with what must give
    beside it. No way holds another, each of its easings is needed, and none could be
    smaller by a step while the others stay. A way that moves a limit by more than
    twice itself is offered only when it eases fewer rules than any other.
    """
    rules = programme.rules
    able = {number for number, rule in enumerate(rules) if _gives(rule)}
    named = {rule.id for rule in clash}
    starts = [number for number in sorted(able) if rules[number].id in named]
    alone = [given for n in starts if (given := _given(programme, {n}))]
    found: list[Way] = []
    for given in sorted(alone, key=lambda each: _size(programme, each)):
        if len(_different(found)) < most:
            found += _settled(programme, given)
    able -= {number for given in alone for number in given}
    # One rule of the clash for next to nothing; then those that gave most are kept.
    cheap: list[int | None] = [*sorted(able & set(starts)), *([None] * most)]
    known: list[Limits] = []
    for number in cheap:
        given = _fewest(programme, _given(programme, able, number))
        if len(_different(found)) >= most or not given:
            break
        if number is None:
            able.remove(max(given, key=lambda n: _part(rules[n], given[n])))
        if all(given.keys() != each.keys() for each in known):
            found += _settled(programme, _given(programme, given) or given)
        known.append(given)
    return _different(found)[:most]


def _gives(rule: Rule) -> bool:
    """Whether some other limit of a rule, by itself, means more room.

    A tangent moves with its window. A rule about nothing (a ratio to what is not in
    the question) means the same at any limit. The total of emulsifiers is what their
    HLB was written for, so that another total is another question.
    """
    about_nothing = rule.per.columns.size == 0 and rule.per_constant == 0.0
    another = rule.kind == "emulsifiers" and rule.side == "exact"
    alone = rule.moves_with is None
    return rule.may_ease and alone and not about_nothing and not another


def _different(ways: Sequence[Way]) -> tuple[Way, ...]:
    """Return the ways that ease different rules, the fewest first, then the least.

    A wild one is the first or none.
    """
    ordered = sorted(ways, key=lambda way: (len(way.easings), size_of(way)))
    chosen: list[Way] = []
    for way in ordered:
        rules = {easing.rule.id for easing in way.easings}
        if not any({e.rule.id for e in other.easings} <= rules for other in chosen):
            chosen.append(way)
    mild = [way for way in chosen if not _is_wild(way)]
    if not mild or len(chosen[0].easings) < len(mild[0].easings):
        return (*chosen[:1], *mild)
    return tuple(mild)


def _is_wild(way: Way) -> bool:
    return any(_part(each.rule, each.to) > WILD for each in way.easings)


def size_of(way: Way) -> float:
    """Return how much a way eases, in parts of its rules' own limits."""
    return sum(_part(easing.rule, easing.to) for easing in way.easings)


def eased(programme: Programme, easings: Mapping[str, float]) -> Programme:
    """Return a programme with other limits for some rules, by id.

    What moves with a rule moves as far.
    """
    named = {rule.id: number for number, rule in enumerate(programme.rules)}
    return _moved(programme, {named[each]: to for each, to in easings.items()})


def _moved(programme: Programme, limits: Limits) -> Programme:
    """Return a programme with other limits for some rules, by number."""
    rules = list(programme.rules)
    together = programme.together()
    for number, limit in limits.items():
        by = limit - rules[number].limit
        for each in together.get(number, (number,)):
            to = limit if each == number else rules[each].limit + by
            rules[each] = with_limit(rules[each], to)
    return replace(programme, rules=tuple(rules))


def _part(rule: Rule, to: float) -> float:
    return abs(to - rule.limit) / _scale(rule)


def _size(programme: Programme, limits: Limits, cheap: int | None = None) -> float:
    """Return the sum of the parts that some limits move by."""
    return sum(
        _part(programme.rules[number], to) * (CHEAP if number == cheap else 1.0)
        for number, to in limits.items()
    )


def _scale(rule: Rule) -> float:
    """Return what counts as one whole change of a rule, in its own unit.

    A rule at zero ("no beeswax") has no size of its own: a band's usual width then.
    """
    if rule.limit == 0.0 and rule.unit == "%":
        return ZERO_SCALE
    return max(abs(rule.limit), 1.0)


def _ends(rule: Rule) -> tuple[float, float]:
    """Return the least and the greatest that a limit of a rule can be.

    A window ends by itself, at the figures of what it is over.
    """
    if (rule.unit == "%" and rule.kind != "window") or rule.kind == "closeness":
        return 0.0, 100.0
    if rule.kind == "choice":
        return 0.0, float(rule.amounts.columns.size)
    if rule.kind == "ratio":
        return 0.0, max(MOST_RATIO, rule.limit)
    return -math.inf, math.inf


# -- which rules give ------------------------------------------------------------


def _fewest(programme: Programme, given: Limits | None) -> Limits | None:
    """Return what as few as can be of the rules which gave come to by themselves."""
    while given:
        fewer = next(_fewer(programme, given), None)
        if fewer is None:
            break
        given = fewer
    return given


def _fewer(programme: Programme, given: Limits) -> Iterator[Limits]:
    """Yield what is given where one of the rules, the least moved first, is kept."""
    for number in _least_first(programme, given) if len(given) > 1 else ():
        left = _given(programme, given.keys() - {number})
        if left:
            yield left


def _least_first(programme: Programme, limits: Limits) -> list[int]:
    return sorted(limits, key=lambda n: _part(programme.rules[n], limits[n]))


def _given(
    programme: Programme, able: Collection[int], cheap: int | None = None
) -> Limits | None:
    """Return what the able rules come to where they give least, if they must.

    Parameters
    ----------
    able : collection of int
        Numbers of the rules that may give; all others are kept.
    cheap : int, optional
        One that may give for next to nothing.

    Returns
    -------
    dict or None
        The value of each rule that is broken; None where no formula is found.

    Notes
    -----
    What a curved rule gives is measured in its row, where one unit of its limit is as
    much as its part sums to. So the question is asked again with what it came to,
    as long as that makes the sum of the easings smaller.
    """
    units = {number: _unit(programme.rules[number], None) for number in able}
    best: tuple[float, Limits] | None = None
    for _ in range(ROUNDS):
        found = attempted(_elastic(programme, units, cheap))
        if found is None:
            break
        given = {}
        for number in able:
            rule = programme.rules[number]
            units[number] = _unit(rule, found.amounts) or units[number]
            value = _needed(programme, number, found.amounts)
            if value is not None and _broken(rule, value):
                given[number] = min(max(value, _ends(rule)[0]), _ends(rule)[1])
        size = _size(programme, given, cheap)
        if best is not None and size >= best[0] * 0.999:
            break
        best = size, given
        if not any(programme.rules[number].curved for number in given):
            break
    return None if best is None else best[1]


def _needed(programme: Programme, number: int, amounts: Floats) -> float | None:
    """Return the limit that a rule needs at ``amounts``; None where it has no value.

    What moves with it is moved as far, so that the one furthest off tells.
    """
    rule = programme.rules[number]
    value = rule.value(amounts)
    for each in programme.together().get(number, ()):
        other = programme.rules[each]
        slack = other.slack(amounts)
        if slack is not None and value is not None and slack < 0.0:
            worse = rule.limit - slack if rule.side == "max" else rule.limit + slack
            value = max(value, worse) if rule.side == "max" else min(value, worse)
    return value


def _unit(rule: Rule, amounts: Floats | None) -> float:
    """Return what one unit of a rule's limit is in its row, at ``amounts`` if any.

    Where a logarithmic rule is broken, it is the mean from its limit to its value.
    """
    below = rule.per_constant
    if rule.per.columns.size > 0:
        below += FIRST_PART if amounts is None else rule.per.at(amounts)
    if not rule.logarithmic:
        return below
    value = None if amounts is None else rule.value(amounts)
    if value is None or abs(value - rule.limit) < EXACTLY * rule.limit:
        return below / rule.limit
    return below * math.log(value / rule.limit) / (value - rule.limit)


def _elastic(
    programme: Programme, units: Mapping[int, float], cheap: int | None
) -> Programme:
    """Return a programme in which some rules give way, at a price a unit.

    None gives more than a limit of it can be: what is multiplied out might.
    """
    columns = list(programme.columns)
    rules = list(programme.rules)
    together = programme.together()
    prices: list[tuple[int, float]] = []
    for number, unit in units.items():
        rule = programme.rules[number]
        for side, sign, end in zip(
            ("max", "min"), (-1.0, 1.0), _ends(rule)[::-1], strict=True
        ):
            if rule.side not in {side, "exact"}:
                continue
            give = len(columns)
            columns.append(Column("given", f"{rule.id} {sign:+g}"))
            for each in together.get(number, (number,)):
                rules[each] = _with_column(rules[each], give, sign)
            weight = CHEAP if number == cheap else 1.0
            prices.append((give, weight / (unit * _scale(rule))))
            if rule.curved and math.isfinite(end):
                rules.append(replace(rule, side=side, limit=end))
    return replace(
        programme,
        columns=tuple(columns),
        rules=tuple(rules),
        goals=(Goal("easing", "parts", Row.of(prices)),),
    )


def _with_column(rule: Rule, column: int, coefficient: float) -> Rule:
    pairs = zip(rule.amounts.columns, rule.amounts.coefficients, strict=True)
    return replace(rule, amounts=Row.of([*pairs, (column, coefficient)]))


def _broken(rule: Rule, value: float) -> bool:
    slack = {"min": value - rule.limit, "max": rule.limit - value}.get(
        rule.side, -abs(value - rule.limit)
    )
    return slack < -1e-7 * _scale(rule)


# -- how far they give -------------------------------------------------------------


def _settled(programme: Programme, given: Limits) -> list[Way]:
    """Return the way whose easings are each as small as the others allow, if any."""
    limits = _begun(programme, given)
    for _ in range(ROUNDS):
        before = dict(limits)
        for number in _least_first(programme, limits):
            limits = _shrunk(programme, limits, number)
        if limits == before:
            break
    solved = attempted(_moved(programme, limits)) if limits else None
    if solved is None:
        return []
    easings = tuple(Easing(programme.rules[n], limits[n]) for n in sorted(limits))
    return [Way(easings, solved)]


def _begun(programme: Programme, given: Limits) -> Limits:
    """Return limits a maker would write under which there is a formula.

    What is exact has room on one side only, if any, so it is made round later.
    """
    for fine in FINER:
        limits = {}
        for number, value in given.items():
            rule = programme.rules[number]
            exact = rule.side == "exact"
            limits[number] = _outward(rule, value, 0.0 if exact else fine)
        if _works(programme, limits):
            break
    return limits


def _works(programme: Programme, limits: Limits) -> bool:
    return attempted(replace(_moved(programme, limits), goals=(NOTHING,))) is not None


def _shrunk(programme: Programme, limits: Limits, number: int) -> Limits:
    """Return the limits with one rule eased as little as the others allow."""
    others = {n: limit for n, limit in limits.items() if n != number}
    if _works(programme, others):
        return others
    rule, known = programme.rules[number], limits[number]
    alone = number not in programme.together()
    nearest = _nearest(_moved(programme, others), number, known) if alone else known
    for fine in FINER:
        to = _outward(rule, nearest, fine)
        if to == known:
            break
        if _part(rule, to) < _part(rule, known) or rule.side == "exact":
            tried = {**limits, number: to}
            if _works(programme, tried):
                return tried
    return limits


def _nearest(programme: Programme, number: int, known: float) -> float:
    """Return the value of a rule nearest to its limit that the other rules allow.

    Parameters
    ----------
    known : float
        A limit for it that allows a formula.

    Notes
    -----
    A value is a ratio of two sums, so the sum that it is multiplied out to is made
    least again and again, each time at the value found last (Dinkelbach, Management
    Science 13:492, 1967).
    """
    rule = programme.rules[number]
    up = known > rule.limit
    sign, side = (1.0, "max") if up else (-1.0, "min")
    rules = [each for n, each in enumerate(programme.rules) if n != number]
    if rule.side == "exact":
        rules.append(replace(rule, side="min" if up else "max"))
    for _ in range(STRAIGHTENED):
        row = rule.linear(known)[0]
        goal = Goal("value", "", Row(row.columns, sign * row.coefficients))
        tried = (*rules, replace(rule, side=side, limit=known))
        found = attempted(replace(programme, rules=tried, goals=(goal,)))
        value = None if found is None else rule.value(found.amounts)
        if value is None or sign * (known - value) <= EXACTLY * _scale(rule):
            break
        known = value
        if not rule.curved:
            break
    return known


def _outward(rule: Rule, value: float, fine: float) -> float:
    """Return a limit that allows a value, in so fine steps; of no step where 0.

    It is never beyond what a limit of the rule can be.
    """
    up = value > rule.limit
    least, most = _ends(rule)
    if fine == 0.0:
        return min(max(round(value, 9), least), most)
    step = 1.0 if rule.kind == "choice" else steps(rule.limit or value) * fine
    edge, towards = (math.ceil, -1e-6) if up else (math.floor, 1e-6)
    to = round(edge(value / step + towards) * step, 9)
    while rule.logarithmic and to <= 0.0:
        step /= 10.0
        to = edge(value / step + towards) * step
    return min(max(to, least), most)


def steps(limit: float) -> float:
    """Return the step a maker would move a limit by.

    >>> steps(12.34), steps(3.2), steps(0.31), steps(0.04)
    (0.5, 0.1, 0.01, 0.001)
    """
    size = abs(limit)
    if size >= 10.0:
        return 0.5
    return float(f"1e{math.floor(math.log10(max(size, 1e-5))) - 1}")
