"""The formula as a table that adds up, its categories, and what it costs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting import amounts
from optimiser.presenting.formula_text import in_order
from optimiser.presenting.page import Column, Item, Number, Table, words
from optimiser.presenting.words import money

if TYPE_CHECKING:
    from optimiser.explaining.answer import FormulaLine

__all__ = ["categories_item", "formula_table", "percents_column"]


def formula_table(
    lines: Sequence[FormulaLine], currency: str, *, full: bool = False
) -> Table:
    """Return the formula, next to its base where it has one.

    With ``full`` also what each ingredient is and what is paid for it.
    """
    rows = in_order(lines)
    kinds = [row.category for row in rows]
    now, was, places = _shown(rows)
    grams = amounts.grams([row.grams for row in rows])
    columns = [words("", [*(row.name for row in rows), "total"], 14)]
    if full:
        columns.append(words("category", [*kinds, ""], 11))
    columns += [
        percents_column("%", now, kinds, places),
        _column("g", grams, [amounts.decimals_of(grams)] * len(rows)),
    ]
    if full:
        paid = [_money(row.price_per_kg) for row in rows]
        columns.append(Column(f"{currency}/kg paid", (*paid, "")))
    columns += _cost_column(rows, currency)
    if was is not None:
        moves = [
            Number(
                (here - there) / 100,
                amounts.as_text(
                    here - there, kind in amounts.FINE, sign=True, places=places
                )
                if here != there
                else "=",
            )
            for here, there, kind in zip(now, was, kinds, strict=True)
        ]
        columns += [
            percents_column("base %", was, kinds, places),
            Column("move", (*moves, "")),
        ]
    return Table(tuple(columns), (len(rows),))


def _shown(
    rows: Sequence[FormulaLine],
) -> tuple[list[int], list[int] | None, int]:
    """Return percentages in hundredths, those of the base, and their decimals."""
    kinds = [row.category for row in rows]
    now = [row.percent for row in rows]
    was = [row.base_percent or 0.0 for row in rows]
    moved = any(row.base_percent is not None for row in rows)
    places = amounts.places([now, was] if moved else [now], kinds)
    base = amounts.percents(was, kinds, places) if moved else None
    return amounts.percents(now, kinds, places), base, places


def percents_column(
    head: str,
    hundredths: Sequence[int],
    categories: Sequence[str],
    places: int,
    nothing: str | None = None,
) -> Column:
    """Return percentages that add up, with their total.

    ``nothing`` stands for a share of zero, where it is given.
    """
    cells = [
        Number(
            each / 100,
            nothing
            if nothing is not None and not each
            else amounts.as_text(each, kind in amounts.FINE, places=places),
        )
        for each, kind in zip(hundredths, categories, strict=True)
    ]
    total = sum(hundredths)
    whole = Number(total / 100, amounts.as_text(total, places=places))
    return Column(head, (*cells, whole))


def _column(head: str, hundredths: Sequence[int], places: Iterable[int]) -> Column:
    """Return amounts and their total."""
    digits = list(places)
    cells = [
        Number(each / 100, amounts.as_text(each, places=place))
        for each, place in zip(hundredths, digits, strict=True)
    ]
    total = sum(hundredths)
    last = amounts.as_text(total, places=max(digits, default=1))
    return Column(head, (*cells, Number(total / 100, last)))


def _money(amount: float | None) -> Number:
    return Number(amount, "" if amount is None else money(amount))


def _cost_column(rows: Sequence[FormulaLine], currency: str) -> list[Column]:
    """Return the cost share of each line, in money per kg of product."""
    costs = [row.cost_per_kg_product for row in rows]
    if all(cost is None for cost in costs):
        return []
    known = [cost for cost in costs if cost is not None]
    shares = iter(amounts.adding_up(known, [1] * len(known)))
    cells = [
        Number(None, "not known")
        if cost is None
        else Number((share := next(shares)) / 100, f"{share / 100:.2f}")
        for cost in costs
    ]
    values = [cell.value for cell in cells]
    total = sum(value for value in values if value is not None)
    whole = Number(None, "") if None in values else Number(total, f"{total:.2f}")
    return [Column(f"{currency} in 1 kg", (*cells, whole))]


def categories_item(lines: Sequence[FormulaLine]) -> Item:
    """Return the total of each category, from the figures as shown."""
    rows = in_order(lines)
    now, base, places = _shown(rows)
    parts = []
    for category in dict.fromkeys(row.category for row in rows):
        at = [i for i, row in enumerate(rows) if row.category == category]
        total = sum(now[i] for i in at)
        text = f"{category} {amounts.as_text(total, places=places)}"
        was = total if base is None else sum(base[i] for i in at)
        if was != total:
            text += f" (base {amounts.as_text(was, places=places)})"
        parts.append(text)
    return Item(f"By category, %: {', '.join(parts)}.")
