"""Packs that were weighed: net, or gross with what each weighs empty."""

from __future__ import annotations

from pathlib import Path

from msgspec import Struct

from optimiser.errors import InputError, Option, Phrase, Problem, phrase
from optimiser.reading.cells import QuantityError, read_quantity, to_number
from optimiser.reading.sheets import SUFFIX
from optimiser.reading.tables import (
    Columns,
    CsvTable,
    TableRow,
    first_row,
    read_table,
)

__all__ = ["WeighedPack", "holds_weights", "read_units", "read_weights"]

COLUMNS = Columns("unit,net,gross,tare,note", "unit net gross tare note")
MOST = 25_000.0  # g: no pack that this law is about weighs more
FEWEST = 2
ENDINGS = {1: "st", 2: "nd", 3: "rd"}
ELEVENTH = {11, 12, 13}


def holds_weights(path: Path) -> bool:
    """Whether a file is a table of weighed packs, by its name and its head."""
    if path.suffix.casefold() not in {".csv", SUFFIX}:
        return False
    # What cannot be read is told by its reader, of which this is the one that is asked.
    head = first_row(path)
    return not head or bool({*head} & {"net", "gross"})


class WeighedPack(Struct, frozen=True):
    """A pack that was weighed, net g; ``told`` is how a maker finds it again."""

    told: str
    grams: float


def read_weights(path: Path, tare: float | None = None) -> tuple[WeighedPack, ...]:
    """Return the net contents of a table of weighed packs, in its order.

    A pack is told by its name in the column unit, or by its place where it has none.

    Parameters
    ----------
    path : Path
        A table with the column net, or gross; amounts are grams, or have a unit.
        Beside gross there may be tare, for packs that were weighed empty.
    tare : float, optional
        What every empty pack weighs, g, where there is no such column.

    Raises
    ------
    InputError
        With every problem of the table; fewer than two packs tell of no spread.
    """
    problems: list[Problem] = []
    found = _weighed(path, tare, problems)
    if not problems and len(found) < FEWEST:
        fix = "weigh at least two packs; ten tell how much fills vary"
        problems.append(Problem("holds fewer than two packs", str(path), fix=fix))
    if problems:
        raise InputError(problems)
    return tuple(
        WeighedPack(_told(row, place), grams)
        for place, (row, grams) in enumerate(found, start=1)
    )


def _told(row: TableRow, place: int) -> str:
    if name := row.text("unit"):
        return f"unit {name}"
    ending = "th" if place % 100 in ELEVENTH else ENDINGS.get(place % 10, "th")
    return f"the {place}{ending} pack (row {row.number})"


def read_units(path: Path, tare: float | None = None) -> tuple[tuple[str, float], ...]:
    """Return the packs of such a table by name and g; those without are numbered.

    Raises
    ------
    InputError
        With every problem of the table; a name that is there twice is one.
    """
    problems: list[Problem] = []
    found, seen = [], dict[str, int]()
    for place, (row, grams) in enumerate(_weighed(path, tare, problems), start=1):
        name = row.text("unit") or str(place)
        first = seen.setdefault(name.casefold(), row.number)
        if first != row.number:
            row.say("unit", f"is in row {first} already", "give each unit one row")
        found.append((name, grams))
    if not problems and not found:
        fix = "write a row for each unit that was weighed"
        problems.append(Problem("holds no unit", str(path), fix=fix))
    if problems:
        raise InputError(problems)
    return tuple(found)


def _weighed(
    path: Path, tare: float | None, problems: list[Problem]
) -> list[tuple[TableRow, float]]:
    """Return the rows of a table and g of each; its problems join the list."""
    table = read_table(path, str(path), COLUMNS, problems)
    if table.whole:
        _check_head(table, tare)
    if problems:
        return []
    each = [(row, _net(row, tare)) for row in table.rows]
    return [(row, grams) for row, grams in each if grams is not None]


def _check_head(table: CsvTable, tare: float | None) -> None:
    said = table.problems
    has = {name: name in table.places for name in ("net", "gross", "tare")}
    if has["net"] == has["gross"]:
        wrong = "has both net and gross" if has["net"] else "has neither net nor gross"
        fix: str | Phrase = (
            "name the one column net (without the pack) or gross (with it)"
        )
        said.append(Problem(wrong, table.shown, row=1, fix=fix))
    elif has["gross"] and not has["tare"] and tare is None:
        wrong = "holds gross weights, and what an empty pack weighs is not known"
        fix = phrase("add a column tare, or say ", Option("tare", '"3.2 g"'))
        said.append(Problem(wrong, table.shown, row=1, fix=fix))
    elif has["tare"] and (has["net"] or tare is not None):
        told: str | Phrase = "is there, but nothing is to be taken off"
        if has["gross"]:
            told = phrase("is there, and so is ", Option("tare"))
        fix = "take one of the two out"
        said.append(Problem(told, table.shown, row=1, field="tare", fix=fix))


def _net(row: TableRow, tare: float | None) -> float | None:
    column = "net" if "net" in row.table.places else "gross"
    full = _grams(row, column)
    if column == "net":
        return full
    empty = tare if "tare" not in row.table.places else _grams(row, "tare")
    if full is None or empty is None:
        return None
    if empty >= full:
        row.say(column, "is not more than the pack weighs empty", "weigh it again")
        return None
    return full - empty


def _grams(row: TableRow, column: str) -> float | None:
    text = row.need(column)
    if text is None:
        return None
    number = to_number(text)
    if number is None:
        try:
            number = 1000.0 * read_quantity(text, "kg", "60.2 g")
        except QuantityError as error:
            row.say(column, str(error), error.fix)
            return None
    if not 0.0 < number <= MOST:
        fix = "write what was weighed, in g"
        row.say(column, f"is not between 0 and {MOST:.0f} g", fix)
        return None
    return number
