"""Rules that keep a formula clearly apart from others, as exact choices.

Both formulas sum to 100, so their distance is what the first one loses: the sum,
over what it holds, of how far the new share lies below the old one. Each of these
losses counts or not (a 0-or-1 column), which makes "at least so far apart" exact.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.rule import Column, Link, Programme, Row, Rule
from optimiser.domain.wording import Counted, Fixed, Measured, Wording

__all__ = ["at_most_cost", "far_from", "other_set", "with_flags"]

HERE = Origin("the study")


def far_from(
    programme: Programme,
    other: Mapping[str, float],
    least: float,
    title: str,
    catalogue: Catalogue | None = None,
    by: str = "category",
) -> Programme:
    """Return a programme whose formulas are at least so far from another one.

    Parameters
    ----------
    other : mapping of ingredient key to percent
    least : float
        Points, by ingredient; with a catalogue ``by`` "category" or "kind".
    title : str
        What the other formula is called.
    """
    columns, links = list(programme.columns), list(programme.links)
    lost: list[int] = []
    for name, share in _shares(other, catalogue, by).items():
        members = [
            column
            for column, key in enumerate(programme.ingredients)
            if _group(key, catalogue, by) == name
        ]
        counts, loss = len(columns), len(columns) + 1
        columns.append(Column("counts", name, 0.0, 1.0, whole=True))
        columns.append(Column("lost", name, 0.0, share))
        links.append(Link(Row.of([(loss, 1.0), (counts, -share)]), -math.inf, 0.0))
        # Where it counts, loss <= share - new share; else only loss = 0 is left.
        room = [(counts, 100.0 - share), (loss, 1.0)]
        row = Row.of([*((column, 1.0) for column in members), *room])
        links.append(Link(row, -math.inf, 100.0))
        lost.append(loss)
    by = "ingredient" if catalogue is None else by
    rule = _rule(
        f"apart/{title}/{by}",
        Counted("point", "points", f"by {by} from {title}"),
        Row.of((loss, 1.0) for loss in lost),
        "min",
        least,
        "points",
    )
    return replace(
        programme,
        columns=tuple(columns),
        links=tuple(links),
        rules=(*programme.rules, rule),
    )


def _group(key: str, catalogue: Catalogue | None, by: str) -> str:
    return key if catalogue is None else catalogue.ingredients[key].group(by)


def _shares(
    other: Mapping[str, float], catalogue: Catalogue | None, by: str
) -> dict[str, float]:
    shares: dict[str, float] = {}
    for key, percent in other.items():
        name = _group(key, catalogue, by)
        shares[name] = shares.get(name, 0.0) + percent
    return shares


def at_most_cost(programme: Programme, most: float, unit: str) -> Programme:
    """Return a programme whose formulas cost at most so much, in money per kg.

    Its first goal is the cost.
    """
    goal = programme.goals[0]
    rule = _rule(
        "apart/cost",
        Measured("materials", unit),
        goal.row,
        "max",
        most,
        unit,
    )
    return replace(programme, rules=(*programme.rules, rule))


def with_flags(
    programme: Programme, doses: Mapping[str, float]
) -> tuple[Programme, dict[str, int]]:
    """Return a programme in which each ingredient is used at its dose or not at all.

    Parameters
    ----------
    doses : mapping of ingredient key to percent
        The least that counts as used.

    Returns
    -------
    tuple of Programme and dict of ingredient key to its 0-or-1 column
    """
    columns, links = list(programme.columns), list(programme.links)
    flags: dict[str, int] = {}
    for column, key in enumerate(programme.ingredients):
        flag = flags[key] = len(columns)
        columns.append(Column("in", key, 0.0, 1.0, whole=True))
        links.append(Link(Row.of([(column, 1.0), (flag, -100.0)]), -math.inf, 0.0))
        links.append(Link(Row.of([(column, 1.0), (flag, -doses[key])]), 0.0, math.inf))
    return replace(programme, columns=tuple(columns), links=tuple(links)), flags


def other_set(
    programme: Programme, flags: Mapping[str, int], used: set[str], title: str
) -> Programme:
    """Return a programme whose formulas use another set of ingredients."""
    pairs = [(flag, -1.0 if key in used else 1.0) for key, flag in flags.items()]
    inside = sum(key in used for key in flags)
    rule = _rule(
        f"apart/{title}/set",
        Fixed(f"another set of ingredients than {title}"),
        Row.of(pairs),
        "min",
        1.0 - inside,
        "ingredients",
    )
    return replace(programme, rules=(*programme.rules, rule))


def _rule(
    name: str, wording: Wording, row: Row, side: str, limit: float, unit: str
) -> Rule:
    return Rule(
        id=name,
        wording=wording,
        kind="apart",
        side=side,
        limit=limit,
        unit=unit,
        amounts=row,
        per_constant=1.0,
        owner="wish",
        origin=HERE,
    )
