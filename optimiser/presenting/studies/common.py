"""What the reports on studies share: formulas side by side, moves, label order."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from optimiser.domain.material import CATEGORIES
from optimiser.presenting import amounts
from optimiser.presenting.data import properties_data
from optimiser.presenting.formula_text import in_order
from optimiser.presenting.layout import Column, item, numbered, table
from optimiser.presenting.notes import notes as notes_of
from optimiser.presenting.report import section
from optimiser.presenting.sheet import cell
from optimiser.presenting.words import exactly, listed, money, short

if TYPE_CHECKING:
    from optimiser.explaining.answer import FormulaLine, PropertyLine
    from optimiser.studies.made import About, Made, Told

__all__ = [
    "DOUBT",
    "MADE_COLUMNS",
    "about",
    "about_data",
    "as_csv",
    "closing",
    "facts_table",
    "formulas_table",
    "made_csv",
    "made_data",
    "points",
    "signed",
    "told_data",
]

MADE_COLUMNS = ("ingredient", "name", "category", "percent", "grams")
HELD = (
    "Where the second opinion did not agree at first, it is the best formula found for"
    " which it does, which is not proved to be the best there is."
)
DOUBT = "Figures are typical ones. The model says; make 100 g and test."


def about(of: About) -> list[str]:
    """Return what stands below a study's title."""
    sold = f"sold in {listed(of.markets)}" if of.markets else "no market named"
    return [of.file, of.use, sold, f"batch {short(of.batch_kg)} kg"]


def about_data(of: About) -> dict[str, Any]:
    """Return what a study is about as data."""
    return {
        "title": of.title,
        "scenario": of.file,
        "currency": of.currency,
        "batch_kg": of.batch_kg,
    }


def points(number: float) -> str:
    """Return a distance in points, to a tenth.

    >>> points(2.04)
    '2.0'
    """
    return f"{number:z.1f}"


def signed(number: float, places: int = 1) -> str:
    """Return a move with its sign; "=" for none.

    >>> signed(2.04), signed(-0.001)
    ('+2.0', '=')
    """
    text = f"{number:+z.{places}f}"
    return "=" if float(text) == 0 else text


def formulas_table(
    formulas: Sequence[Made], columns: int, among: Sequence[Made] | None = None
) -> list[str]:
    """Return formulas side by side in percent, each column adding up.

    ``among`` are all the formulas of a report whose tables are to have as many
    decimals as each other.
    """
    rows = _used(formulas)
    places = _places(among or formulas)
    fine = [row.category in amounts.FINE for row in rows]
    shown = [Column("%", [*(row.name for row in rows), "total"], False, 14)]
    for each in formulas:
        percents = amounts.percents(
            [each.amounts.get(row.ingredient, 0.0) for row in rows],
            [row.category for row in rows],
            places,
        )
        cells = [
            amounts.as_text(p, f, places=places) if p else "-"
            for p, f in zip(percents, fine, strict=True)
        ]
        total = amounts.as_text(sum(percents), places=places)
        shown.append(Column(each.title, [*cells, total]))
    return table(shown, columns, rules=[len(rows)])


def _used(formulas: Sequence[Made]) -> list[FormulaLine]:
    """Return a line for each ingredient used, in the order of a table."""
    lines: dict[str, FormulaLine] = {}
    for each in formulas:
        for line in each.formula:
            if line.percent > 0:
                lines.setdefault(line.ingredient, line)
    return sorted(
        lines.values(),
        key=lambda x: (
            CATEGORIES.index(x.category),
            -max(each.amounts.get(x.ingredient, 0.0) for each in formulas),
        ),
    )


def _places(formulas: Sequence[Made]) -> int:
    rows = _used(formulas)
    columns = [
        [each.amounts.get(row.ingredient, 0.0) for row in rows] for each in formulas
    ]
    return amounts.places(columns, [row.category for row in rows])


