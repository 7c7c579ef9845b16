"""A product's question as a block of the whole: its rules, its steps, its moves."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.plan import Product
from optimiser.domain.rule import Column, Link, Programme, Row, Rule
from optimiser.domain.wording import Measured
from optimiser.explaining.opinions import Solved, told
from optimiser.explaining.second_opinion import (
    known_only,
    tangent_rule,
    watched,
    with_rules,
)
from optimiser.rules.build import numbered
from optimiser.rules.steps import in_whole_steps

__all__ = ["Block", "block_of", "heard", "most_of", "ruled", "stands"]


class Block(Struct, frozen=True, eq=False):
    """A product's programme, and the points moved from its own answer as a row of it.

    ``start`` is that answer, one number a column, where amounts come in no steps.
    """

    programme: Programme
    moved: Row
    start: Floats


def stands(formula: Mapping[str, float]) -> Block:
    """Return a formula that is given as a block that cannot move."""
    columns = tuple(Column("amount", key, x, x) for key, x in formula.items())
    programme = Programme(tuple(formula), columns, (), (), ())
    return Block(programme, Row.of(()), np.array([*formula.values()]))


def block_of(
    product: Product,
    solved: Solved,
    rules: Programme,
    catalogue: Catalogue,
    near: Mapping[str, float] | None = None,
    *,
    rest: bool | None,
) -> Block:
    """Return the block of a product whose formula may move.

    Parameters
    ----------
    solved : Solved
        The scenario's own answer.
    rules : Programme
        Its question, with what the second opinion has added since.
    rest : bool or None
        None: amounts in no steps; else in those that its scenario asks for, and
        whether one ingredient may take what is left to 100.
    """
    programme = rules
    if rest is not None:
        programme = in_whole_steps(rules, solved.scenario, catalogue, rest=rest)
    programme, moved = _measured(programme, solved.amounts)
    start = np.zeros(len(programme.columns))
    start[: len(rules.columns)] = solved.columns
    if product.within is not None:
        rule = Rule(
            id="plan/within",
            wording=Measured("change from the formula as it stands", "points"),
            kind="closeness",
            side="max",
            limit=product.within,
            unit="points",
            amounts=moved,
            per_constant=1.0,
            owner="wish",
            origin=Origin("the plan"),
        )
        programme = with_rules(programme, (rule,))
    if near is not None:
        programme, moved = _measured(programme, near)
        start = np.append(start, np.zeros(len(programme.columns) - start.size))
    return Block(programme, moved, start)


def _measured(
    programme: Programme, formula: Mapping[str, float]
) -> tuple[Programme, Row]:
    """Return a programme that counts the points moved from a formula, and their row.

    Half the sum of absolute moves is the sum of the moves upward, for both sum to 100.
    """
    columns, links = list(programme.columns), list(programme.links)
    pairs = []
    for at, key in enumerate(programme.ingredients):
        before = formula.get(key, 0.0)
        if before == 0.0:
            pairs.append((at, 1.0))
            continue
        up = len(columns)
        columns.append(Column("moved", f"as it stands: {key}"))
        links.append(Link(Row.of([(at, 1.0), (up, -1.0)]), -math.inf, before))
        pairs.append((up, 1.0))
    whole = replace(programme, columns=tuple(columns), links=tuple(links))
    return whole, Row.of(pairs)


def ruled(solved: Solved) -> Programme:
    """Return the rules that a product's formula keeps wherever it moves.

    Where the second opinion holds the windows, what it cannot judge stays out.
    """
    if solved.opinion is None or not _is_held(solved):
        return solved.programme
    return known_only(solved.programme, solved.opinion)


def heard(solved: Solved, rules: Programme, formula: Mapping[str, float]) -> Programme:
    """Return the rules with tangents where a formula breaks a window by the opinion.

    The same rules where it breaks none. A window with a most needs every tangent so
    far; one with a least, the last alone.
    """
    opinion = solved.opinion
    if opinion is None or not _is_held(solved):
        return rules
    amounts = np.zeros(len(rules.columns))
    for at, key in enumerate(rules.ingredients):
        amounts[at] = formula.get(key, 0.0)
    said = told(opinion, rules, amounts)
    if said is None or said.outcome == "agrees":
        return rules
    more, over = [], set()
    for each in watched(opinion.scenario, rules):
        rule = rules.rules[each.number]
        for row, _ in opinion.tangents(rule, each, amounts):
            more.append(tangent_rule(rule, row))
            over |= {rule.id} if rule.side == "min" else set()
    kept = [x for x in rules.rules if x.kind != "opinion" or x.moves_with not in over]
    return replace(rules, rules=tuple(numbered((*kept, *more))))


def _is_held(solved: Solved) -> bool:
    """Whether the second opinion holds the windows of a product's own answer."""
    held = solved.outcome in {"agrees", "held"}
    return held and solved.scenario.second_opinion


def most_of(programme: Programme) -> dict[str, float]:
    """Return the most percent of each ingredient, by its bounds and its own limits."""
    most = [min(100.0, column.upper) for column in programme.columns]
    for rule in programme.rules:
        alone = rule.amounts.columns.size == 1 and rule.per.columns.size == 0
        if not alone or rule.side == "min" or rule.logarithmic:
            continue
        at, each = int(rule.amounts.columns[0]), float(rule.amounts.coefficients[0])
        if each > 0.0:
            most[at] = min(most[at], max(0.0, rule.limit * rule.per_constant / each))
    return dict(zip(programme.ingredients, most, strict=False))
