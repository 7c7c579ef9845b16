"""The formula as a table to keep: CSV for a spreadsheet, a frame for pandas."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from optimiser.presenting.formula_text import in_order
from optimiser.presenting.words import exactly

if TYPE_CHECKING:
    import pandas as pd

    from optimiser.explaining.answer import Answer, Checked, FormulaLine

__all__ = ["cell", "formula_csv", "to_frame", "write_whole"]

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


def cell(text: str) -> str:
    """Return a text so that no spreadsheet takes it for a sum to work out.

    >>> cell("=1+1"), cell("shea butter")
    ("'=1+1", 'shea butter')
    """
    starts = text[:1] in {"\t", "\r", "\n"} or text.lstrip()[:1] in {"=", "+", "-", "@"}
    return f"'{text}" if text and starts else text


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
    """Return the formula as a pandas frame, one ingredient a row."""
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


def write_whole(path: Path, text: str, encoding: str = "utf-8-sig") -> None:
    """Write a file so that it is there whole or, if that fails, as it was before.

    The text goes to a new file beside it, which then takes its place. The default
    encoding marks the file as UTF-8, which spreadsheets look for.

    Raises
    ------
    OSError
        If the folder is not there or cannot be written to.
    """
    if path.exists() and not path.is_file():  # a pipe, a device, or a folder
        path.write_text(text, encoding=encoding, newline="")
        return
    path = path.resolve()
    draft = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with draft.open("x", encoding=encoding, newline="") as file:
            file.write(text)
        draft.replace(path)
    except BaseException:
        draft.unlink(missing_ok=True)
        raise
