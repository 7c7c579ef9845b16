"""Several programmes as one: blocks side by side, with columns and links in common.

Each block keeps its rules and its own columns under numbers of its own; what the blocks
share (packs, lots) is added by whoever joins them. The first columns are the blocks'
ingredients, as in any programme.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Indices
from optimiser.domain.rule import Column, Link, Programme, Row, Rule

__all__ = ["Joint", "joined", "placed"]


class Joint(Struct, frozen=True, eq=False):
    """Blocks side by side: ``places`` has, for each, where its columns stand.

    ``own`` are the block and the ingredient of each of the first columns.
    """

    programme: Programme
    places: tuple[Indices, ...]
    own: tuple[tuple[int, str], ...]


def joined(blocks: Sequence[Programme]) -> Joint:
    """Return some programmes as one without goals.

    Keys and ids begin with the number of their block, so that they stay unique.
    """
    sizes = [len(block.ingredients) for block in blocks]
    first, helping = 0, sum(sizes)
    places = []
    for block, size in zip(blocks, sizes, strict=True):
        more = len(block.columns) - size
        places.append(
            np.concatenate(
                [np.arange(first, first + size), np.arange(helping, helping + more)]
            )
        )
        first, helping = first + size, helping + more
    columns: list[Column] = [Column("amount", "")] * helping
    rules: list[Rule] = []
    links: list[Link] = []
    for number, (block, place) in enumerate(zip(blocks, places, strict=True)):
        for at, column in zip(place.tolist(), block.columns, strict=True):
            columns[at] = replace(column, key=f"{number}/{column.key}")
        rules += [_rule(rule, number, place) for rule in block.rules]
        links += [replace(x, row=placed(x.row, place)) for x in block.links]
    own = tuple(
        (number, key)
        for number, block in enumerate(blocks)
        for key in block.ingredients
    )
    programme = Programme(
        ingredients=tuple(f"{number}/{key}" for number, key in own),
        columns=tuple(columns),
        rules=tuple(rules),
        links=tuple(links),
        goals=(),
    )
    return Joint(programme, tuple(places), own)


def placed(row: Row, place: Indices) -> Row:
    """Return a row of a block over the columns of the whole."""
    return Row(place[row.columns], row.coefficients)


def _rule(rule: Rule, number: int, place: Indices) -> Rule:
    return replace(
        rule,
        id=f"{number}/{rule.id}",
        moves_with=None if rule.moves_with is None else f"{number}/{rule.moves_with}",
        amounts=placed(rule.amounts, place),
        per=placed(rule.per, place),
        terms=tuple(replace(x, column=int(place[x.column])) for x in rule.terms),
        lacking=tuple(replace(x, column=int(place[x.column])) for x in rule.lacking),
    )
