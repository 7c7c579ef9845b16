"""The formula as a table to keep: CSV for a spreadsheet, a frame for pandas."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.formula import in_order
from optimiser.presenting.words import exactly

if TYPE_CHECKING:
    import pandas as pd

    from optimiser.explaining.answer import Answer, Checked, FormulaLine

__all__ = ["cell", "formula_csv", "to_frame"]

HEADER = (
    "ingredient",
    "name",
    "category",
    "percent",
    "grams",
    "price_per_kg",
    "cost_per_kg_product",
    "base_percent",
    "move",
)


# Control characters, and those that turn the order of reading round.
_UNSEEN = dict.fromkeys(
    [*range(0x20), *range(0x7F, 0xA0), *range(0x202A, 0x202F), *range(0x2066, 0x206A)]
)


def cell(text: str) -> str:
    """Return a text so that no spreadsheet takes it for a sum to work out.

    Characters that are not seen go first, for they may stand before the sum.

    >>> cell("=1+1"), cell("shea butter")
    ("'=1+1", 'shea butter')
    """
    if text[:1].isalnum() and text.isprintable():  # nearly every one
        return text
    seen = text.translate(_UNSEEN)
    return f"'{seen}" if seen.lstrip()[:1] in tuple("=+-@") else seen


def formula_csv(result: Answer | Checked) -> str:
    """Return the formula as CSV: points as decimals, blank where not known."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    for row in _rows(result.formula):
        writer.writerow(
            cell(each)
            if isinstance(each, str)
            else ""
            if each is None
            else f"{each:.10g}"
            for each in row
        )
    return out.getvalue()


def to_frame(result: Answer | Checked) -> pd.DataFrame:
    """Return the formula as a pandas frame, one ingredient a row.

    Raises
    ------
    TypeError
        For a clash, which has no formula.
    """
    if result.status == "clash":
        raise TypeError("a clash has no formula: see .rules and .ways_out")
    import pandas as pd  # noqa: PLC0415 - slow to import, seldom needed

    return pd.DataFrame(_rows(result.formula), columns=list(HEADER))


def _rows(lines: Sequence[FormulaLine]) -> list[tuple[str | float | None, ...]]:
    return [
        (
            line.ingredient,
            line.name,
            line.category,
            exactly(line.percent),
            exactly(line.grams),
            _known(line.price_per_kg),
            _known(line.cost_per_kg_product),
            _known(line.base_percent),
            None
            if line.base_percent is None
            else exactly(line.percent - line.base_percent),
        )
        for line in in_order(lines)
    ]


def _known(number: float | None) -> float | None:
    return None if number is None else exactly(number)
