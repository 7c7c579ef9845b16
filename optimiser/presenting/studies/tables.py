"""Studies as tables to keep, and a sweep as Parquet too."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimiser.errors import InputError, Problem, extra
from optimiser.presenting.formula import in_order
from optimiser.presenting.sheet import Sheet, as_sheet, cell
from optimiser.presenting.studies.words import axis_words
from optimiser.presenting.words import difference
from optimiser.presenting.workbook import is_workbook, refuse_another_workbook
from optimiser.presenting.writing import (
    OTHER_NAME,
    TAKEN,
    refuse_what_something_else_wrote,
    written_by_draft,
)

if TYPE_CHECKING:
    from optimiser.studies.made import Made
    from optimiser.studies.robust import Robust, Simulated
    from optimiser.studies.stock import Stock
    from optimiser.studies.substitute import Substitution
    from optimiser.studies.sweep import Case, Sweep
    from optimiser.studies.themes import ThemeAnswer, Themes
    from optimiser.studies.tradeoff import Axis, Tradeoff
    from optimiser.studies.variants import Variants

__all__ = [
    "FORMULAS",
    "MADE",
    "ROBUST",
    "STOCK",
    "SUBSTITUTE",
    "SWEEP",
    "axis_head",
    "curve_columns",
    "label_cell",
    "made_sheet",
    "refuse_another_file",
    "robust_sheet",
    "stock_sheet",
    "substitute_sheet",
    "sweep_rows",
    "sweep_sheet",
    "themes_sheet",
    "tradeoff_sheet",
    "variants_sheet",
    "write_parquet",
]

# The columns of each table, as far as they do not depend on what is in it.
MADE = ("ingredient", "name", "category", "percent", "grams")
FORMULAS = ("cost_per_kg", *MADE)  # after the formula's own title
SUBSTITUTE = ("ingredient", "name", "category", "base_percent", "percent", "move")
STOCK = ("ingredient", "name", "lot", "expiry", "take_g", "left_g")
ROBUST = ("budget", "in_spec", "rule", "sentence", "kept", "p5", "p50", "p95")
# What varied, what each case is like and the ingredients stand between and after.
CHANGES = (
    "change, points",
    "change by kind, points",
    "change by category, points",
)
# Tables of before have no change by kind, and are replaced all the same.
SWEEP = ("case", "scenario", "status", CHANGES[0], CHANGES[2])
Table = tuple[list[str], list[list[Any]]]


def made_sheet(made: Made) -> Sheet:
    """Return a formula, in the columns that ``optimiser check`` reads."""
    rows = [
        (line.ingredient, line.name, line.category, line.percent, line.grams)
        for line in in_order(made.formula)
        if line.percent > 0
    ]
    return as_sheet("formula", MADE, rows)


def _formulas(formulas: Sequence[Made], head: str, currency: str) -> Sheet:
    """Return formulas as one long table, an ingredient of a formula a row."""
    rows = [
        (each.title, each.cost_per_kg, line.ingredient, line.name, line.category,
         line.percent, line.grams)
        for each in formulas
        for line in each.formula
        if line.percent > 0
    ]  # fmt: skip
    return as_sheet(f"{head}s", (head, *FORMULAS), rows, {FORMULAS[0]: currency})


def variants_sheet(found: Variants) -> Sheet:
    """Return variants: one row a variant and ingredient."""
    formulas = [each.formula for each in found.variants]
    return _formulas(formulas, "variant", found.about.currency)


def themes_sheet(found: Themes) -> Sheet:
    """Return every possible formula, pairs too: one row a theme and ingredient."""
    answers: Sequence[ThemeAnswer] = (
        found.plain, *found.alone, *found.pairs.values(),
    )  # fmt: skip
    formulas = [each.formula for each in answers if each.formula is not None]
    return _formulas(formulas, "theme", found.about.currency)


def substitute_sheet(found: Substitution) -> Sheet:
    """Return the base and the formula without it, one ingredient a row."""
    rows = [
        (
            line.ingredient,
            line.name,
            line.category,
            line.base_percent,
            line.percent,
            difference(line.percent, line.base_percent or 0.0),
        )
        for line in found.formula.formula
    ]
    return as_sheet("substitute", SUBSTITUTE, rows)


def axis_head(axis: Axis) -> str:
    """Return the head of a column of an aim or a property."""
    return f"{axis_words(axis)}, {axis.unit}" if axis.unit else axis_words(axis)


def curve_columns(up: Axis, across: Axis) -> list[str]:
    """Return the columns that each curve between two axes has; ingredients follow."""
    return [cell(name) for name in ("point", axis_head(across), axis_head(up))]


def tradeoff_sheet(found: Tradeoff) -> Sheet:
    """Return the curve: a point a row, a column an ingredient in percent."""
    names: dict[str, str] = {}
    for point in found.points:
        for line in point.formula.formula:
            if line.percent > 0:
                names[line.ingredient] = line.name
    header = curve_columns(found.up, found.across)
    header += [f"{name}, %" for name in names.values()]
    rows: Sequence[Sequence[object]] = [
        [
            point.name,
            point.across,
            point.up,
            *(point.formula.amounts.get(key, 0.0) for key in names),
        ]
        for point in found.points
    ]
    return as_sheet("tradeoff", header, rows)


def stock_sheet(found: Stock) -> Sheet:
    """Return what is taken from which lot."""
    rows = [
        (row.ingredient, row.name, row.lot, row.expiry, row.kg * 1e3, row.left_kg * 1e3)
        for row in found.takes
    ]
    return as_sheet("from the shelf", STOCK, rows)


def robust_sheet(found: Robust) -> Sheet:
    """Return every rule of every formula: how often kept, and its spread."""
    all_of: Sequence[tuple[float, Simulated | None]] = [
        (0.0, found.simulated),
        *((row.budget, row.simulated) for row in found.budgets),
    ]
    rows = [
        (
            budget,
            simulated.kept,
            each.rule.id,
            each.rule.sentence,
            each.share,
            each.low,
            each.middle,
            each.high,
        )
        for budget, simulated in all_of
        if simulated is not None
        for each in simulated.rules
    ]
    return as_sheet("robust", ROBUST, rows)


def sweep_rows(found: Sweep, tall: bool = False) -> Table:
    """Return the header and the rows of the table.

    Parameters
    ----------
    tall : bool
        One row a case and ingredient, instead of a column an ingredient.
    """
    labels = list(dict.fromkeys(n for case in found.cases for n in case.labels))
    told = list(dict.fromkeys(n for case in found.cases for n in case.properties))
    used = list(dict.fromkeys(n for case in found.cases for n in case.amounts))
    header = ["case", *labels, "status", f"cost, {found.currency}/kg"]
    header += [*CHANGES, *told]
    if tall:
        header += ["ingredient", "name", "percent"]
    else:
        header += [f"{found.names[key]}, %" for key in used]
    rows: list[list[Any]] = []
    for number, case in enumerate(found.cases, start=1):
        first = _first(number, case, labels, told)
        if tall:
            rows += [
                [*first, key, found.names[key], percent]
                for key, percent in case.amounts.items()
            ] or [[*first, None, None, None]]
        else:
            answered = case.status == "answered"
            rest = [case.amounts.get(k, 0.0 if answered else None) for k in used]
            rows.append([*first, *rest])
    return header, rows


def _first(
    number: int, case: Case, labels: Sequence[str], told: Sequence[str]
) -> list[Any]:
    return [
        number,
        *(label_cell(case.labels.get(name)) for name in labels),
        case.status,
        case.cost_per_kg,
        case.change,
        case.change_by_kind,
        case.change_by_category,
        *(case.properties.get(name) for name in told),
    ]


def label_cell(label: object) -> object:
    """Return what varies as one cell: a list of markets becomes one text."""
    if isinstance(label, list):
        return " ".join(str(each) for each in label)
    return (
        label if isinstance(label, str | int | float) or label is None else str(label)
    )


def sweep_sheet(found: Sweep, tall: bool = False) -> Sheet:
    """Return the table; blank where there is nothing."""
    return as_sheet("cases", *sweep_rows(found, tall))


def write_parquet(found: Sweep, path: Path, tall: bool = False) -> None:
    """Write the table as Parquet, whole or not at all.

    Raises
    ------
    InputError
        If the library that writes Parquet is not installed, or something else is
        there.
    """
    import pandas as pd  # noqa: PLC0415 - slow to import, seldom needed

    header, rows = sweep_rows(found, tall)
    frame = pd.DataFrame(rows, columns=header)
    _refuse_no_parquet(path)
    try:
        with written_by_draft(path) as draft:
            frame.to_parquet(draft, index=False)
    except ImportError as error:
        raise _no_library(path) from error


def refuse_another_file(path: Path) -> None:
    """Say so, before any work is done, where a table cannot go to a file.

    Raises
    ------
    InputError
        If something else is there, or the library that writes Parquet is missing.
    """
    if is_workbook(path):
        refuse_another_workbook(path, SWEEP)
        return
    if path.suffix.casefold() != ".parquet":
        refuse_what_something_else_wrote(path, SWEEP)
        return
    _refuse_no_parquet(path)
    if not any(find_spec(name) for name in ("pyarrow", "fastparquet")):
        raise _no_library(path)


def _refuse_no_parquet(path: Path) -> None:
    if path.is_file():
        with path.open("rb") as file:
            if file.read(4) not in {b"", b"PAR1"}:
                raise InputError([Problem(TAKEN, file=str(path), fix=OTHER_NAME)])


def _no_library(path: Path) -> InputError:
    fix = f"{extra('parquet')}, or name a .csv file"
    wrong = "needs a library for Parquet that is not installed"
    return InputError([Problem(wrong, str(path), fix=fix)])
