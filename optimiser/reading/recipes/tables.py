"""Recipe tables as people keep them: one line of a recipe a row, any usual header."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from pathlib import Path

from msgspec import Struct, field

from optimiser.domain.catalogue import fold
from optimiser.domain.material import Origin
from optimiser.domain.recipe import Written, WrittenLine
from optimiser.errors import Problem
from optimiser.reading.recipes.phrases import is_total
from optimiser.reading.sheets import is_workbook, read_sheet
from optimiser.reading.text import read_text

__all__ = ["read_recipe_table"]

_LINE_END = re.compile(r"\r\n|\n|\r")  # not the separators that splitlines takes too
MOST_PROBLEMS = 1000  # who has more has another file in mind
MOST_LINES_A_CELL = 20  # a quote that stays open longer was never meant to be one
COLUMNS = {
    "recipe": ("recipe", "formula_id", "recipe_id", "formula", "recipe name", "id"),
    "class": ("class", "product_class", "product class", "product", "type", "kind"),
    "ingredient": ("ingredient", "ingredients", "material", "item", "what"),
    "amount": ("amount", "quantity", "qty", "percent", "%", "weight", "grams"),
    "unit": ("unit", "units", "measure"),
    "note": ("source_kind", "source", "note", "notes", "remark", "remarks", "comment"),
}
UNIT_OF_HEADER = {"percent": "%", "%": "%", "grams": "g"}
NEEDED = ("ingredient", "amount")
ONE = "ingredient,amount,unit"
HEADER = "recipe,class,ingredient,amount,unit,note"


class _Heap(Struct):
    """The lines of one recipe while its table is read."""

    product_class: str
    notes: dict[str, None] = field(default_factory=dict)
    lines: list[WrittenLine] = field(default_factory=list)


class _Header(Struct):
    """Where the columns of `COLUMNS` are, -1 for one that is not there."""

    in_order: list[int]
    unit: str
    known: dict[str, str] = field(default_factory=dict)

    def of(self, cells: list[str]) -> list[str]:
        """Return the cells of a row in the order of `COLUMNS`, empty if absent.

        Cells that are alike are one: most names, amounts and units come again.
        """
        wide, known = len(cells), self.known
        found = []
        for place in self.in_order:
            each = cells[place] if 0 <= place < wide else ""
            if each not in known:
                known[each] = " ".join(each.split())
            found.append(known[each])
        return found


def read_recipe_table(
    path: Path, problems: list[Problem], *, one: bool = False
) -> tuple[Written, ...]:
    """Return the recipes of a CSV file, in order.

    Parameters
    ----------
    path : Path
        Cells parted by commas, semicolons or tabs, or those of a spreadsheet. The
        header names the columns
        ingredient and amount, and usually recipe, class, unit and note. A blank
        recipe or class is that of the row above; without the column recipe the
        whole file is one.
    problems : list of Problem
        Gains what could not be read; the other rows are read all the same.
    one : bool
        Whether it is to be one recipe that leaves nothing open: then cells past the
        header's are a problem too.
    """
    shown, records = _rows_of(path, problems)
    if records is None:
        return ()
    first = next(records, None)
    if first is None:
        fix = f"write the header row {ONE if one else HEADER}"
        problems.append(Problem("is empty: it has no header row", shown, fix=fix))
        return ()
    header = _header(first[1], shown, problems, ONE if one else HEADER)
    if header is None:
        return ()
    if one:
        rows = list(records)
        problems += _wider(rows, len(first[1]), shown)
        records = iter(rows)
    heaps = _gather(records, header, path.stem, shown, problems)
    return tuple(
        Written(name, heap.product_class, "; ".join(heap.notes), shown, written)
        for name, heap in heaps.items()
        if (written := tuple(heap.lines))
    )


def _rows_of(
    path: Path, problems: list[Problem]
) -> tuple[str, Iterator[tuple[int, list[str]]] | None]:
    """Return what a table is called, and its rows that are not blank."""
    shown = str(path)
    if is_workbook(path):
        sheet = read_sheet(path, shown, problems)
        if sheet is None:
            return shown, None
        return sheet.shown, (row for row in sheet.rows if any(row[1]))
    text = read_text(path, shown, problems, foreign=True)
    if text is None:
        return shown, None
    lines = _LINE_END.split(text)
    return shown, _records(lines, _mark(lines), shown, problems)


def _mark(lines: list[str]) -> str:
    """Return what parts the cells: the commonest mark of the header."""
    first = next((line for line in lines if line.strip()), "")
    return max(",;\t", key=first.count)


def _records(
    lines: list[str], mark: str, shown: str, problems: list[Problem]
) -> Iterator[tuple[int, list[str]]]:
    """Yield row number and cells; a row with a broken quote is named and passed."""
    at, row = 0, 0
    while at < len(lines):
        row += 1
        if not lines[at]:
            at += 1
            continue
        line = lines[at]
        if '"' not in line and len(line) < csv.field_size_limit():
            cells = line.split(mark)
            if "".join(cells).strip():
                yield row, cells
            at += 1
            continue
        taken = _length(lines, at)
        if taken is None:
            problems.append(_broken(shown, row, lines[at]))
            at += 1
            continue
        try:
            record = [line + "\n" for line in lines[at : at + taken]]
            cells = next(csv.reader(record, delimiter=mark, strict=True))
        except csv.Error as error:
            long = "field limit" in str(error)
            problems.append(_broken(shown, row, lines[at], long=long))
        else:
            if any(cell.strip() for cell in cells):
                yield row, cells
        at += taken


def _length(lines: list[str], at: int) -> int | None:
    """Return how many lines a record takes; None if a quote never closes."""
    open_quotes = 0
    for taken, line in enumerate(lines[at : at + MOST_LINES_A_CELL], start=1):
        open_quotes += line.count('"')
        if open_quotes % 2 == 0:
            return taken
    return None


def _broken(shown: str, row: int, line: str, *, long: bool = False) -> Problem:
    if long:
        wrong = f"has a cell that is too long, over {csv.field_size_limit()} signs"
        return Problem(wrong, shown, row=row, fix="shorten the cell")
    wrong = "the row has a quote that does not end, or goes on after its end"
    fix = 'close each quote that is opened, and write " inside quotes twice'
    return Problem(wrong, shown, row=row, found=line[:60], fix=fix)


def _wider(
    rows: list[tuple[int, list[str]]], width: int, shown: str
) -> Iterator[Problem]:
    """Yield the rows that have more cells than the header."""
    for row, cells in rows:
        if any(cell.strip() for cell in cells[width:]):
            wrong = f"the row has {len(cells)} cells, but the header has {width}"
            fix = "write decimals with a point, and text that holds a comma in quotes"
            yield Problem(wrong, shown, row=row, fix=fix)


def _header(
    cells: list[str], shown: str, problems: list[Problem], header: str
) -> _Header | None:
    """Return where each column is, by any of its usual names."""
    names = [fold(cell) for cell in cells]
    places: dict[str, int] = {}
    unit = ""
    for column, spellings in COLUMNS.items():
        for spelling in spellings:
            if fold(spelling) in names:
                places[column] = names.index(fold(spelling))
                if column == "amount":
                    unit = UNIT_OF_HEADER.get(spelling, "")
                break
    missing = [column for column in NEEDED if column not in places]
    if not missing:
        return _Header([places.get(name, -1) for name in COLUMNS], unit)
    for column in missing:
        wrong = f"has no column {column}"
        fix = f"write the header row {header}"
        problems.append(Problem(wrong, shown, row=1, fix=fix))
    return None


def _gather(
    records: Iterator[tuple[int, list[str]]],
    header: _Header,
    stem: str,
    shown: str,
    problems: list[Problem],
) -> dict[str, _Heap]:
    """Return the lines by recipe, blank names and classes carried down."""
    heaps: dict[str, _Heap] = {}
    name = product_class = ""
    for row, cells in records:
        if len(problems) > MOST_PROBLEMS:
            wrong = f"has over {MOST_PROBLEMS} problems; what follows is not read"
            fix = "see that it is the right file"
            problems.append(Problem(wrong, shown, row, fix=fix))
            break
        recipe, kind, ingredient, amount, unit, note = header.of(cells)
        if not ingredient and is_total(recipe):
            continue
        said = recipe or ("" if name else stem)
        if said and said != name:
            name, product_class = said, ""
        product_class = kind or product_class
        heap = heaps.setdefault(name, _Heap(product_class))
        if not ingredient:
            if amount or unit:
                fix = "write what the amount is of, or take the row out"
                wrong = f"is blank in recipe {name}"
                problems.append(Problem(wrong, shown, row, "ingredient", fix=fix))
            continue
        if note:
            heap.notes[note] = None
        origin = Origin(shown, row)
        line = WrittenLine(ingredient, amount, unit or header.unit, origin, not said)
        heap.lines.append(line)
    return heaps
