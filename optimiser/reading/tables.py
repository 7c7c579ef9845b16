"""Tables, CSV or a sheet: header, rows and cells, each checked with its place."""

from __future__ import annotations

import csv
import io
import itertools
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import TypeVar

from msgspec import Struct, field

from optimiser.domain.material import Origin
from optimiser.errors import Problem, alike
from optimiser.errors import told as near_ones
from optimiser.reading.cells import (
    date_advice,
    last_day,
    number_advice,
    to_amount,
    to_date,
    to_number,
)
from optimiser.reading.names import Names
from optimiser.reading.sheets import cell_name, is_workbook, read_sheet
from optimiser.reading.text import read_text

__all__ = [
    "CERTAIN",
    "COMMA",
    "Columns",
    "CsvTable",
    "TableRow",
    "first_row",
    "read_table",
]

# What one table may hold: ten times what a large workshop keeps. A spreadsheet may
# save a million rows of nothing below it.
MOST_BYTES, MOST_ROWS, MOST_LINES = 20_000_000, 100_000, 2_000_000
# A comma that can only be a decimal's: no three digits after it, or a zero before.
CERTAIN = re.compile(r"-?(0,\d+|\d+,(\d{1,2}|\d{4,}))\s*[a-z]*", re.IGNORECASE)
COMMA = re.compile(r"-?\d+,\d+\s*[a-z]*", re.IGNORECASE)
HEAD = 10_000  # signs in which a header stands
LONGEST = 100  # signs of a cell that a message shows
MOST_PROBLEMS = 1000  # of one table; who has more has another file in mind


class Columns:
    """Columns of a table, and which of them it may do without.

    Parameters
    ----------
    header : str
        The header row with every column.
    optional : str
        Columns that may be absent, parted by spaces.
    any_more : bool
        Whether other columns are passed over rather than refused.
    told : str, optional
        The headers that are possible, in words, where there are several.
    """

    def __init__(
        self, header: str, optional: str, *, any_more: bool = False, told: str = ""
    ) -> None:
        self.header, self.told = header, told or header
        self.known = tuple(header.split(","))
        self.required = tuple(
            name for name in self.known if name not in optional.split()
        )
        self.any_more = any_more


def _take_header(table: CsvTable, header: list[str], columns: Columns) -> bool:
    """Set the places of the columns; return whether the header is right."""
    while header and not header[-1]:
        header.pop()
    before = len(table.problems)
    if _holds_values(header, columns):
        wrong = "the first row holds values, and has to name the columns"
        fix = f"write a row above it: {columns.told}"
        _say_header(table, header[0], wrong, fix)
        return False
    for place, written in enumerate(header):
        name = _as_known(written, columns.known)
        if name in table.places:
            _say_header(table, name, "is there twice", "take one of them out")
        elif name in columns.known or columns.any_more:
            table.places[name] = place
        else:
            _say_unknown(table, name, columns.known)
    for name in columns.required:
        if name not in table.places:
            fix = f"the columns are {columns.told}"
            if not set(table.places) & set(columns.known):
                fix += f"; what stands there is {', '.join(filter(None, header))}"
            _say_header(table, name, "is missing", fix)
    return len(table.problems) == before


def _holds_values(header: Sequence[str], columns: Columns) -> bool:
    """Whether a first row names no column that is known, and holds a number."""
    named = {_as_known(each, columns.known) for each in header} & {*columns.known}
    return not named and any(to_number(each) is not None for each in header)


def _say_header(table: CsvTable, name: str, wrong: str, fix: str) -> None:
    """Add a problem with a column as a whole."""
    cell, row = table.cell(name, table.header_row), table.header_row
    table.problems.append(Problem(wrong, table.shown, row, name, fix=fix, cell=cell))


def _say_unknown(table: CsvTable, name: str, known: Iterable[str]) -> None:
    """Add the problem of a column that is not known."""
    if not name:
        fix = "name the column, or take it out"
        problem = Problem("a column has no name", table.shown, row=1, fix=fix)
        table.problems.append(problem)
        return
    close = alike(name, known) or [x for x in known if name in x.split("_")]
    wrong = f"is not a known column; {near_ones(close)}"
    _say_header(table, name, wrong, "correct its name, or take the column out")


def _as_known(written: str, known: Sequence[str]) -> str:
    """Return a heading as the columns have it, whatever its capitals and spaces.

    >>> _as_known("Price per kg", ["price_per_kg"]), _as_known("Shelf", ["shelves"])
    ('price_per_kg', 'Shelf')
    """
    plain = "_".join(written.casefold().split())
    return plain if plain in known else written


Value = TypeVar("Value")


