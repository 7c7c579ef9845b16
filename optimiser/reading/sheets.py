"""Sheets of spreadsheets (.xlsx) as rows of text, as a CSV file would hold them.

The library that reads them comes with the extra ``xlsx`` and is loaded when needed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from optimiser.errors import InputError, Problem, extra, nearest
from optimiser.reading.disk import watch
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
GET_LIBRARY = f"{extra('xlsx')}, or use a .csv file"
PANIC = "PanicException"  # of the library: no Exception, and of no module of its own


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
    try:
        return _sheet(*_opened(path, shown), shown, name)
    except InputError as error:
        problems += error.problems
        return None


def _sheet(
    book: CalamineWorkbook, names: Sequence[str], shown: str, name: str | None
) -> SheetRows:
    """Return a sheet of a book that was opened; raises InputError without one."""
    if name is not None and name not in names:
        wrong = f"has no sheet {name}; {nearest(name, names)}"
        fix = "name the sheet so, or put it there"
        raise InputError([Problem(wrong, shown, fix=fix)])
    for each in names if name is None else [name]:
        with _whole(shown):
            rows = _rows(book, each)
        if rows or each == name:
            return SheetRows(f"{shown}, sheet {each}", rows)
    fix = "write the table into its first sheet"
    wrong = "holds no sheet with anything in it"
    raise InputError([Problem(wrong, shown, fix=fix)])


def sheet_names(path: Path, shown: str, problems: list[Problem]) -> tuple[str, ...]:
    """Return the names of the sheets that are shown; none if it cannot be read."""
    try:
        return _opened(path, shown)[1]
    except InputError as error:
        problems += error.problems
        return ()


def _opened(path: Path, shown: str) -> tuple[CalamineWorkbook, tuple[str, ...]]:
    """Return a spreadsheet and the names of the sheets that are shown.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    said = absent(path)
    if said is not None:
        raise InputError([Problem(said[0], shown, fix=said[1])])
    try:
        watch(path)
        found = path.stat()
        stamp = found.st_ino, found.st_size, found.st_mtime_ns
        book = _unpacked(path, shown, stamp)
        watch(path)
    except ImportError as error:
        problem = Problem(NO_LIBRARY, shown, fix=GET_LIBRARY)
        raise InputError([problem]) from error
    except OSError as error:
        wrong = f"cannot be read ({str(error.strerror or error).lower()})"
        problem = Problem(wrong, shown, fix="check the file, and the disk it is on")
        raise InputError([problem]) from error
    return book


@lru_cache(maxsize=1)
def _unpacked(
    path: Path, shown: str, _stamp: tuple[int, ...]
) -> tuple[CalamineWorkbook, tuple[str, ...]]:
    """Return a spreadsheet of which nothing is unpacked that was not looked at.

    A file is asked for several times in a run; its stamp changes when it does.
    """
    from python_calamine import (  # noqa: PLC0415 - seldom needed
        CalamineWorkbook,
        SheetVisibleEnum,
    )

    from optimiser.reading.packed import unpacked  # noqa: PLC0415 - as above

    content = unpacked(path, shown)
    with _whole(shown):
        book = CalamineWorkbook.from_filelike(content)
        seen = [
            x for x in book.sheets_metadata if x.visible == SheetVisibleEnum.Visible
        ]
    return book, tuple(each.name for each in seen)


@contextmanager
def _whole(shown: str) -> Iterator[None]:
    """Tell whatever the library finds wrong as a problem of the file."""
    from python_calamine import CalamineError  # noqa: PLC0415 - seldom needed

    from optimiser.reading.packed import broken  # noqa: PLC0415 - as above

    try:
        yield
    except BaseException as error:
        if isinstance(error, CalamineError) or type(error).__name__ == PANIC:
            raise InputError([broken(shown)]) from error
        raise


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
