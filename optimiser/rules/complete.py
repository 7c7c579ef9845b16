"""Helping columns filled in for amounts that somebody gives."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from optimiser.domain.rule import Programme

__all__ = ["complete"]


def complete(programme: Programme, formula: Mapping[str, float]) -> NDArray[np.float64]:
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
    for link in programme.links:
        last = int(link.row.columns[-1])
        if programme.columns[last].kind in {"moved", "bought"}:
            amounts[last] = max(0.0, link.row.at(amounts) - link.upper)
    return amounts
