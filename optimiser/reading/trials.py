"""A maker's trials: formulas made, and how firm they came out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.trial import VERDICTS, Trial
from optimiser.errors import InputError, Problem
from optimiser.reading.cells import QuantityError, read_quantity
from optimiser.reading.formulas import SUM_TOLERANCE, FormulaReader, read_formula
from optimiser.reading.names import Names
from optimiser.reading.tables import Columns, CsvTable, TableRow, read_table

__all__ = ["read_trials"]

COLUMNS = Columns(
    "trial,formula,room,verdict,drop_point,penetration,note",
    "trial formula room verdict drop_point penetration note",
    any_more=True,
)
COLDEST, HOTTEST = -20.0, 90.0  # deg C
OBSERVED = ("verdict", "drop_point", "penetration")


def read_trials(
    path: Path,
    catalogue: Catalogue,
    root: Path | None = None,
    workshop: str | None = None,
) -> tuple[Trial, ...]:
    """Return the trials of a CSV file.

    Parameters
    ----------
    path : Path
        A table with the columns trial, formula (a file beside it), room ("25 degC"),
        verdict (too soft, right, too hard), drop_point ("38 degC"), penetration
        (tenths of a millimetre) and note, all optional; every other column is an
        ingredient, in percent of the product.
    catalogue : Catalogue
        Where names are looked up.
    root, workshop
        The folder of catalogues, and whose names count too, as `read_formula` has them.

    Raises
    ------
    InputError
        With every problem of the file and of the formulas it names.
    """
    path = Path(path)
    problems: list[Problem] = []
    table = read_table(path, str(path), COLUMNS, problems)
    reader = FormulaReader(catalogue, root, workshop, problems)
    ingredients = _ingredients(table, catalogue, reader)
    if table.whole and not table.rows:
        fix = "write one row a trial: what was made, and how firm it came out"
        problems.append(Problem("holds no trials", str(path), fix=fix))
    files: dict[str, dict[str, float] | None] = {}

    def formula(file: Path) -> dict[str, float]:
        return read_formula(file, catalogue, root, workshop)

    trials = []
    for row in table.rows:
        before = len(problems)
        trial = _trial(row, path.parent, ingredients, formula, files)
        if len(problems) == before and trial is not None:
            trials.append(trial)
    if problems:
        raise InputError(problems)
    return tuple(trials)


def _ingredients(
    table: CsvTable, catalogue: Catalogue, reader: FormulaReader
) -> dict[str, str]:
    """Return column -> ingredient key, after saying which columns are neither."""
    found: dict[str, str] = {}
    names = Names.of("column or ingredient", (*COLUMNS.known, *catalogue.names()))
    for column in table.places:
        if column in COLUMNS.known or not column:
            continue
        key, fix = reader.key(column) or catalogue.find(column), None
        if key is None:
            wrong = names.wrong(column)
            fix = "correct the name, or take the column out"
        elif key in found.values():
            wrong, fix = "is an ingredient that has a column already", "keep one"
        if fix is not None:
            problem = Problem(wrong, table.shown, 1, column, column, fix)
            table.problems.append(problem)
        elif key is not None:
            found[column] = key
    return found


def _trial(
    row: TableRow,
    folder: Path,
    ingredients: dict[str, str],
    read: Callable[[Path], dict[str, float]],
    files: dict[str, dict[str, float] | None],
) -> Trial | None:
    """Return a row's trial, or None after a problem."""
    formula = _formula(row, folder, ingredients, read, files)
    verdict = row.choice("verdict", VERDICTS, blank=True)
    room, drop = _degrees(row, "room"), _degrees(row, "drop_point")
    penetration = row.number_in("penetration", 0.0, 1000.0)
    if not any(row.text(name) for name in OBSERVED):
        fix = "write a verdict, a drop_point or a penetration"
        row.say("verdict", "is blank, and nothing else was observed", fix)
    if (row.text("verdict") or row.text("penetration")) and not row.text("room"):
        row.say("room", "is blank", "write how warm the bar was, as in 25 degC")
    if penetration == 0.0:
        row.say("penetration", "is zero", "write tenths of a millimetre, or leave out")
    if formula is None:
        return None
    return Trial(
        name=row.text("trial") or f"row {row.number}",
        formula=formula,
        made_from=row.text("formula") or None,
        room=room,
        verdict=verdict,
        drop_point=drop,
        penetration=penetration,
        origin=row.origin,
    )


def _degrees(row: TableRow, column: str) -> float | None:
    """Return a cell's temperature, [deg C]; None if blank, or wrong and said so."""
    text = row.text(column)
    if not text:
        return None
    try:
        degrees = read_quantity(text, "degC", "25 degC")
    except QuantityError as error:
        row.say(column, str(error), error.fix)
        return None
    if not COLDEST <= degrees <= HOTTEST:
        row.say(column, "is no temperature of a bar", "write it in degC, as in 25 degC")
        return None
    return degrees


def _formula(
    row: TableRow,
    folder: Path,
    ingredients: dict[str, str],
    read: Callable[[Path], dict[str, float]],
    files: dict[str, dict[str, float] | None],
) -> dict[str, float] | None:
    """Return what was made, [% by ingredient key], from its file or its columns."""
    name = row.text("formula")
    written = any(row.text(column) for column in ingredients)
    if name and written:
        fix = "keep the file's name, or the percentages in the row"
        row.say("formula", "is there, and so are percentages in the row", fix)
        return None
    if not name:
        return _inline(row, ingredients)
    if name not in files:
        try:
            files[name] = read(folder / name)
        except InputError as error:
            row.table.problems.extend(error.problems)
            files[name] = None
    return files[name]


def _inline(row: TableRow, ingredients: dict[str, str]) -> dict[str, float] | None:
    """Return the formula in a row's own columns, [% by ingredient key]."""
    if any(each.row == 1 for each in row.table.problems):
        return None  # the header is wrong, so a formula lacks what it held
    amounts = {
        key: amount
        for column, key in ingredients.items()
        if (amount := row.number_in(column, 0.0, 100.0)) is not None
    }
    if not amounts:
        if all(not row.text(column) for column in ingredients):
            fix = "name a formula file, or give each ingredient a column of percent"
            row.say("formula", "is blank", fix)
        return None
    total = sum(amounts.values())
    if abs(total - 100.0) > SUM_TOLERANCE:
        fix = "write percent of the finished product, all of it"
        row.say("formula", f"the row's percentages sum to {total:g}, not to 100", fix)
        return None
    return amounts