class CsvTable(Struct):
    """A table as it was written; ``whole`` is False if it could not be read.

    Of a ``sheet`` problems are told with their cell.
    """

    shown: str
    problems: list[Problem]
    places: dict[str, int] = field(default_factory=dict)
    rows: list[TableRow] = field(default_factory=list)
    whole: bool = False
    sheet: bool = False
    header_row: int = 1
    parted_by: str = ","

    def cell(self, column: str, row: int) -> str | None:
        """Return the cell of a column's row; None of what is no sheet or not there."""
        place = self.places.get(column)
        return None if place is None or not self.sheet else cell_name(place, row)

    def each(self, build: Callable[[TableRow], Value | None]) -> Iterator[Value]:
        """Yield what ``build`` makes of each row, without those found wrong."""
        most = len(self.problems) + MOST_PROBLEMS
        for row in self.rows:
            before = len(self.problems)
            value = build(row)
            if value is not None and len(self.problems) == before:
                yield value
            if len(self.problems) > most:
                self.problems.append(_too_many(self.shown, row.number))
                return


class TableRow(Struct, eq=False):
    """One row: cells by column, each read as what it should be.

    A cell that is wrong adds a problem to the table and reads as None.
    """

    table: CsvTable
    number: int
    cells: dict[str, str]

    @property
    def origin(self) -> Origin:
        """Where the row was written."""
        return Origin(self.table.shown, self.number)

    def say(self, column: str, wrong: str, fix: str | None = None) -> None:
        """Add a problem with one cell of this row."""
        found = self.text(column)
        if len(found) > LONGEST:
            found = f"{found[:LONGEST]}..."
        cell = self.table.cell(column, self.number)
        self.table.problems.append(
            Problem(
                wrong, self.table.shown, self.number, column, found or None, fix, cell
            )
        )

    def text(self, column: str) -> str:
        """Return a cell's text, trimmed; empty if blank or if there is no column."""
        return self.cells.get(column, "")

    def need(self, column: str) -> str | None:
        """Return a cell that must not be blank, or None after adding a problem."""
        text = self.cells.get(column)
        if text:
            return text
        self.say(column, "is blank", f"write the {column} of this row")
        return None

    def number_in(
        self, column: str, least: float | None = None, most: float | None = None
    ) -> float | None:
        """Return a cell's number in a range; None if blank, or wrong and said so."""
        text = self.cells.get(column)
        if not text:
            return None
        number = to_number(text)
        if number is None:
            self.say(column, *number_advice(text))
            return None
        if least is not None and number < least:
            low = "is negative" if least == 0 else f"is less than {least:.15g}"
            self.say(column, low, f"write a number of at least {least:.15g}")
            return None
        if most is not None and number > most:
            fix = f"write a number of at most {most:.15g}"
            self.say(column, f"is more than {most:.15g}", fix)
            return None
        return number

    def need_number(
        self, column: str, least: float | None = None, most: float | None = None
    ) -> float | None:
        """Return a number that must be there, or None after adding a problem."""
        return self.number_in(column, least, most) if self.need(column) else None

    def need_amount(self, column: str) -> float | None:
        """Return an amount that must be there, none below zero; "1/2" is one too."""
        amount = to_amount(self.text(column))
        if amount is not None and amount >= 0.0:
            return amount
        return self.need_number(column, 0)

    def name_in(self, column: str, names: Names | None, fix: str) -> str | None:
        """Return what a name stands for; ``names`` None takes any name as it is."""
        text = self.need(column)
        if text is None or names is None:
            return text
        found = names.find(text)
        if found is None:
            self.say(column, names.wrong(text), fix)
        return found

    def choice(
        self, column: str, among: Sequence[str], *, blank: bool = False
    ) -> str | None:
        """Return one of a few words; None if blank, or wrong and said so."""
        text = self.cells.get(column, "")
        if text in among and text:
            return text
        if text or not blank:
            wrong = "is not one of the words allowed here" if text else "is blank"
            close = alike(text, among, most=1)
            words = f"{close[0]}, or another of" if close else "one of"
            fix = f"write {words}: {', '.join(among)}"
            if blank and len(among) == 1:
                fix = f"leave it blank, or write {among[0]}"
            self.say(column, wrong, fix)
        return None

    def parts(self, column: str) -> tuple[str, ...]:
        """Return the texts of a cell that holds several, parted by semicolons."""
        text = self.text(column)
        if ";" not in text:
            return (text,) if text else ()
        return tuple(part for each in text.split(";") if (part := each.strip()))

    def day(self, column: str, *, of_a_month: bool = False) -> date | None:
        """Return a cell's date; None if blank, or wrong and said so.

        With ``of_a_month`` a month alone is its last day.
        """
        text = self.text(column)
        if not text:
            return None
        found = last_day(text) if of_a_month else to_date(text)
        if found is None:
            self.say(column, "is not a date", date_advice(text))
        return found