def facts_table(formulas: Sequence[Made], currency: str, columns: int) -> list[str]:
    """Return cost, change, properties and allergens of formulas side by side."""
    heads = [f"{currency} per kg"]
    cells = [[_money(each.cost_per_kg) for each in formulas]]
    if all(each.change is not None for each in formulas):
        changes = [each.change for each in formulas if each.change is not None]
        heads += ["points from the base", "points by category"]
        cells += [[points(each.by_ingredient) for each in changes]]
        cells += [[points(each.by_category) for each in changes]]
    for at, line in enumerate(formulas[0].properties):
        values = [_property(each.properties, at) for each in formulas]
        if any(values):
            heads.append(property_name(line))
            cells.append([value or "not known" for value in _alike(values)])
        if any(_second(each.properties, at) for each in formulas):
            heads.append("  by the second opinion")
            cells.append([_second(each.properties, at) or "-" for each in formulas])
    shown = [Column("", heads, number=False, least=20)]
    for number, each in enumerate(formulas):
        shown.append(Column(each.title, [row[number] for row in cells]))
    return [*table(shown, columns), *item(DOUBT, columns)]


def _alike(values: Sequence[str]) -> list[str]:
    """Return figures of one property with as many decimals each.

    >>> _alike(["6", "4.42", ""])
    ['6.00', '4.42', '']
    """
    most = max(len(each.partition(".")[2]) for each in values)
    return [f"{float(each):z.{most}f}" if each else "" for each in values]


def property_name(line: PropertyLine) -> str:
    """Return a property as a row names it."""
    at = "" if line.at is None else f" at {short(line.at)} °C"
    unit = f", {line.unit}" if line.unit else ""
    return f"{line.property}{at}{unit}"


def _property(lines: Sequence[PropertyLine], at: int) -> str:
    value = lines[at].value if at < len(lines) else None
    return "" if value is None else short(value, 3)


def _second(lines: Sequence[PropertyLine], at: int) -> str:
    """Return a second figure where a window asks for one, with its doubt."""
    if at >= len(lines) or (lines[at].least, lines[at].most) == (None, None):
        return ""
    second, doubt = lines[at].second, lines[at].doubt
    return "" if second is None or doubt is None else f"{second:.0f} +-{doubt:.0f}"


def _money(amount: float | None) -> str:
    return "not known" if amount is None else money(amount)


def closing(told: Told, proof: str, columns: int) -> list[str]:
    """Return how a report ends: notes, cautions, and what was checked."""
    said = told_notes(told)
    notes = [line for note in said for line in item(note, columns)]
    if told.held:
        proof += f" {HELD}"
    return [
        *section("Notes", notes),
        *section("Cautions", numbered(told.cautions, columns)),
        *section("What was checked", item(proof, columns)),
    ]


def told_data(told: Told) -> dict[str, Any]:
    """Return notes and cautions as data."""
    return {"notes": told_notes(told), "cautions": told.cautions}


def told_notes(told: Told) -> tuple[str, ...]:
    """Return what must be said with some formulas, the second opinion first."""
    several = len(told.formulas) > 1
    formulas = [(title if several else "", lines) for title, lines in told.formulas]
    return (*told.second, *notes_of(told.basis, formulas))


def made_data(made: Made) -> dict[str, Any]:
    """Return a formula of a study as data."""
    return {
        "title": made.title,
        "cost_per_kg": made.cost_per_kg,
        "formula": [
            {
                "ingredient": line.ingredient,
                "name": line.name,
                "category": line.category,
                "percent": line.percent,
                "grams": line.grams,
                "cost_per_kg_product": line.cost_per_kg_product,
                "base_percent": line.base_percent,
            }
            for line in made.formula
        ],
        "change": made.change,
        "properties": properties_data(made.properties),
        "allergens": [
            {"allergen": allergen, "ingredient": name}
            for allergen, name in made.allergens
        ],
        "label_order": made.label_order,
        "proof": made.proof,
    }


def made_csv(made: Made) -> str:
    """Return a formula as CSV, in the columns that ``optimiser check`` reads."""
    rows = [
        (line.ingredient, line.name, line.category, line.percent, line.grams)
        for line in in_order(made.formula)
        if line.percent > 0
    ]
    return as_csv(MADE_COLUMNS, rows)


def as_csv(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a table as CSV: points as decimals, blank where not known."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([cell(name) for name in header])
    for row in rows:
        writer.writerow([_cell(each) for each in row])
    return out.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        number = exactly(value)
        return "" if number is None else f"{number:.10g}"
    return cell(str(value))
