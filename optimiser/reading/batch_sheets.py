"""A batch sheet as it was filled in at the bench: what was weighed, of which lot."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.record import MOST_GRAMS, WeighedIn
from optimiser.errors import InputError, Problem, nearest
from optimiser.reading.cells import (
    QuantityError,
    number_advice,
    read_quantity,
    to_number,
)
from optimiser.reading.tables import CERTAIN, COMMA, Columns, TableRow, read_table

__all__ = ["holds_weighings", "read_batch_sheet"]

# The columns of `optimiser batch --csv`, and one for what a maker adds.
COLUMNS = Columns(
    "stage,ingredient,name,grams,ounces,percent,wanted_percent,lots,weighed_grams,note",
    "stage name grams ounces percent wanted_percent lots note",
    told="ingredient,lots,weighed_grams, or those of: optimiser batch SCENARIO --csv",
)
WEIGHED = Columns("weighed_grams", "", any_more=True)
NO_TABLES = {".toml", ".json"}
MOST_LOT = 60  # signs of a lot's name
ROOM = re.compile(r"_+")  # what a sheet has where a lot is to be written
SHOWED = "write what the scale showed, in grams; 0 for what was left out"
MASSES = ("weighed_grams", "grams")
PART = re.compile(r"(.+?)\s+([0-9.]+)\s*g")


def holds_weighings(path: Path) -> bool:
    """Whether a formula file is a table in which a weight was filled in at the bench.

    What is wrong with the file is told by its reader.
    """
    if path.suffix.casefold() in NO_TABLES:
        return False
    rows = read_table(path, str(path), WEIGHED, []).rows
    return any(row.text("weighed_grams") for row in rows)


def read_batch_sheet(path: Path, catalogue: Catalogue) -> tuple[WeighedIn, ...]:
    """Return what was weighed; one value a lot, in the order of the table.

    Parameters
    ----------
    path : Path
        A table with the columns ingredient and weighed_grams (grams, or with a unit)
        and lots. Masses may have a decimal comma, where one of their column leaves no
        doubt that it is one ("34,7"). Where several lots went in, all but the last say
        how much of each ("A2 200 g, A3 75 g"); the last takes what is left of the
        weight. A weight of zero is an ingredient that was left out.

    Raises
    ------
    InputError
        With every problem of the table.
    """
    problems: list[Problem] = []
    table = read_table(path, str(path), COLUMNS, problems)
    _with_points(table.rows)
    column = "weighed_grams"
    if table.rows and not any(row.text(column) for row in table.rows):
        wrong = "is not filled in"
        problems.append(Problem(wrong, table.shown, None, column, fix=SHOWED))
        raise InputError(problems)
    seen: dict[tuple[str, str, str], int] = {}
    found: list[WeighedIn] = []
    for row in table.rows:
        found += _weighed(row, catalogue, seen)
    if table.whole and not problems and not found:
        fix = "write a row for each ingredient that went in"
        problems.append(Problem("holds nothing that was weighed", table.shown, fix=fix))
    if problems:
        raise InputError(problems)
    return tuple(found)


def _with_points(rows: Sequence[TableRow]) -> None:
    """Write masses of a column that surely has decimal commas with a point."""
    for column in MASSES:
        texts = [row.text(column) for row in rows]
        if not any(CERTAIN.fullmatch(text) for text in texts):
            continue
        for row, text in zip(rows, texts, strict=True):
            if COMMA.fullmatch(text):
                row.cells[column] = text.replace(",", ".")


def _weighed(
    row: TableRow, catalogue: Catalogue, seen: dict[tuple[str, str, str], int]
) -> list[WeighedIn]:
    """Return what a row says; ``seen`` gains its ingredient, lots and stage."""
    name = row.need("ingredient")
    key = None if name is None else catalogue.find(name)
    if name is not None and key is None:
        wrong = f"is no ingredient; {nearest(name, catalogue.names())}"
        fix = "correct the name, or add the ingredient to ingredients.csv"
        row.say("ingredient", wrong, fix)
    grams, planned = (
        _grams(row, "weighed_grams"),
        row.number_in("grams", 0.0, MOST_GRAMS),
    )
    lots = _lots(row, grams)
    if key is None or grams is None or lots is None:
        return []
    stage = row.text("stage")
    for lot, _ in lots:
        first = seen.setdefault((key, lot, stage), row.number)
        if first != row.number:
            fix = "add the two up in one row, or correct the lot or the stage"
            row.say("lots", f"is in row {first} already for {name}", fix)
    if grams == 0.0:
        return []
    label = catalogue.ingredients[key].name
    return [
        WeighedIn(key, label, lot, part, _share(planned, part, grams), stage)
        for lot, part in lots
    ]


def _share(planned: float | None, part: float, grams: float) -> float | None:
    """Return what a lot has of what was planned, g, as it has of what was weighed."""
    return None if planned is None else planned * part / grams


def _grams(row: TableRow, column: str) -> float | None:
    text = row.text(column)
    if not text:
        row.say(column, "is blank", SHOWED)
        return None
    grams = to_number(text)
    if grams is None:
        try:
            grams = 1000.0 * read_quantity(text, "kg", "112.5 g")
        except QuantityError as error:
            advice = (str(error), error.fix) if " " in text else number_advice(text)
            row.say(column, *advice)
            return None
    if not 0.0 <= grams <= MOST_GRAMS:
        row.say(column, f"is not between 0 and {MOST_GRAMS:.0f} g", "weigh it again")
        return None
    return grams


def _lots(row: TableRow, grams: float | None) -> list[tuple[str, float]] | None:
    """Return lots and g of each; one without a name where none was written."""
    parts = [x.strip() for x in re.split("[,;]", row.text("lots")) if x.strip()]
    if any(ROOM.match(each) for each in parts):
        fix = "write the lot, or leave the cell blank where it is not known"
        row.say("lots", "is not filled in", fix)
        return None
    found: list[tuple[str, float]] = []
    left = grams or 0.0
    for place, part in enumerate(parts or [""], start=1):
        split = PART.fullmatch(part) if len(parts) > 1 else None
        lot, text = (part, "") if split is None else (split[1], split[2])
        amount = to_number(text)
        if place == max(1, len(parts)):
            amount = left
        if len(lot) > MOST_LOT or not lot.isprintable():
            row.say("lots", "is too long, or no name", "write the lot as it is printed")
            return None
        if amount is None or (grams and amount <= 0.0):
            wrong = "names several lots, and not how much of each"
            if amount is not None:
                wrong = "has more in its lots than was weighed"
            fix = 'write "A2 200 g, A3 75 g", which sum to what was weighed'
            row.say("lots", wrong, fix)
            return None
        found.append((lot, amount))
        left -= amount
    return found
