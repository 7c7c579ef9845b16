"""Shares of ingredients as a column that adds up."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.presenting import amounts
from optimiser.presenting.page import Number, TableColumn

__all__ = ["percents_column"]


def percents_column(
    head: str,
    hundredths: Sequence[int],
    categories: Sequence[str],
    places: int,
    nothing: str | None = None,
) -> TableColumn:
    """Return percentages that add up, with their total.

    ``nothing`` stands for a share of zero, where it is given.
    """
    cells = [
        Number(
            each / 100,
            nothing
            if nothing is not None and not each
            else amounts.as_text(each, kind in amounts.FINE, places=places),
        )
        for each, kind in zip(hundredths, categories, strict=True)
    ]
    total = sum(hundredths)
    whole = Number(total / 100, amounts.as_text(total, places=places))
    return TableColumn(head, (*cells, whole))
