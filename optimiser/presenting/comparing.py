"""Formulas side by side: amounts, figures, and how each differs from the first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from optimiser.domain.material import CATEGORIES
from optimiser.presenting import amounts
from optimiser.presenting.check import broken
from optimiser.presenting.facts import property_words
from optimiser.presenting.page import (
    Block,
    Cell,
    Item,
    Number,
    Page,
    Table,
    TableColumn,
    section,
    words,
)
from optimiser.presenting.words import clean, decimals, money, plural, short, unit_words

if TYPE_CHECKING:
    from optimiser.explaining.answer import Checked

__all__ = ["Compared", "compared_page"]

SAME = 0.005  # figures this near are shown alike


class Compared(Struct, frozen=True):
    """A formula with the name that it has in the comparison."""

    name: str
    checked: Checked


def compared_page(formulas: Sequence[Compared]) -> Page:
    """Return formulas side by side; differences are against the first."""
    names = [each.name for each in formulas]
    return Page(
        f"{', '.join(names)} side by side",
        (),
        (
            *section("", [_amounts(formulas), _figures(formulas)]),
            *section("", list(_broken(formulas))),
        ),
    )


def _amounts(formulas: Sequence[Compared]) -> Table:
    """Return the table of ingredients; each column adds up as it is shown."""
    lines = {
        line.ingredient: line
        for each in formulas
        for line in each.checked.formula
        if line.percent > 0.0
    }
    place = {category: at for at, category in enumerate(CATEGORIES)}
    shares = [
        {line.ingredient: line.percent for line in each.checked.formula}
        for each in formulas
    ]
    keys = sorted(
        lines,
        key=lambda key: (
            place.get(lines[key].category, len(place)),
            [-own.get(key, 0.0) for own in shares],
        ),
    )
    kinds = [lines[key].category for key in keys]
    columns = [[own.get(key, 0.0) for key in keys] for own in shares]
    fine = amounts.places(columns, kinds)
    shown = [amounts.percents(column, kinds, fine) for column in columns]
    table = [words("", [*(lines[key].name for key in keys), "total"], 14)]
    for formula, own in zip(formulas, shown, strict=True):
        cells = [_percent(x, kind, fine) for x, kind in zip(own, kinds, strict=True)]
        total = Number(sum(own) / 100, amounts.as_text(sum(own), False, places=fine))
        table.append(TableColumn(f"{formula.name} %", (*cells, total)))
    for formula, own in zip(formulas[1:], shown[1:], strict=True):
        moves = [now - was for now, was in zip(own, shown[0], strict=True)]
        cells = [_move(x, kind, fine) for x, kind in zip(moves, kinds, strict=True)]
        table.append(TableColumn(f"{formula.name}, difference", (*cells, "")))
    return Table(tuple(table), lines=(len(keys),))


def _percent(hundredths: int, category: str, places: int) -> Cell:
    text = amounts.as_text(hundredths, category in amounts.FINE, places=places)
    return Number(hundredths / 100, text if hundredths else "")


def _move(hundredths: int, category: str, places: int) -> Cell:
    fine = category in amounts.FINE
    text = amounts.as_text(hundredths, fine, sign=True, places=places)
    return Number(hundredths / 100, text if hundredths else "=")


Figure = tuple[str, tuple[float | None, ...], int]  # its name, a value each, decimals


def _figures(formulas: Sequence[Compared]) -> Table:
    """Return cost, change and properties, and the differences from the first."""
    rows = list(_rows(formulas))
    columns = [words("", [name for name, _, _ in rows], 14)]
    for place, formula in enumerate(formulas):
        told = tuple(_figure(values[place], places) for _, values, places in rows)
        columns.append(TableColumn(formula.name, told))
    for place, formula in enumerate(formulas[1:], start=1):
        told = tuple(_apart(values, place, places) for _, values, places in rows)
        columns.append(TableColumn(f"{formula.name}, difference", told))
    return Table(tuple(columns))


def _rows(formulas: Sequence[Compared]) -> Iterator[Figure]:
    checked = [each.checked for each in formulas]
    currency = clean(checked[0].currency)
    yield f"{currency} per kg", tuple(each.cost_per_kg for each in checked), 2
    used = [sum(line.percent > 0.0 for line in each.formula) for each in checked]
    yield "ingredients", tuple(map(float, used)), 0
    if any(each.change is not None for each in checked):
        apart = [x.change.by_ingredient if x.change else None for x in checked]
        yield "% different from the base", tuple(apart), 1
    named = {
        property_words(line) + unit_words(line.unit): None
        for each in checked
        for line in each.properties
        if line.value is not None
    }
    for name in named:
        yield name, tuple(_value(each, name) for each in checked), 1


def _value(checked: Checked, name: str) -> float | None:
    found = (
        line.value
        for line in checked.properties
        if property_words(line) + unit_words(line.unit) == name
    )
    return next(found, None)


def _figure(value: float | None, places: int) -> Cell:
    if value is None:
        return Number(None, "not known")
    return Number(value, money(value) if places == 2 else decimals(value, places))


def _apart(values: Sequence[float | None], place: int, places: int) -> Cell:
    """Return how far a figure is from the first, of figures as they are shown."""
    now, was = values[place], values[0]
    if now is None or was is None:
        return ""
    apart = round(now, places) - round(was, places)
    if abs(apart) < SAME * (1.0 if places == 2 else 10.0):
        return "="
    return Number(apart, f"{'+' if apart > 0 else '-'}{decimals(abs(apart), places)}")


def _broken(formulas: Sequence[Compared]) -> Iterator[Block]:
    """Yield which of the rules as they are now each formula breaks."""
    for each in formulas:
        missed = broken(each.checked.lines)
        if not missed:
            yield Item(f"{each.name}: keeps every rule as it is now.")
            continue
        told = tuple(
            f"{line.rule.sentence}; it has {short(line.value)}"
            f"{unit_words(line.rule.unit)}"
            for line in missed
            if line.value is not None
        )
        yield Item(f"{each.name}: breaks {plural(len(missed), 'rule')}", told)
