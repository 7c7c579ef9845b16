"""Helping columns filled in for amounts that somebody gives."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from optimiser.domain.arrays import Floats
from optimiser.domain.rule import Link, Programme

__all__ = ["at_their_least", "complete"]


def complete(programme: Programme, formula: Mapping[str, float]) -> Floats:
    """Return one number a column for a formula in percent.

    A "used" column is 1 where its ingredient is in; a "moved" or "bought" column
    takes the least value its definition allows.

    >>> complete(Programme((), (), (), (), ()), {}).size
    0
    """
    amounts = np.zeros(len(programme.columns))
    for number, column in enumerate(programme.columns):
        if column.kind == "amount":
            amounts[number] = formula.get(column.key, 0.0)
        elif column.kind == "used":
            amounts[number] = 1.0 if formula.get(column.key, 0.0) > 0.0 else 0.0
    return at_their_least(programme, amounts)


def at_their_least(programme: Programme, amounts: Floats) -> Floats:
    """Return amounts with each "moved" or "bought" column as small as it may be.

    Where no aim makes one small, a solver leaves it anywhere up to its limit.
    """
    least = amounts.copy()
    found: dict[int, list[Link]] = {}
    for link in programme.links:
        last = int(link.row.columns[-1])
        if programme.columns[last].kind in {"moved", "bought"}:
            found.setdefault(last, []).append(link)
    for column, links in found.items():
        least[column] = 0.0
        least[column] = max(0.0, *(_needed(link, least) for link in links))
    return least


def _needed(link: Link, amounts: Floats) -> float:
    """Return how much of its last column, now none, a definition asks for."""
    own, rest = float(link.row.coefficients[-1]), link.row.at(amounts)
    side = link.upper if own < 0.0 else link.lower
    return (side - rest) / own if math.isfinite(side) else 0.0
