"""Amounts in whole steps of a scale: what can be weighed, nearest to what is wanted.

A batch of so many steps is a question of its own, over the rules of the answer: each
ingredient of the formula takes a whole number of steps, at least one, and they add up
to the batch. A pin, or a share kept from the base, falls on no step of most batches:
the step below or above meets it, no further off than half of the 0.1 % that a maker
writes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from msgspec.structs import replace

from optimiser.domain.rule import Column, Goal, Link, Programme, Row, Rule

__all__ = ["AS_WRITTEN", "able_to_miss", "in_weighable_steps", "is_share"]

AS_WRITTEN = 0.05  # percent: half of the 0.1 % that shares are written in
ROUNDING = 1e-7  # of a step
# A step counts for as much as it is of its line, up to so many times what it does in
# the largest: what has to go somewhere goes there, and not into scent or preservative.
DEAREST = 100.0


def is_share(rule: Rule) -> bool:
    """Whether a rule fixes the share of one ingredient, which no step need meet."""
    return rule.side == "exact" and rule.kind in {"pin", "minor"}


def in_weighable_steps(
    programme: Programme,
    wanted: Mapping[str, float],
    batch: int,
    every: Mapping[str, int] | None = None,
) -> Programme:
    """Return the question for the weighable amounts nearest to a formula.

    Parameters
    ----------
    programme : Programme
        The rules, over columns in percent.
    wanted : mapping of ingredient key to percent, what is not used left out
    batch : int
        How many steps of the scale the whole batch is.
    every : mapping of ingredient key to int, optional
        In how many of those steps at once an ingredient is weighed: on a coarser
        scale; else in each.
    """
    one = 100.0 / batch  # percent
    shares = {
        int(rule.amounts.columns[0]): rule.limit
        for rule in programme.rules
        if is_share(rule)
    }
    columns, links = list(programme.columns), list(programme.links)
    steps: dict[int, tuple[int, int]] = {}  # amount column: steps column, how many
    aim: list[tuple[int, float]] = []
    most = max(wanted.values())
    most_steps = 1 if not every else max(every.values())
    for number, key in enumerate(programme.ingredients):
        percent = wanted.get(key)
        if percent is None:
            columns[number] = replace(columns[number], upper=0.0)
            continue
        many = 1 if every is None else every.get(key, 1)
        low, high = 1, batch // many
        if number in shares:
            low, high = _about(shares[number], one * many, most_steps // many)
        step, off = len(columns), len(columns) + 1
        columns.append(Column("steps", key, low, high, whole=True))
        columns.append(Column("off", key))
        exact = percent / one
        links += [
            Link(Row.of([(number, 1.0), (step, -one * many)]), 0.0, 0.0),
            Link(Row.of([(step, many), (off, 1.0)]), exact, math.inf),
            Link(Row.of([(step, many), (off, -1.0)]), -math.inf, exact),
        ]
        steps[number] = step, many
        aim.append((off, 0.5 * one * min(most / percent, DEAREST)))
    kept = tuple(rule for rule in programme.rules if not is_share(rule))
    links.append(Link(Row.of(steps.values()), batch, batch))
    for rule in kept:
        links += _whole(rule, steps, one, len(programme.ingredients))
    goal = Goal("off what is wanted", "points", Row.of(aim))
    return replace(
        programme,
        columns=tuple(columns),
        rules=kept,
        links=tuple(links),
        goals=(goal,),
    )


def _about(limit: float, one: float, together: int = 1) -> tuple[int, int]:
    """Return the steps below and above a share, none that is too far off.

    Where others come in so many steps ``together``, those between two such.

    >>> _about(1.0, 0.03), _about(1.0, 0.09), _about(1.0, 0.7), _about(1.0, 0.03, 10)
    ((33, 34), (11, 11), (1, 2), (32, 35))
    """
    low = max(1, together * math.floor(limit / (one * together) + ROUNDING))
    high = max(1, together * math.ceil(limit / (one * together) - ROUNDING))
    least = max(low, math.ceil((limit - AS_WRITTEN) / one - ROUNDING))
    most = min(high, math.floor((limit + AS_WRITTEN) / one + ROUNDING))
    return (least, most) if least <= most else (low, high)


def _whole(
    rule: Rule, steps: Mapping[int, tuple[int, int]], one: float, ingredients: int
) -> list[Link]:
    """Return to which whole steps a limit holds, where the rule is a plain sum of them.

    The search need not find out by itself that no sum lies between two steps.
    """
    row, bound = rule.linear(rule.limit)
    pairs = zip(row.columns.tolist(), row.coefficients.tolist(), strict=True)
    used = {c: a for c, a in pairs if c in steps or c >= ingredients}
    if not used or max(used) >= ingredients or len(set(used.values())) > 1:
        return []
    total = Row.of(steps[c] for c in used)
    together = math.gcd(*(steps[c][1] for c in used))
    each = one * next(iter(used.values()))
    at = bound / (each * together)
    up = together * math.ceil(at - ROUNDING * max(1.0, abs(at)))
    down = together * math.floor(at + ROUNDING * max(1.0, abs(at)))
    if rule.side == "exact":
        return [Link(total, up, math.inf), Link(total, -math.inf, down)]
    if (rule.side == "min") == (each > 0.0):
        return [Link(total, up, math.inf)]
    return [Link(total, -math.inf, down)]


def able_to_miss(
    programme: Programme, may: Callable[[Rule], bool]
) -> tuple[Programme, Goal]:
    """Return the programme with rules that may be missed, and by how much they are.

    What a rule is missed by counts in points of the ingredient that moves it most.
    """
    columns = list(programme.columns)
    rules = []
    misses: list[tuple[int, float]] = []
    for rule in programme.rules:
        row, _ = rule.linear(rule.limit)
        if not may(rule) or is_share(rule) or row.columns.size == 0:
            rules.append(rule)
            continue
        scale = float(abs(row.coefficients).max())
        signs = {"min": (1.0,), "max": (-1.0,), "exact": (1.0, -1.0)}[rule.side]
        pairs = list(
            zip(
                rule.amounts.columns.tolist(),
                rule.amounts.coefficients.tolist(),
                strict=True,
            )
        )
        for sign in signs:
            pairs.append((len(columns), sign * scale))
            misses.append((len(columns), 1.0))
            columns.append(Column("missed", rule.id))
        rules.append(replace(rule, amounts=Row.of(pairs)))
    goal = Goal("rules missed", "points", Row.of(misses))
    return replace(programme, columns=tuple(columns), rules=tuple(rules)), goal
