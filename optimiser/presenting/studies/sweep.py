"""A sweep as a tidy table, in CSV, Parquet or JSON: a case a row, or taller."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimiser.errors import InputError, Problem
from optimiser.presenting.studies.common import as_csv
from optimiser.presenting.words import money, plural
from optimiser.presenting.writing import (
    OTHER_NAME,
    TAKEN,
    refuse_what_something_else_wrote,
    written_by_draft,
)

if TYPE_CHECKING:
    from optimiser.studies.sweep import Case, Sweep

__all__ = [
    "COLUMNS",
    "refuse_another_file",
    "summary",
    "sweep_csv",
    "sweep_data",
    "sweep_rows",
    "write_parquet",
]

# What every table has, whatever the cases: what varied, what each case is like and
# the ingredients found stand between and after.
COLUMNS = (
    "case", "scenario", "status", "change, points", "change by category, points",
)  # fmt: skip
Table = tuple[list[str], list[list[Any]]]


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
    header += [f"change{by}, points" for by in ("", " by kind", " by category")]
    header += told
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
        *(_plain(case.labels.get(name)) for name in labels),
        case.status,
        case.cost_per_kg,
        case.change,
        case.change_by_kind,
        case.change_by_category,
        *(case.properties.get(name) for name in told),
    ]


def _plain(label: object) -> object:
    """Return a label as one cell: a list of markets becomes one text."""
    if isinstance(label, list):
        return " ".join(str(each) for each in label)
    return (
        label if isinstance(label, str | int | float) or label is None else str(label)
    )


def sweep_csv(found: Sweep, tall: bool = False) -> str:
    """Return the table as CSV: points as decimals, blank where there is nothing."""
    return as_csv(*sweep_rows(found, tall))


def sweep_data(found: Sweep) -> dict[str, Any]:
    """Return a sweep as data."""
    answered = any(case.status == "answered" for case in found.cases)
    return {
        "status": "answered" if answered else "clash",
        "currency": found.currency,
        "asked": found.asked,
        "stopped": found.stopped,
        "second_opinion": {"asked": found.melting, "held_by_a_line": found.lined},
        "cases": found.cases,
    }


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
    if path.suffix.casefold() != ".parquet":
        refuse_what_something_else_wrote(path, COLUMNS)
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
    fix = "pip install '.[parquet]' in the project's folder, or name a .csv file"
    wrong = "needs a library for Parquet that is not installed"
    return InputError([Problem(wrong, str(path), fix=fix)])


def summary(found: Sweep) -> str:
    """Return what came of a sweep in one line."""
    good = [case for case in found.cases if case.status == "answered"]
    clashes = sum(case.status == "clash" for case in found.cases)
    text = f"{len(good)} of {plural(found.asked, 'case')} answered"
    if clashes:
        text += f", {clashes} with rules that clash"
    other = len(found.cases) - len(good) - clashes
    if other:
        text += f", {other} that lack something"
    if found.stopped:
        text += f"; stopped after {len(found.cases)}"
    costs = [case.cost_per_kg for case in good if case.cost_per_kg is not None]
    if costs:
        text += f"; {money(min(costs))} to {money(max(costs))} {found.currency}/kg"
    if found.melting:
        text += (
            ". Windows on solid fat and firmness are held by straight sums and, in"
            f" {found.lined} of {plural(found.melting, 'scenario')}, by the second"
            " opinion's straight rules at the first answer: with other prices a cheaper"
            " formula that holds them may be kept out"
        )
    return text + "."
