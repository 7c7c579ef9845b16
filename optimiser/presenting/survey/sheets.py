"""Tables of a survey to keep: every line as it was read, and recipes as formulas."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.sheet import cell
from optimiser.presenting.survey.words import used_words
from optimiser.presenting.words import clean

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.studies.survey.formulas import AsFormula
    from optimiser.studies.survey.values import Recipe, RecipeLine, Survey

__all__ = ["file_names", "formula_sheet", "recipes_sheet"]

HEADER = (
    "recipe",
    "class",
    "structure",
    "used",
    "row",
    "ingredient_written",
    "amount_written",
    "unit_written",
    "ingredient",
    "category",
    "percent",
    "percent_low",
    "percent_high",
    "status",
    "sure",
    "how",
)
_UNFIT = re.compile(r"[^A-Za-z0-9_-]+")


def recipes_sheet(survey: Survey, catalogue: Catalogue) -> str:
    """Return every line of every recipe as CSV; percent of the finished product.

    ``percent_low`` and ``percent_high`` are how far the reading may be off.
    """
    rows = [
        _row(recipe, line, catalogue)
        for recipe in survey.recipes
        for line in recipe.lines
    ]
    return _csv([HEADER, *rows])


def _row(recipe: Recipe, line: RecipeLine, catalogue: Catalogue) -> tuple[str, ...]:
    names = " or ".join(catalogue.ingredients[key].name for key in line.match.options)
    own, doubt = line.percent, line.doubt
    numbers = ("", "", "")
    if own is not None and doubt is not None:
        low, high = min(own.low, doubt.low), max(own.high, doubt.high)
        numbers = (f"{own.value:.3f}", f"{low:.3f}", f"{high:.3f}")
    return (
        recipe.name,
        recipe.product_class,
        recipe.structure,
        used_words(recipe),
        str(line.written.origin.row),
        line.written.name,
        line.written.amount,
        line.written.unit,
        names,
        line.category or "",
        *numbers,
        line.status,
        line.sure,
        "; ".join(line.remarks),
    )


def formula_sheet(formula: AsFormula, catalogue: Catalogue) -> str:
    """Return a recipe as a formula that ``optimiser check`` reads.

    The last digit of the largest line takes what rounding leaves, so that it sums.
    """
    amounts = {key: round(each, 3) for key, each in formula.percents.items()}
    largest = max(amounts, key=lambda key: amounts[key])
    amounts[largest] = round(amounts[largest] + 100.0 - sum(amounts.values()), 3)
    rows: list[tuple[str, ...]] = [("ingredient", "percent", "note")]
    for key, amount in sorted(amounts.items(), key=lambda item: -item[1]):
        name = catalogue.ingredients[key].name
        rows.append((name, f"{amount:.3f}", formula.notes.get(key, "")))
    return _csv(rows)


def file_names(recipes: Iterable[str]) -> dict[str, str]:
    """Return a file name for each recipe, no two alike on any disk.

    >>> file_names(["LB 1", "lb/1"])
    {'LB 1': 'LB_1.csv', 'lb/1': 'lb_1_2.csv'}
    """
    taken: set[str] = set()
    found: dict[str, str] = {}
    for recipe in recipes:
        stem = _UNFIT.sub("_", recipe).strip("_")[:60] or "recipe"
        name, number = stem, 1
        while name.casefold() in taken:
            number += 1
            name = f"{stem}_{number}"
        taken.add(name.casefold())
        found[recipe] = f"{name}.csv"
    return found


def _csv(rows: Sequence[Sequence[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([cell(clean(each)) for each in row] for row in rows)
    return out.getvalue()
