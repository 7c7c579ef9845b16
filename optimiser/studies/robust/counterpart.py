"""A formula that bears a stated number of doubts at their worst at once.

Source: Bertsimas and Sim, The Price of Robustness, Operations Research 52:35, 2004.
A rule ``sum a x >= b`` whose coefficients may fall by ``d`` holds whichever ``budget``
of them fall together exactly if, for some ``z, p >= 0``,

    sum a x - budget z - sum p >= b,    z + p_i >= d_i x_i.

That is linear again, and the budget may be a fraction.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from msgspec.structs import replace

from optimiser.domain import wording
from optimiser.domain.arrays import Floats
from optimiser.domain.rule import Column, Goal, Link, Programme, Row, Rule
from optimiser.domain.scenario import Scenario
from optimiser.studies.robust.doubt import Doubt, judged, room_of, spread

__all__ = ["Deviations", "deviations", "protect", "robust_programme", "worst_sum"]

# Rule number -> column -> how far its coefficient may move to the worse side.
Deviations = Mapping[int, Mapping[int, float]]


def worst_sum(moves: Sequence[float], budget: float) -> float:
    """Return the most that ``budget`` of some moves, none negative, add up to.

    >>> worst_sum([1.0, 5.0, 3.0], 1.5)
    6.5
    """
    ordered = sorted(moves, reverse=True)
    whole = min(int(budget), len(ordered))
    total = math.fsum(ordered[:whole])
    if whole < len(ordered):
        total += (budget - whole) * ordered[whole]
    return total


def deviations(programme: Programme) -> dict[int, dict[int, float]]:
    """Return how far the figures of each rule may move its row to the worse side."""
    found: dict[int, dict[int, float]] = {}
    for number, rule in enumerate(programme.rules):
        if not rule.terms:
            continue
        moves: dict[int, float] = {}
        for term in rule.terms:
            move = spread(rule, term)
            if move > 0.0:
                moves[term.column] = moves.get(term.column, 0.0) + move
        found[number] = moves
    return found


def robust_programme(
    programme: Programme, scenario: Scenario, doubt: Doubt, budget: float
) -> Programme:
    """Return the programme whose formulas bear ``budget`` doubts in every rule.

    Figures at their worst in windows, weighings at their worst in shares, and prices
    at their worst in the cost, each by the same budget.
    """
    if budget <= 0:
        return programme
    asked = programme
    if doubt.figures:
        moves = deviations(programme)
        for number, each in moves.items():
            asked = protect(asked, number, each, budget)
    asked = _weighed(asked, programme, scenario, doubt, budget)
    return _priced(asked, doubt, budget)


def protect(
    programme: Programme, number: int, moves: Mapping[int, float], budget: float
) -> Programme:
    """Return the programme with one rule held against ``budget`` of its moves."""
    if not moves:
        return programme
    rule = programme.rules[number]
    columns, links, added = _guard(programme, moves, budget)
    sign = -1.0 if rule.side == "min" else 1.0
    pairs = zip(rule.amounts.columns, rule.amounts.coefficients, strict=True)
    row = Row.of([*pairs, *((column, sign * a) for column, a in added)])
    provisos = (
        *rule.provisos,
        f"with {wording.number(budget)} of its figures at their worst",
    )
    rules = list(programme.rules)
    rules[number] = replace(rule, amounts=row, provisos=provisos)
    return replace(programme, columns=columns, links=links, rules=tuple(rules))


def _guard(
    programme: Programme, moves: Mapping[int, float], budget: float
) -> tuple[tuple[Column, ...], tuple[Link, ...], list[tuple[int, float]]]:
    """Return columns and links with ``z`` and ``p``, and what they add to a row."""
    columns, links = list(programme.columns), list(programme.links)
    shared = len(columns)
    columns.append(Column("shared doubt", str(shared)))
    added = [(shared, budget)]
    for column, move in moves.items():
        own = len(columns)
        columns.append(Column("own doubt", str(own)))
        row = Row.of([(shared, 1.0), (own, 1.0), (column, -move)])
        links.append(Link(row, 0.0, math.inf))
        added.append((own, 1.0))
    return tuple(columns), tuple(links), added


def _weighed(
    asked: Programme,
    programme: Programme,
    scenario: Scenario,
    doubt: Doubt,
    budget: float,
) -> Programme:
    """Return the programme with shares held back by what the scale may miss.

    By how much each weighing may be off does not hang on the formula, so the worst of
    a rule is known beforehand. Own shares have room already; a rule that only what is
    fixed meets is left as it is.
    """
    if doubt.weighing_kg <= 0:
        return asked
    steps = _off(programme, scenario, doubt)
    pinned = programme.fixed()
    free = {i for i, key in enumerate(programme.ingredients) if key not in pinned}
    everything = range(len(programme.ingredients))
    rules = list(asked.rules)
    for number, rule in judged(programme):
        if rule.terms or rule.side == "exact":
            continue
        if not free & set(rule.amounts.columns.tolist()):
            continue
        row, _ = rule.linear(rule.limit)
        moves = (np.abs(row.coefficients) * steps[row.columns]).tolist()
        margin = worst_sum(moves, budget) - room_of(rule) * rule.per_constant
        if margin <= 0:
            continue
        sign = 1.0 if rule.side == "min" else -1.0
        if rule.per.columns.size == 0 and rule.per_constant > 0:
            margin /= rule.per_constant
            if rule.limit > margin:
                rules[number] = replace(rule, limit=rule.limit + sign * margin)
        else:
            # Held apart from what it is a share of: the shares of all add up to 100.
            held = dict.fromkeys(everything, -sign * margin / 100.0)
            pairs = zip(rule.amounts.columns, rule.amounts.coefficients, strict=True)
            for column, counted in pairs:
                held[int(column)] = held.get(int(column), 0.0) + float(counted)
            rules[number] = replace(rule, amounts=Row.of(held.items()))
    return replace(asked, rules=tuple(rules))


def _off(programme: Programme, scenario: Scenario, doubt: Doubt) -> Floats:
    """Return by how much each share may be off as weighed, percentage points.

    The fine scale counts where a limit, its own or that of a sum it is in, keeps it to
    what that bears.
    """
    most = np.full(len(programme.ingredients), 100.0)
    for rule in programme.rules:
        columns, counted = rule.amounts.columns, rule.amounts.coefficients
        plain = not (rule.per.columns.size or rule.terms or rule.logarithmic)
        if rule.side == "min" or not plain or columns.max(initial=0) >= most.size:
            continue
        if (counted > 0.0).all():
            limits = rule.limit * rule.per_constant / counted
            most[columns] = np.minimum(most[columns], limits)
    kg = most * scenario.batch_kg / 100.0
    off = np.array([doubt.off_at(float(each)) for each in kg])
    return 100.0 * off / scenario.batch_kg


def _priced(asked: Programme, doubt: Doubt, budget: float) -> Programme:
    """Return the programme that looks at cost with prices at their worst."""
    share = doubt.prices_percent / 100.0
    goals: list[Goal] = []
    for goal in asked.goals:
        if goal.name != "cost" or share <= 0:
            goals.append(goal)
            continue
        pairs = list(
            zip(goal.row.columns.tolist(), goal.row.coefficients.tolist(), strict=True)
        )
        moves = {column: share * cost for column, cost in pairs if cost > 0}
        columns, links, added = _guard(asked, moves, budget)
        asked = replace(asked, columns=columns, links=links)
        goals.append(replace(goal, row=Row.of([*pairs, *added])))
    return replace(asked, goals=tuple(goals))


def worst_value(
    rule: Rule, moves: Mapping[int, float], amounts: Mapping[int, float], budget: float
) -> float | None:
    """Return a rule's value with the worst ``budget`` of its moves, recomputed."""
    size = 1 + max([*amounts, *rule.amounts.columns.tolist(), 0])
    full = np.zeros(size)
    for column, amount in amounts.items():
        full[column] = amount
    below = rule.per_constant + rule.per.at(full)
    if abs(below) < 1e-12:
        return None
    lost = worst_sum([moves[c] * amounts.get(c, 0.0) for c in moves], budget)
    sign = -1.0 if rule.side == "min" else 1.0
    ratio = (rule.amounts.at(full) + sign * lost) / below
    return math.exp(ratio) if rule.logarithmic else ratio
