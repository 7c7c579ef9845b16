"""Tables to keep: CSV, a sheet of a spreadsheet, a frame for pandas."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from optimiser.presenting.formula import in_order
from optimiser.presenting.page import Number
from optimiser.presenting.words import difference, exactly

if TYPE_CHECKING:
    import pandas as pd

    from optimiser.explaining.answer import Answer, Checked, FormulaLine

__all__ = [
    "Sheet",
    "as_sheet",
    "cell",
    "formula_csv",
    "formula_sheet",
    "seen_in",
    "to_frame",
    "told",
]

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


# Control characters, those that turn the order of reading round, and those that are
# not seen; but for what joins letters in some scripts.
_UNSEEN = dict.fromkeys(
    [
        *range(0x20),
        *range(0x7F, 0xA0),
        0xAD,
        0x61C,
        0x180E,
        0x200B,
        *range(0x200E, 0x2010),
        *range(0x2028, 0x202F),
        *range(0x2060, 0x2070),
        0xFEFF,
        *range(0xFFF9, 0xFFFC),
        *range(0xE0000, 0xE0080),
    ]
)


class Sheet(Struct, frozen=True):
    """A table as values: numbers stay numbers, and None is blank.

    A ``Number`` has the digits that it is shown with. ``units`` are of columns whose
    name does not tell it, and stand after it in a spreadsheet's head.
    """

    name: str
    header: tuple[str, ...]
    rows: tuple[tuple[object, ...], ...]
    units: Mapping[str, str] = {}

    @property
    def heads(self) -> tuple[str, ...]:
        """The columns with their units, as a spreadsheet shows them."""
        return tuple(
            f"{name}, {self.units[name]}" if self.units.get(name) else name
            for name in self.header
        )

    @property
    def csv(self) -> str:
        """The table as CSV: points as decimals, blank where not known."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow([cell(name) for name in self.header])
        writer.writerows([told(each) for each in row] for row in self.rows)
        return out.getvalue()


def as_sheet(
    name: str,
    header: Sequence[str],
    rows: Iterable[Sequence[object]],
    units: Mapping[str, str] | None = None,
) -> Sheet:
    """Return a table of any rows."""
    found = tuple(tuple(row) for row in rows)
    return Sheet(name, tuple(header), found, units or {})


def told(value: object) -> str:
    """Return a value as a cell of CSV: blank where it is not known."""
    if value is None:
        return ""
    if isinstance(value, Number):
        return value.text
    if isinstance(value, float):
        number = exactly(value)
        return "" if number is None else f"{number:.10g}"
    return cell(str(value))


def cell(text: str) -> str:
    """Return a text so that no spreadsheet takes it for a sum to work out.

    Characters that are not seen go first, for they may stand before the sum.

    >>> cell("=1+1"), cell("shea butter")
    ("'=1+1", 'shea butter')
    """
    if text[:1].isalnum() and text.isprintable():  # nearly every one
        return text
    seen = seen_in(text)
    return f"'{seen}" if seen.lstrip()[:1] in tuple("=+-@") else seen


def seen_in(text: str) -> str:
    """Return a text without the characters that are not seen."""
    return text.translate(_UNSEEN)


def formula_sheet(result: Answer | Checked) -> Sheet:
    """Return the formula as a table."""
    money = dict.fromkeys(("price_per_kg", "cost_per_kg_product"), result.currency)
    return as_sheet("formula", HEADER, _rows(result.formula), money)


def formula_csv(result: Answer | Checked) -> str:
    """Return the formula as CSV: points as decimals, blank where not known."""
    return formula_sheet(result).csv


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
            else difference(line.percent, line.base_percent),
        )
        for line in in_order(lines)
    ]


def _known(number: float | None) -> float | None:
    return None if number is None else exactly(number)
