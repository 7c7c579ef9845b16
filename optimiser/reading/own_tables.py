"""The tables of a workshop as one spreadsheet: written out, and read back checked."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from optimiser.errors import InputError, Problem, nearest
from optimiser.reading import cautions, figures, folders, materials, workshops
from optimiser.reading.catalogue import gather_catalogue
from optimiser.reading.disk import exists, is_file
from optimiser.reading.folders import LEADS_OUT, leads_out
from optimiser.reading.recipes import knowledge
from optimiser.reading.sheets import SUFFIX, read_sheet, sheet_names
from optimiser.reading.tables import Columns, first_row, read_table
from optimiser.reading.text import read_text

__all__ = ["TABLES", "read_own_tables", "read_workbook"]

# The tables that a workshop may have, by the name of their sheet.
TABLES: Mapping[str, Columns] = {
    "prices": workshops.PRICES,
    "stock": workshops.STOCK,
    "suppliers": workshops.SUPPLIERS,
    "ingredients": materials.INGREDIENTS,
    "properties": figures.COLUMNS,
    "constituents": figures.CONSTITUENTS,
    "limits": materials.LIMITS,
    "allergens": materials.ALLERGENS,
    "cautions": cautions.COLUMNS,
    "sources": folders.SOURCES,
    "recipe_names": knowledge.TAUGHT,
}
ALWAYS = ("prices", "stock")  # there to be filled in, though no file is
Rows = tuple[tuple[str, ...], ...]


def read_own_tables(root: Path, workshop: str) -> dict[str, Rows]:
    """Return the tables of a workshop as they stand, each with its header first.

    Raises
    ------
    InputError
        If a file cannot be read.
    """
    problems: list[Problem] = []
    found: dict[str, Rows] = {}
    for name, columns in TABLES.items():
        path = root / "workshops" / workshop / f"{name}.csv"
        shown = f"{root.name}/workshops/{workshop}/{path.name}"
        sheet = path.with_suffix(SUFFIX)
        if is_file(sheet) and not exists(path):
            read = read_sheet(sheet, str(sheet), problems)
            found[name] = () if read is None else tuple(tuple(x) for _, x in read.rows)
        elif exists(path):
            text = read_text(path, shown, problems)
            found[name] = tuple(map(tuple, csv.reader(io.StringIO(text or ""))))
        elif name in ALWAYS:
            found[name] = (columns.known,)
    if problems:
        raise InputError(problems)
    return found


def read_workbook(book: Path, root: Path, workshop: str) -> dict[str, tuple[str, int]]:
    """Return what the sheets of a spreadsheet hold: each as CSV text, and its rows.

    Every check that the workshop's own files would meet is made first, those of them
    that have no sheet there included: they stay beside what is taken.

    Raises
    ------
    InputError
        With every problem of every sheet, named with its cell.
    """
    problems: list[Problem] = []
    shown = str(book)
    names = sheet_names(book, shown, problems)
    for name in names:
        if name not in TABLES and first_row(book, name):
            wrong = f"is no table of a workshop; {nearest(name, TABLES)}"
            fix = f"take the sheet out, or call it one of: {', '.join(TABLES)}"
            problems.append(Problem(wrong, shown, field=None, found=name, fix=fix))
    if not problems and not any(name in TABLES for name in names):
        fix = f"call its sheets by the tables of a workshop: {', '.join(TABLES)}"
        problems.append(Problem("holds no table of a workshop", shown, fix=fix))
    if problems:
        raise InputError(problems)
    for name in names:
        if name in TABLES:
            path = root / "workshops" / workshop / f"{name}.csv"
            _refuse_place(root, path, f"{shown}, sheet {name}", problems)
    catalogue = gather_catalogue(root, workshop, problems, book=book)
    if not problems:
        try:
            _ = catalogue.fats  # read only when asked for: ask
        except InputError as error:
            problems += error.problems
    found = {}
    for name in names:
        if name == "recipe_names":
            read_table(book, shown, TABLES[name], problems, name)
        read = read_sheet(book, shown, problems, name) if name in TABLES else None
        if read is not None:
            rows = [cells for _, cells in read.rows if any(map(str.strip, cells))]
            found[name] = _as_csv(rows), max(0, len(rows) - 1)
    if problems:
        raise InputError(problems)
    return found


def _refuse_place(root: Path, path: Path, shown: str, problems: list[Problem]) -> None:
    """Say so where a sheet cannot be taken into a workshop's file."""
    own = path.with_suffix(SUFFIX)
    if is_file(own):
        fix = "keep that table in a .csv file, or put this sheet there by hand"
        problems.append(Problem(f"would stand beside {own.name}", shown, fix=fix))
    if leads_out(root, path):
        fix = "put a file in its place"
        problems.append(Problem(LEADS_OUT, str(path), fix=fix))


def _as_csv(rows: Sequence[Sequence[str]]) -> str:
    """Return rows as the text of a CSV file, each as wide as the header."""
    out = io.StringIO()
    header = rows[0] if rows else ()
    width = max((at + 1 for at, x in enumerate(header) if x.strip()), default=0)
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([each.strip() for each in row[:width]] for row in rows)
    return out.getvalue()
