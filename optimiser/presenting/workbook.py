"""Tables and pages as a spreadsheet (.xlsx): numbers as numbers, text as text.

The library that writes it comes with the extra ``xlsx`` and is loaded when needed.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimiser.errors import InputError, Problem
from optimiser.presenting.degrees import as_shown
from optimiser.presenting.page import (
    Bands,
    Cell,
    Item,
    Number,
    Numbered,
    Page,
    Paragraph,
    Plot,
    Table,
)
from optimiser.presenting.sheet import Sheet, as_sheet, seen_in
from optimiser.presenting.words import clean
from optimiser.presenting.writing import (
    OTHER_NAME,
    TAKEN,
    refuse_what_cannot_be_written,
    written_by_draft,
)
from optimiser.reading.sheets import GET_LIBRARY, NO_LIBRARY, is_workbook
from optimiser.reading.tables import first_row

if TYPE_CHECKING:
    from xlsxwriter.worksheet import Worksheet

__all__ = [
    "REPORT",
    "as_xlsx",
    "is_workbook",
    "page_sheets",
    "refuse_another_workbook",
    "write_workbook",
]

REPORT = "a report of optimiser"  # by which one written before is known
LONGEST_NAME = 31  # of a sheet
LONGEST_TEXT = 32_000  # of a cell
_UNFIT = re.compile(r"[\[\]:*?/\\']+")


def refuse_another_workbook(path: Path, columns: Sequence[str] | None) -> None:
    """Say so, before any work is done, where a table cannot go to a spreadsheet.

    Raises
    ------
    InputError
        If the library is missing, or a file is there whose first row is another.
    """
    if not find_spec("xlsxwriter"):
        raise InputError([Problem(NO_LIBRARY, str(path), fix=GET_LIBRARY)])
    refuse_what_cannot_be_written(path)
    if columns is None or not path.is_file() or path.stat().st_size == 0:
        return
    # A unit may stand after a name; its own may be another one.
    found = iter([each.partition(",")[0] for each in first_row(path)])
    if not all(each.partition(",")[0] in found for each in columns):
        raise InputError([Problem(TAKEN, file=str(path), fix=OTHER_NAME)])


def write_workbook(
    path: Path, sheets: Sequence[Sheet], columns: Sequence[str] | None = None
) -> None:
    """Write tables as a spreadsheet, whole or not at all.

    Parameters
    ----------
    columns : sequence of str, optional
        Those that the first row of a file that is replaced must have; else all of the
        first table's.

    Raises
    ------
    InputError
        As `refuse_another_workbook` says.
    """
    refuse_another_workbook(path, sheets[0].header if columns is None else columns)
    content = as_xlsx(sheets)
    with written_by_draft(path) as draft:
        draft.write_bytes(content)


def as_xlsx(sheets: Iterable[Sheet]) -> bytes:
    """Return tables as a spreadsheet, each as a sheet below a bold head."""
    import xlsxwriter  # noqa: PLC0415 - seldom needed

    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        formats = _Formats(book)
        taken: set[str] = set()
        for each in sheets:
            _fill(book.add_worksheet(_name(each.name, taken)), each, formats)
    return out.getvalue()


class _Formats:
    """The formats of a book, each made once."""

    def __init__(self, book: Any) -> None:  # noqa: ANN401 - of the library
        self._book, self._made = book, dict[str, Any]()
        self.head = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
        self.plain = book.add_format({"text_wrap": False})

    def of(self, shown: str) -> Any:  # noqa: ANN401 - of the library
        """Return the format of a number, or of days."""
        if shown not in self._made:
            self._made[shown] = self._book.add_format({"num_format": shown})
        return self._made[shown]


def _name(name: str, taken: set[str]) -> str:
    """Return a name that a sheet may have, and that no other one has."""
    plain = " ".join(_UNFIT.sub(" ", seen_in(clean(name))).split()) or "table"
    found, number = plain[:LONGEST_NAME].strip(), 1
    while found.casefold() in taken:
        number += 1
        end = f" {number}"
        found = plain[: LONGEST_NAME - len(end)].strip() + end
    taken.add(found.casefold())
    return found


def _fill(to: Worksheet, table: Sheet, formats: _Formats) -> None:
    for column, head in enumerate(table.heads):
        to.write_string(0, column, seen_in(head), formats.head)
    for number, row in enumerate(table.rows, start=1):
        for column, value in enumerate(row):
            _put(to, number, column, value, formats)
    if any(table.header):
        to.freeze_panes(1, 0)
    to.autofit(600)


def _put(to: Worksheet, row: int, column: int, value: object, of: _Formats) -> None:
    """Write one value; text as text, whatever it looks like, the unknown as blank."""
    if isinstance(value, Number):
        decimals = re.search(r"\.(\d+)", value.text)
        places = len(decimals[1]) if decimals else 0
        shown = f"0.{'0' * places}" if places else "General"
        if value.value is None:
            to.write_string(row, column, seen_in(value.text))
        else:
            exact = float(f"{value.value:.10g}")
            to.write_number(row, column, exact, of.of(shown))
    elif isinstance(value, bool):
        to.write_string(row, column, "yes" if value else "no")
    elif isinstance(value, int | float):
        if math.isfinite(value):
            to.write_number(row, column, float(f"{value:.10g}"))
    elif isinstance(value, date):
        to.write_datetime(row, column, value, of.of("yyyy-mm-dd"))
    elif value is not None and value != "":
        to.write_string(row, column, seen_in(str(value))[:LONGEST_TEXT])


# -- pages ---------------------------------------------------------------------------


def page_sheets(pages: Sequence[Page]) -> tuple[Sheet, ...]:
    """Return what pages say: their words as a first sheet, then each table and figure.

    The rows of tables keep their values, so that sums can be worked on.
    """
    told: list[tuple[object, ...]] = []
    tables: list[Sheet] = []
    for page in map(as_shown, pages):
        told += [(page.title,), ("; ".join(page.about),)]
        for section in page.sections:
            told += [(), (section.title,)] if section.title else [()]
            for block in section.blocks:
                if isinstance(block, Table):
                    name = section.title or page.title
                    tables.append(_of_table(block, name))
                elif isinstance(block, Plot | Bands):
                    tables.append(_of_figure(block, section.title or page.title))
                    told.append((block.caption,))
                else:
                    told += [(line,) for line in _lines(block)]
        told.append(())
    return (Sheet("report", (REPORT,), tuple(told)), *tables)


def _lines(block: Paragraph | Item | Numbered) -> Iterator[str]:
    match block:
        case Paragraph():
            yield clean(block.whole)
        case Item():
            yield f"- {clean(block.whole)}"
            yield from (f"    {clean(each)}" for each in block.under)
        case Numbered():
            yield from (
                f"{n}. {clean(each)}" for n, each in enumerate(block.written, 1)
            )


def _of_table(table: Table, name: str) -> Sheet:
    head = [clean(column.head) for column in table.columns]
    rows = zip(*(map(_value, column.cells) for column in table.columns), strict=True)
    return as_sheet(name, head, rows)


def _value(shown: Cell) -> object:
    if isinstance(shown, Number):
        return shown
    return clean(shown)


def _of_figure(figure: Plot | Bands, name: str) -> Sheet:
    """Return the values that a figure draws."""
    if isinstance(figure, Bands):
        what = ("least", "most", figure.mark, figure.dots or "others")
        head = ["", *(f"{each}, {figure.unit}" for each in what)]
        rows = [
            (clean(x.name), x.low, x.high, x.value, ", ".join(map(str, x.dots)))
            for x in figure.spans
        ]
        return as_sheet(name, head, rows)
    places = sorted({at for series in figure.series for at in series.at})
    head = [figure.across]
    columns: list[list[float | None]] = []
    for each in figure.series:
        known = dict(zip(each.at, each.values, strict=True))
        columns.append([known.get(at) for at in places])
        head.append(f"{clean(each.name)}, {figure.up}")
        if each.doubt:
            doubt = dict(zip(each.at, each.doubt, strict=True))
            columns.append([doubt.get(at) for at in places])
            head.append(f"give or take, {figure.up}")
    return as_sheet(name, head, zip(places, *columns, strict=True))
