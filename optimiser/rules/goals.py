"""The aims as the solver sees them, in the maker's order."""

from __future__ import annotations

import math

from optimiser.domain.rule import Column, Goal, Link, Row
from optimiser.domain.scenario import CHANGES, Aim
from optimiser.rules.space import Space
from optimiser.rules.stock import shelf_shares

__all__ = ["goals"]


def goals(space: Space) -> tuple[Goal, ...]:
    """Return one goal an aim; each later one is held to the earlier ones."""
    return tuple(_goal(space, aim) for aim in space.scenario.aims)


def _goal(space: Space, aim: Aim) -> Goal:
    if aim.name == "cost":
        unit = f"{space.catalogue.currency}/kg"
        return Goal("cost", unit, _cost(space), slack=aim.slack)
    if aim.name in CHANGES:
        row = space.distance(CHANGES[aim.name])
        return Goal(aim.name, "points", row, slack=aim.slack)
    if aim.name == "count":
        flags = [space.used(i) for i in range(len(space.ingredients))]
        return Goal("count", "ingredients", space.sum_of(flags), slack=aim.slack)
    return Goal("bought", "%", _bought(space), slack=aim.slack)


def _cost(space: Space) -> Row:
    """Return money per kg of product per percent of each ingredient."""
    pairs = []
    for column, key in enumerate(space.ingredients):
        price = space.catalogue.price_per_kg(key)
        if price is not None:  # the pool keeps the others out of a cost question
            pairs.append((column, price / 100.0))
    return Row.of(pairs)


def _bought(space: Space) -> Row:
    """Return the percentage that the shelf does not cover."""
    pairs = []
    for column, share in enumerate(shelf_shares(space)):
        if share == 0.0:
            pairs.append((column, 1.0))
        elif share < 100.0:
            extra = space.add(Column("bought", space.ingredients[column]))
            row = Row.of([(column, 1.0), (extra, -1.0)])
            space.links.append(Link(row, -math.inf, share))
            pairs.append((extra, 1.0))
    return Row.of(pairs)
