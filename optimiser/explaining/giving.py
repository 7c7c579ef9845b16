"""Which rules of a clash give, and by how much, where they give least.

Every easing is measured in parts of its rule's own limit.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping

from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.rule import Column, Goal, Programme, Row, Rule, eased_ends
from optimiser.solving import attempted

__all__ = ["Limits", "given_by", "gives", "moved", "part", "scale", "size"]

# Limits by the number of their rule.
Limits = dict[int, float]

# Percent of a part that what a rule multiplies out is first taken to sum to.
FIRST_PART = 60.0
ZERO_SCALE = 15.0
ROUNDS = 4  # times that easings are measured anew, at the most
# A rule that gives for next to nothing, to see what must give beside it.
CHEAP = 1e-3
EXACTLY = 1e-9


def gives(rule: Rule) -> bool:
    """Whether some other limit of a rule, by itself, means more room.

    A tangent moves with its window. A rule about nothing (a ratio to what is not in
    the question) means the same at any limit.
    """
    about_nothing = rule.per.columns.size == 0 and rule.per_constant == 0.0
    return rule.may_ease and rule.moves_with is None and not about_nothing


def moved(programme: Programme, limits: Limits) -> Programme:
    """Return a programme with other limits for some rules, by number."""
    rules = list(programme.rules)
    together = programme.together()
    for number, limit in limits.items():
        by = limit - rules[number].limit
        for each in together.get(number, (number,)):
            to = limit if each == number else rules[each].limit + by
            rules[each] = rules[each].moved(to)
    return replace(programme, rules=tuple(rules))


def part(rule: Rule, to: float) -> float:
    """Return by how much a limit moves, in parts of itself; dropped is one whole."""
    if rule.all_or_nothing and to != rule.limit:
        return 1.0
    return abs(to - rule.limit) / scale(rule)


def size(programme: Programme, limits: Limits, cheap: int | None = None) -> float:
    """Return the sum of the parts that some limits move by."""
    return sum(
        part(programme.rules[number], to) * (CHEAP if number == cheap else 1.0)
        for number, to in limits.items()
    )


def scale(rule: Rule) -> float:
    """Return what counts as one whole change of a rule, in its own unit.

    A rule at zero ("no beeswax") has no size of its own: a band's usual width then.
    """
    if rule.limit == 0.0 and rule.unit == "%":
        return ZERO_SCALE
    return max(abs(rule.limit), 1.0)


def given_by(
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
                least, most = eased_ends(rule)
                given[number] = min(max(value, least), most)
        parts = size(programme, given, cheap)
        if best is not None and parts >= best[0] * 0.999:
            break
        best = parts, given
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
            ("max", "min"), (-1.0, 1.0), eased_ends(rule)[::-1], strict=True
        ):
            if rule.side not in {side, "exact"}:
                continue
            give = len(columns)
            columns.append(Column("given", f"{rule.id} {side}"))
            for each in together.get(number, (number,)):
                rules[each] = _with_column(rules[each], give, sign)
            weight = CHEAP if number == cheap else 1.0
            prices.append((give, weight / (unit * scale(rule))))
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
    return slack < -1e-7 * scale(rule)