def read_table(
    path: Path,
    shown: str,
    columns: Columns,
    problems: list[Problem],
    sheet: str | None = None,
) -> CsvTable:
    """Return the table of a CSV file, or of a sheet of a spreadsheet.

    Parameters
    ----------
    path : Path
        File to read: a spreadsheet by its ending, else CSV.
    shown : str
        Name of the file in messages and origins.
    columns : Columns
        What the header must and may hold.
    problems : list of Problem
        Gains every problem of the file and, later, of its cells.
    sheet : str, optional
        Name of the sheet of a spreadsheet; else its first one that is not empty.

    Returns
    -------
    CsvTable
        Without rows, and not ``whole``, if the file or its header is wrong.
    """
    table = CsvTable(shown, problems)
    records = _records_of(path, table, sheet)
    if records is None:
        return table
    shown = table.shown
    header = next(records, None)
    if header is None or not any(cell.strip() for cell in header[1]):
        problems.append(_empty(shown, columns))
        return table
    table.header_row = header[0]
    if not _take_header(table, [cell.strip() for cell in header[1]], columns):
        return table
    before = len(problems)
    width = max(table.places.values()) + 1
    names = [""] * width  # a column that nothing is known of has no name
    for name, place in table.places.items():
        names[place] = name
    for number, cells in records:
        if len(cells) > width and any(cell.strip() for cell in cells[width:]):
            problems.append(_too_wide(shown, number, cells, names))
        else:
            trimmed = list(map(str.strip, cells))
            if any(trimmed):
                named = dict(zip(names, trimmed, strict=False))
                table.rows.append(TableRow(table, number, named))
        if len(table.rows) > MOST_ROWS or number > MOST_LINES:
            fix = "keep only the rows that are used"
            wrong = f"has more than {MOST_ROWS} rows"
            problems.append(Problem(wrong, shown, fix=fix))
            table.rows.clear()
            break
        if len(problems) > before + MOST_PROBLEMS:
            problems.append(_too_many(shown, number))
            break
    if table.parted_by == ";":
        _with_points(table.rows)
    table.whole = len(problems) == before
    return table


def _with_points(rows: Sequence[TableRow]) -> None:
    """Write the decimals of a table parted by semicolons with a point.

    Of a column in which one number has a comma that can be nothing else: where all
    might be thousands too ("1,000") they stay, and are asked.
    """
    for column in rows[0].cells if rows else ():
        texts = [row.text(column) for row in rows]
        if any(map(CERTAIN.fullmatch, texts)):
            for row, text in zip(rows, texts, strict=True):
                if COMMA.fullmatch(text):
                    row.cells[column] = text.replace(",", ".")


def _records_of(
    path: Path, table: CsvTable, sheet: str | None
) -> Iterator[tuple[int, list[str]]] | None:
    """Return the rows of a table with their numbers; None if it cannot be read."""
    if not is_workbook(path):
        text = read_text(path, table.shown, table.problems, most=MOST_BYTES)
        return None if text is None else _records(text, table)
    found = read_sheet(path, table.shown, table.problems, sheet)
    if found is None:
        return None
    table.shown, table.sheet = found.shown, True
    filled = itertools.dropwhile(lambda row: not any(row[1]), found.rows)
    return iter(filled)


def first_row(path: Path, sheet: str | None = None) -> tuple[str, ...]:
    """Return the cells of a table's first row as they stand; none if unreadable."""
    table = CsvTable(str(path), [])
    first = next(_records_of(path, table, sheet) or iter(()), None)
    return () if first is None else tuple(map(str.strip, first[1]))


def _records(text: str, table: CsvTable) -> Iterator[tuple[int, list[str]]]:
    """Yield row number and cells; stops with a problem at a broken quote."""
    # As a spreadsheet saves where a comma is the decimal's: by semicolons, or tabs.
    first = next(filter(str.strip, text[:HEAD].splitlines()), "")
    mark = table.parted_by = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True, delimiter=mark)
    number = 0
    try:
        for number, cells in enumerate(reader, start=1):
            yield number, cells
    except csv.Error as error:
        fix = 'close each quote that is opened, and write " inside quotes twice'
        wrong = "has a quote that does not end, or goes on after its end"
        if "field limit" in str(error):
            wrong = f"has a cell that is too long, over {csv.field_size_limit()} signs"
            fix = "shorten the cell, or close the quote that it begins with"
        table.problems.append(Problem(wrong, table.shown, row=number + 1, fix=fix))


def _empty(shown: str, columns: Columns) -> Problem:
    """Return the problem of a file without a header."""
    fix = f"write the header row {columns.told}"
    return Problem("is empty: it has no header row", shown, fix=fix)


def _too_wide(
    shown: str, number: int, cells: list[str], names: Sequence[str]
) -> Problem:
    """Return the problem of a row with more cells than the header has."""
    wrong = f"the row has {len(cells)} cells, but the header has {len(names)}"
    fix = (
        "write decimals with a point, and text that holds a comma in quotes; the"
        f" columns are {', '.join(filter(None, names))}"
    )
    return Problem(wrong, shown, row=number, fix=fix)


def _too_many(shown: str, number: int) -> Problem:
    """Return the problem of a table that holds next to nothing right."""
    wrong = f"has over {MOST_PROBLEMS} problems up to here; what follows is not read"
    return Problem(wrong, shown, row=number, fix="see that it is the right file")
