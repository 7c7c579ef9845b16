"""Sheets of spreadsheets (.xlsx) as rows of text, as a CSV file would hold them.

The library that reads them comes with the extra ``xlsx`` and is loaded when needed.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from optimiser.errors import Problem, nearest
from optimiser.reading.text import absent

if TYPE_CHECKING:
    from python_calamine import CalamineWorkbook

__all__ = [
    "GET_LIBRARY",
    "NO_LIBRARY",
    "SUFFIX",
    "SheetRows",
    "cell_name",
    "is_workbook",
    "read_sheet",
    "sheet_names",
]

SUFFIX = ".xlsx"
NO_LIBRARY = "needs a library for spreadsheets that is not installed"
GET_LIBRARY = "pip install '.[xlsx]' in the project's folder, or use a .csv file"
GREATEST_BYTES = 200_000_000  # unpacked
BROKEN = "is no spreadsheet that can be read"
SAVE_AGAIN = "open it in a spreadsheet and save it as .xlsx once more, without password"


class SheetRows(Struct, frozen=True):
    """The rows of a sheet with their numbers, and what it is called in messages."""

    shown: str
    rows: tuple[tuple[int, list[str]], ...]


def is_workbook(path: Path) -> bool:
    """Whether a file is a spreadsheet, by its ending."""
    return path.suffix.casefold() == SUFFIX


def cell_name(column: int, row: int) -> str:
    """Return a cell's name; the first column is 0, the first row 1.

    >>> cell_name(2, 7), cell_name(27, 1)
    ('C7', 'AB1')
    """
    letters, left = "", column + 1
    while left:
        left, place = divmod(left - 1, 26)
        letters = chr(ord("A") + place) + letters
    return f"{letters}{row}"


def read_sheet(
    path: Path, shown: str, problems: list[Problem], name: str | None = None
) -> SheetRows | None:
    """Return the rows of a sheet, blank ones too.

    Parameters
    ----------
    problems : list of Problem
        Gains what keeps it from being read; nothing is raised.
    name : str, optional
        Of the sheet; else the first that is shown and holds something.

    Returns
    -------
    SheetRows or None
        Numbers and dates as a CSV file would hold them; None if there is no such
        sheet, or the file cannot be read.
    """
    book = _opened(path, shown, problems)
    if book is None:
        return None
    names = _shown_names(book)
    if name is not None and name not in names:
        wrong = f"has no sheet {name}; {nearest(name, names)}"
        fix = "name the sheet so, or put it there"
        problems.append(Problem(wrong, shown, fix=fix))
        return None
    for each in names if name is None else [name]:
        rows = _rows(book, each)
        if rows or each == name:
            return SheetRows(f"{shown}, sheet {each}", rows)
    fix = "write the table into its first sheet"
    problems.append(Problem("holds no sheet with anything in it", shown, fix=fix))
    return None


def sheet_names(path: Path, shown: str, problems: list[Problem]) -> tuple[str, ...]:
    """Return the names of the sheets that are shown; none if it cannot be read."""
    book = _opened(path, shown, problems)
    return () if book is None else _shown_names(book)


def _shown_names(book: CalamineWorkbook) -> tuple[str, ...]:
    from python_calamine import SheetVisibleEnum  # noqa: PLC0415 - as it is opened

    shown = SheetVisibleEnum.Visible
    return tuple(each.name for each in book.sheets_metadata if each.visible == shown)


def _opened(path: Path, shown: str, problems: list[Problem]) -> CalamineWorkbook | None:
    said = absent(path)
    if said is not None:
        problems.append(Problem(said[0], shown, fix=said[1]))
        return None
    import zipfile  # noqa: PLC0415 - seldom needed

    try:
        from python_calamine import (  # noqa: PLC0415 - seldom needed
            CalamineError,
            CalamineWorkbook,
        )
    except ImportError:
        problems.append(Problem(NO_LIBRARY, shown, fix=GET_LIBRARY))
        return None
    try:
        with zipfile.ZipFile(path) as packed:
            unpacked = sum(each.file_size for each in packed.infolist())
        if unpacked > GREATEST_BYTES:
            fix = "keep only the rows that are used"
            wrong = f"holds more than {GREATEST_BYTES / 1e6:.0f} MB"
            problems.append(Problem(wrong, shown, fix=fix))
            return None
        return CalamineWorkbook.from_path(str(path))
    except (OSError, zipfile.BadZipFile, CalamineError) as error:
        told = getattr(error, "strerror", None)
        wrong = BROKEN if told is None else f"cannot be read ({told.lower()})"
        problems.append(Problem(wrong, shown, fix=SAVE_AGAIN))
        return None


def _rows(book: CalamineWorkbook, name: str) -> tuple[tuple[int, list[str]], ...]:
    """Return the rows of a sheet from its first cell on; none if all are blank."""
    sheet = book.get_sheet_by_name(name)
    found = [[_text(each) for each in row] for row in _cells(sheet)]
    if not any(any(row) for row in found):
        return ()
    return tuple(enumerate(found, start=1))


def _cells(sheet: Any) -> Sequence[Sequence[object]]:  # noqa: ANN401 - of the library
    """Return the cells from A1 on, whatever the first that is filled."""
    cells: Sequence[Sequence[object]] = sheet.to_python(skip_empty_area=False)
    return cells


def _text(cell: object) -> str:
    """Return a cell as it would stand in a CSV file.

    >>> _text(40.0), _text(2.65), _text(datetime(2027, 9, 30)), _text(" a ")
    ('40', '2.65', '2027-09-30', ' a ')
    """
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{cell:.15g}"
    if isinstance(cell, datetime):
        at_midnight = cell.time() == time()
        return (cell.date() if at_midnight else cell).isoformat()
    if isinstance(cell, date | time | timedelta):
        return str(cell)
    return str(cell)
