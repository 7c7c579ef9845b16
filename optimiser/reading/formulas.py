"""Formula files: a table, a scenario's base, or what ``formulate --json`` printed."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.errors import InputError, Problem
from optimiser.reading.cells import quoted_advice
from optimiser.reading.names import Names
from optimiser.reading.shapes import shown_value
from optimiser.reading.tables import Columns, TableRow, read_table
from optimiser.reading.text import read_text
from optimiser.reading.toml_text import read_toml

__all__ = ["read_formula"]

COLUMNS = Columns(
    "ingredient,percent,grams",
    "percent grams",
    any_more=True,
)
MOST_GRAMS = 1e9
AMOUNTS = ("percent", "grams")  # the first of them that is there counts
SUM_TOLERANCE = 0.05


def read_formula(path: Path | str, catalogue: Catalogue) -> dict[str, float]:
    """Return a formula: percent of the finished product by ingredient key.

    Parameters
    ----------
    path : Path
        A CSV table with the columns ingredient and percent, or ingredient and
        grams; a TOML file with a table [formula] or [base]; or the JSON that
        ``formulate --json`` prints. Of grams, 100 times each over their total is
        the percent; where both columns are there, percent counts. The cells of a
        table are parted by commas, and a header without rows is no formula.
    catalogue : Catalogue
        Where names are looked up.

    Returns
    -------
    dict of ingredient key to percent
        As written: it sums to 100 within 0.05, or from grams, to 100.

    Raises
    ------
    InputError
        With every problem of the file.
    """
    path = Path(path)
    problems: list[Problem] = []
    read = {".toml": _from_toml, ".json": _from_json}
    entries = read.get(path.suffix.casefold(), _from_csv)(path, problems)
    formula = _formula(entries, catalogue, str(path), problems)
    if problems:
        raise InputError(problems)
    return formula


class _Entry(Struct, frozen=True):
    """One ingredient's name and percent as written, and where."""

    name: str
    percent: float
    row: int | None
    field: str


def _from_csv(path: Path, problems: list[Problem]) -> list[_Entry]:
    """Return the entries of a CSV table."""
    found: list[_Entry] = []
    table = read_table(path, str(path), COLUMNS, problems)
    if not table.places or (problems and not table.rows):
        return found
    column = next((each for each in AMOUNTS if each in table.places), None)
    if column is None:
        fix = "the columns are ingredient,percent or ingredient,grams"
        missing = Problem("is missing", str(path), 1, AMOUNTS[0], fix=fix)
        problems.append(missing)
        return found
    if not table.rows:
        fix = f"write a row for each ingredient, with its {column}"
        problems.append(Problem("has a header but no rows", str(path), fix=fix))
    for row in table.rows:
        name, amount = row.need("ingredient"), _amount(row, column)
        if name is not None:  # looked up also where its amount is wrong
            amount = math.nan if amount is None else amount
            found.append(_Entry(name, amount, row.number, "ingredient"))
    return found if column == "percent" else _of_grams(found, str(path), problems)


def _amount(row: TableRow, column: str) -> float | None:
    """Return a row's percent or grams, or None after a problem."""
    if column == "percent":
        return row.need_number(column)
    return row.need_number(column, 0, MOST_GRAMS)


def _of_grams(
    entries: list[_Entry], shown: str, problems: list[Problem]
) -> list[_Entry]:
    """Return entries in percent of their total, which are given in grams."""
    total = sum(each.percent for each in entries)
    if total > 0:
        return [replace(each, percent=100.0 * each.percent / total) for each in entries]
    if not problems:
        fix = "write how many grams there are of each ingredient"
        problems.append(Problem("has 0 grams in all", shown, fix=fix))
    return [replace(each, percent=math.nan) for each in entries]


