"""Amounts in whole steps: a formula as a maker would write it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from fractions import Fraction

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Column, Link, Programme, Row, Rule
from optimiser.domain.scenario import Scenario, Steps

__all__ = ["can_be_met", "coarsest", "in_whole_steps", "off_its_step", "step_of"]

# Steps, and what is multiplied by them, are read as fractions so fine; what a pin
# fixes may have so many decimals, as a small dose has.
PARTS, DECIMALS = 10_000, 7
ROUNDING = 1e-9  # percent
# What takes the rest is off its step where a column of these kinds is not zero.
OFF = frozenset({"takes the rest", "parts of the rest"})


def step_of(steps: Steps, key: str, category: str) -> float:
    """Return the step of an ingredient, percent: its own, its category's, or of all."""
    return steps.own.get(key, steps.own.get(category, steps.step))


def coarsest(steps: Iterable[float]) -> float:
    """Return the largest step of which every step is a multiple.

    >>> coarsest([0.5, 0.2])
    0.1
    """
    every = [Fraction(each).limit_denominator(PARTS) for each in steps]
    return float(_shared(every))


def _shared(numbers: Iterable[Fraction]) -> Fraction:
    """Return the greatest number of which each of some is a whole multiple."""
    numbers = list(numbers)
    below = math.lcm(*(each.denominator for each in numbers))
    above = (each.numerator * (below // each.denominator) for each in numbers)
    return Fraction(math.gcd(*above), below)


def _stepped(
    programme: Programme, scenario: Scenario, catalogue: Catalogue
) -> dict[int, float]:
    """Return the step of each column that has one; what is fixed is as written."""
    steps, fixed = scenario.steps, programme.fixed()
    return {
        column: step_of(steps, key, catalogue.ingredients[key].category)
        for column, key in enumerate(programme.ingredients)
        if steps is not None and key not in fixed
    }


def can_be_met(programme: Programme, scenario: Scenario, catalogue: Catalogue) -> bool:
    """Whether no exact rule is missed by whatever whole steps there are.

    Sums of multiples of 0.5 % never make the 98.8 % that two pins leave of 100: that
    is plain arithmetic, which a search finds out only by trying all there is.
    """
    steps = _stepped(programme, scenario, catalogue)
    places = {key: column for column, key in enumerate(programme.ingredients)}
    fixed = {places[key]: percent for key, percent in programme.fixed().items()}
    exact = [rule for rule in programme.rules if rule.side == "exact"]
    return all(_can_meet(rule, steps, fixed) for rule in exact)


def _can_meet(
    rule: Rule, steps: Mapping[int, float], fixed: Mapping[int, float]
) -> bool:
    """Whether some whole steps might meet an exact rule; True where it is not plain."""
    row, bound = rule.linear(rule.limit)
    left, each = _decimal(bound), []
    for column, coefficient in zip(
        row.columns.tolist(), row.coefficients.tolist(), strict=True
    ):
        by = _decimal(coefficient)
        part = _decimal(steps.get(column, fixed.get(column)))
        if by is None or part is None or left is None:
            return True
        if column in steps:
            each.append(by * part)
        else:
            left -= by * part
    return left is None or not each or left % _shared(each) == 0


def _decimal(number: float | None) -> Fraction | None:
    """Return a number as the short decimal fraction that it is; None if it is none."""
    if number is None:
        return None
    near = Fraction(number).limit_denominator(PARTS)
    fine = Fraction(round(number * 10**DECIMALS), 10**DECIMALS)
    for each in (near, fine):
        if abs(float(each) - number) <= ROUNDING / PARTS:
            return each
    return None


def in_whole_steps(
    programme: Programme, scenario: Scenario, catalogue: Catalogue, *, rest: bool
) -> Programme:
    """Return the programme whose ingredients come in whole steps.

    What a pin or the base fixes is as the maker wrote it, and has no step.

    Parameters
    ----------
    rest : bool
        Whether one ingredient may be off its step, and takes what is left to 100.
    """
    steps = _stepped(programme, scenario, catalogue)
    if not steps:
        return programme
    columns, links = list(programme.columns), list(programme.links)
    shared = coarsest(steps.values())
    left = _left_over(programme, shared)
    taking = []
    for column, step in steps.items():
        key, count = programme.ingredients[column], len(columns)
        columns.append(Column("steps", key, 0.0, math.floor(100.0 / step), whole=True))
        row = [(column, 1.0), (count, -step)]
        parts = round(step / shared)
        if rest and (parts > 1 or left):
            takes = len(columns)
            kind = "takes the rest" if left else "may take the rest"
            columns.append(Column(kind, key, 0.0, 1.0, whole=True))
            row.append((takes, -left))
            taking.append((takes, 1.0))
            if parts > 1:
                part = len(columns)
                kind = "parts of the rest"
                columns.append(Column(kind, key, 0.0, parts - 1.0, whole=True))
                row.append((part, -shared))
                only = Row.of([(part, 1.0), (takes, 1.0 - parts)])
                links.append(Link(only, -math.inf, 0.0))
        links.append(Link(Row.of(row), 0.0, 0.0))
    if taking:
        # Where something is left, no multiples of the shared step make it up.
        links.append(Link(Row.of(taking), 1.0 if left else -math.inf, 1.0))
    return replace(programme, columns=tuple(columns), links=tuple(links))


def _left_over(programme: Programme, shared: float) -> float:
    """Return what no multiples of a step reach of what pins leave of 100, percent."""
    room = 100.0 - math.fsum(programme.fixed().values())
    left = room - math.floor(room / shared + ROUNDING) * shared
    return left if left > ROUNDING else 0.0


def off_its_step(column: Column, amount: float) -> bool:
    """Whether a column's amount tells that its ingredient is off its step."""
    return column.kind in OFF and amount > 0.5
