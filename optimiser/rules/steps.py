"""Amounts in whole steps: a formula as a maker would write it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Column, Link, Programme, Row
from optimiser.domain.scenario import Scenario, Steps

__all__ = ["finest", "in_whole_steps", "step_of"]

# Steps are read as decimal fractions of so many parts of a percent.
PARTS = 10_000


def step_of(steps: Steps, key: str, category: str) -> float:
    """Return the step of an ingredient, percent: its own, its category's, or of all."""
    return steps.own.get(key, steps.own.get(category, steps.step))


def finest(steps: Steps, pinned: Iterable[float] = ()) -> float:
    """Return the largest step of which every step, and what is pinned, is a multiple.

    >>> from optimiser.domain.material import Origin
    >>> finest(Steps(0.5, {"scent": 0.2}, Origin("bar.toml")))
    0.1
    """
    shares = (steps.step, *steps.own.values(), *pinned)
    every = [Fraction(each).limit_denominator(PARTS) for each in shares]
    shared = math.lcm(*(each.denominator for each in every))
    whole = [each.numerator * (shared // each.denominator) for each in every]
    return math.gcd(*whole) / shared


def in_whole_steps(
    programme: Programme, scenario: Scenario, catalogue: Catalogue, *, rest: bool
) -> Programme:
    """Return the programme whose ingredients come in whole steps.

    What a pin or the base fixes is as the maker wrote it, and has no step.

    Parameters
    ----------
    rest : bool
        Whether one ingredient may take what is left to 100, to the finest step.
    """
    steps = scenario.steps
    if steps is None:
        return programme
    pinned = programme.fixed()
    columns, links = list(programme.columns), list(programme.links)
    fine, taking = finest(steps, pinned.values()), []
    for column, key in enumerate(programme.ingredients):
        if key in pinned:
            continue
        step = step_of(steps, key, catalogue.ingredients[key].category)
        count = len(columns)
        columns.append(Column("steps", key, 0.0, math.floor(100.0 / step), whole=True))
        row = [(column, 1.0), (count, -step)]
        parts = round(step / fine)
        if rest and parts > 1:
            part, takes = count + 1, count + 2
            columns.append(Column("parts", key, 0.0, parts - 1.0, whole=True))
            columns.append(Column("takes the rest", key, 0.0, 1.0, whole=True))
            row.append((part, -fine))
            only = Row.of([(part, 1.0), (takes, 1.0 - parts)])
            links.append(Link(only, -math.inf, 0.0))
            taking.append(takes)
        links.append(Link(Row.of(row), 0.0, 0.0))
    if taking:
        one = Row.of((column, 1.0) for column in taking)
        links.append(Link(one, -math.inf, 1.0))
    return replace(programme, columns=tuple(columns), links=tuple(links))