def _from_toml(path: Path, problems: list[Problem]) -> list[_Entry]:
    """Return the entries of the table [formula] or [base] of a TOML file."""
    content = read_toml(path, str(path), problems)
    if content is None:
        return []
    name = "formula" if "formula" in content else "base"
    table = content.get(name)
    if isinstance(table, dict) and table:
        return list(_numbers(table.items(), name, str(path), problems))
    fix = 'write [formula] and, below it, lines such as "cocoa butter" = 40'
    problems.append(Problem("has no table [formula] or [base]", str(path), fix=fix))
    return []


def _numbers(
    items: Iterable[tuple[str, Any]], table: str, shown: str, problems: list[Problem]
) -> Iterator[_Entry]:
    """Yield the entries of names and values, without values that are no numbers."""
    for name, value in items:
        field = f"{table}.{name}"
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            if abs(value) < 1e9:  # nan and inf fail this too
                yield _Entry(name, float(value), None, field)
                continue
            wrong, fix = "is not a percentage", "write a number from 0 to 100"
        elif isinstance(value, str):
            wrong, fix = quoted_advice(value)
        else:
            wrong, fix = "is not a number", "write a plain number, as in 2.65"
        problems.append(Problem(wrong, shown, None, field, shown_value(value), fix))


def _from_json(path: Path, problems: list[Problem]) -> list[_Entry]:
    """Return the entries of a JSON file as ``formulate --json`` prints it."""
    shown = str(path)
    text = read_text(path, shown, problems)
    if text is None:
        return []
    try:
        content = json.loads(text)
    except (ValueError, RecursionError) as error:
        line = (
            f"line {error.lineno} " if isinstance(error, json.JSONDecodeError) else ""
        )
        fix = "print it again with: optimiser formulate SCENARIO --json"
        problems.append(Problem(f"{line}is not written as JSON", shown, fix=fix))
        return []
    rows = content.get("formula") if isinstance(content, dict) else None
    if isinstance(rows, list) and rows and all(map(_is_row, rows)):
        items = [(row["ingredient"], row["percent"]) for row in rows]
        return list(_numbers(items, "formula", shown, problems))
    wrong = "has no list formula of entries with ingredient and percent"
    fix = 'write {"formula": [{"ingredient": "cocoa_butter", "percent": 40}]}'
    problems.append(Problem(wrong, shown, fix=fix))
    return []


def _is_row(row: object) -> bool:
    """Return whether a JSON value names an ingredient and a percent."""
    return (
        isinstance(row, dict)
        and isinstance(row.get("ingredient"), str)
        and "percent" in row
    )


def _formula(
    entries: list[_Entry], catalogue: Catalogue, shown: str, problems: list[Problem]
) -> dict[str, float]:
    """Return entries by key, after saying what is wrong with them."""
    read = not problems
    names = Names.of("ingredient", catalogue.names())
    found: dict[str, float] = {}
    for each in entries:
        key = catalogue.find(each.name)
        wrong = fix = None
        if key is None:
            wrong = names.wrong(each.name)
            fix = "correct the name, or add the ingredient to ingredients.csv"
        elif key in found:
            wrong, fix = "is there twice", "write it once, with both added up"
        elif each.percent < 0 or each.percent > 100:
            wrong = f"has {each.percent:g} percent"
            fix = "write a percentage from 0 to 100"
        if wrong is not None:
            problem = Problem(wrong, shown, each.row, each.field, each.name, fix)
            problems.append(problem)
        found[key or each.name] = found.get(key or each.name, 0.0) + each.percent
    total = sum(found.values())
    if read and abs(total - 100) > SUM_TOLERANCE:
        problems.append(
            Problem(f"sums to {total:g}, not to 100", shown, fix=_fix(total))
        )
    return found


def _fix(total: float) -> str:
    """Return how to bring a formula's sum to 100."""
    if abs(total - 1) <= SUM_TOLERANCE / 100:
        return "write percent of the finished product, as in 40 for 0.4"
    if total < 100:
        return f"add the {100 - total:g} percent that are missing"
    return f"take {total - 100:g} percent away"
