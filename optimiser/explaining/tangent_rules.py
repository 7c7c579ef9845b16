"""Tangents of the second opinion as rules of a question."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from optimiser.domain.rule import Column, Goal, Programme, Row, Rule
from optimiser.domain.wording import Measured
from optimiser.explaining.second_opinion import SECOND, Opinion, Watched
from optimiser.rules.build import numbered

__all__ = ["beside", "giving", "known_only", "tangent_rule", "with_rules"]

Floats = NDArray[np.float64]

# Points from its limit within which a window by the second opinion may come to hold.
CLOSE = 15.0


def beside(
    programme: Programme, amounts: Floats, opinion: Opinion, which: Sequence[Watched]
) -> Programme:
    """Return a programme with the tangents at an answer that holds the windows.

    They cost the answer nothing, and end its prices where the second opinion would
    begin to hold. Windows that it sees far from their limits have none.
    """
    found = []
    for each in which:
        rule = programme.rules[each.number]
        for row, _ in opinion.tangents(rule, each, amounts):
            own = tangent_rule(rule, row)
            slack = own.slack(amounts)
            if slack is not None and slack < CLOSE:
                # Windows hold to within a tolerance, which the answer may have used.
                sign = 1.0 if rule.side == "min" else -1.0
                found.append(replace(own, limit=own.limit + sign * min(0.0, slack)))
    return with_rules(programme, tuple(numbered(found))) if found else programme


def tangent_rule(rule: Rule, row: Row) -> Rule:
    """Return the rule of a window as the second opinion sees it near a formula."""
    return replace(
        rule,
        id=f"{rule.id}/{SECOND}",
        provisos=(*rule.provisos, f"by the {SECOND}"),
        kind="opinion",
        amounts=row,
        owner="model",
        evidence="estimated",
        moves_with=rule.id,
        terms=(),
    )


def with_rules(programme: Programme, more: Sequence[Rule]) -> Programme:
    """Return a programme with some rules more."""
    return replace(programme, rules=(*programme.rules, *more))


def known_only(programme: Programme, opinion: Opinion) -> Programme:
    """Return the programme without butters that the second opinion cannot judge."""
    out = [
        number
        for number, key in enumerate(programme.ingredients)
        if key in opinion.kitchen.unknown_fats
    ]
    if not out:
        return programme
    names = ", ".join(
        opinion.catalogue.ingredients[programme.ingredients[number]].name
        for number in out
    )
    rule = Rule(
        id=f"{SECOND}/known butters only",
        wording=Measured(names, none=f"no {names}"),
        kind="opinion",
        side="max",
        limit=0.0,
        unit="%",
        amounts=Row.of((number, 1.0) for number in out),
        per_constant=1.0,
        owner="model",
        origin=programme.rules[0].origin,
        provisos=(f"for the {SECOND} knows too little of it",),
    )
    return with_rules(programme, (rule,))


def giving(programme: Programme, tangents: Sequence[Rule]) -> Programme:
    """Return the question of missing the windows least, each in its own measure."""
    columns = list(programme.columns)
    rules = list(programme.rules)
    prices = []
    for rule in tangents:
        give = len(columns)
        columns.append(Column("given", rule.id))
        sign = 1.0 if rule.side == "min" else -1.0
        pairs = zip(rule.amounts.columns, rule.amounts.coefficients, strict=True)
        rules.append(replace(rule, amounts=Row.of([*pairs, (give, sign)])))
        prices.append((give, 0.01))
    goal = Goal("misses", "points", Row.of(prices))
    return replace(programme, columns=tuple(columns), rules=tuple(rules), goals=(goal,))
