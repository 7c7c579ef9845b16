"""The formula as a table that adds up, its categories, and what it costs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimiser.domain.material import CATEGORIES
from optimiser.presenting import amounts
from optimiser.presenting.layout import Column, item, table
from optimiser.presenting.words import cents, decimals, listed, money, plural

if TYPE_CHECKING:
    from optimiser.explaining.answer import Change, FormulaLine

__all__ = ["change_lines", "cost_lines", "formula_lines", "grams_shown", "in_order"]

_WIDE = 100


def in_order(lines: Sequence[FormulaLine]) -> list[FormulaLine]:
    """Return formula lines by category, and the largest of each first."""
    place = {category: at for at, category in enumerate(CATEGORIES)}
    return sorted(
        lines,
        key=lambda line: (
            place.get(line.category, len(place)),
            -line.percent,
            -(line.base_percent or 0.0),
        ),
    )


def formula_lines(
    lines: Sequence[FormulaLine], currency: str, columns: int
) -> list[str]:
    """Return the table of the formula, its total, and its categories."""
    rows = in_order(lines)
    fine = [row.category in amounts.FINE for row in rows]
    categories = [row.category for row in rows]
    now = [row.percent for row in rows]
    was = [row.base_percent or 0.0 for row in rows]
    moved = any(row.base_percent is not None for row in rows)
    places = amounts.places([now, was] if moved else [now], categories)
    percents = amounts.percents(now, categories, places)
    grams = amounts.grams([row.grams for row in rows])
    table_columns = [
        Column("", [*(row.name for row in rows), "total"], number=False, least=14),
        Column("%", _cells(percents, places, fine)),
        Column("g", _cells(grams, amounts.decimals_of(grams))),
    ]
    if columns >= _WIDE:
        table_columns.insert(
            1, Column("category", [*categories, ""], number=False, least=11)
        )
        prices = ["" if r.price_per_kg is None else money(r.price_per_kg) for r in rows]
        table_columns.append(Column(f"{currency}/kg paid", [*prices, ""]))
    table_columns += _cost_column(rows, currency)
    base: list[int] | None = None
    if moved:
        base = amounts.percents(was, categories, places)
        moves = [here - there for here, there in zip(percents, base, strict=True)]
        table_columns += [
            Column("base %", _cells(base, places, fine)),
            Column("move", [*_moves(moves, places, fine), ""]),
        ]
    return [
        *table(table_columns, columns, rules=[len(rows)]),
        *_category_lines(categories, percents, base, places, columns),
    ]


def grams_shown(lines: Sequence[FormulaLine]) -> dict[str, int]:
    """Return the grams of each ingredient as its table shows them, in hundredths."""
    rows = in_order(lines)
    shown = amounts.grams([row.grams for row in rows])
    return {row.ingredient: each for row, each in zip(rows, shown, strict=True)}


def _cells(
    values: Sequence[int], places: int, fine: Sequence[bool] | None = None
) -> list[str]:
    small = fine or [False] * len(values)
    texts = [
        amounts.as_text(value, each, places=places)
        for value, each in zip(values, small, strict=True)
    ]
    return [*texts, amounts.as_text(sum(values), places=places)]


def _moves(moves: Sequence[int], places: int, fine: Sequence[bool]) -> list[str]:
    return [
        amounts.as_text(move, small, sign=True, places=places) if move else "="
        for move, small in zip(moves, fine, strict=True)
    ]


def _cost_column(rows: Sequence[FormulaLine], currency: str) -> list[Column]:
    """Return the cost share of each line, in money per kg of product."""
    costs = [row.cost_per_kg_product for row in rows]
    if all(cost is None for cost in costs):
        return []
    shares = iter(
        amounts.adding_up([c for c in costs if c is not None], [1] * len(costs))
    )
    hundredths = [None if cost is None else next(shares) for cost in costs]
    cells = [
        "not known" if each is None else f"{each / 100:.2f}" for each in hundredths
    ]
    total = sum(each for each in hundredths if each is not None)
    whole = "" if None in hundredths else f"{total / 100:.2f}"
    return [Column(f"{currency} in 1 kg", [*cells, whole])]


def _category_lines(
    categories: Sequence[str],
    percents: Sequence[int],
    base: Sequence[int] | None,
    places: int,
    columns: int,
) -> list[str]:
    """Return the total of each category, from the figures as printed."""
    parts = []
    for category in dict.fromkeys(categories):
        at = [i for i, each in enumerate(categories) if each == category]
        total = sum(percents[i] for i in at)
        text = f"{category} {amounts.as_text(total, places=places)}"
        if base is not None:
            was = sum(base[i] for i in at)
            told = amounts.as_text(was, places=places)
            text += "" if was == total else f" (base {told})"
        parts.append(text)
    return ["", *item(f"By category, %: {', '.join(parts)}.", columns)]


def cost_lines(
    cost_per_kg: float | None,
    base_cost_per_kg: float | None,
    lines: Sequence[FormulaLine],
    currency: str,
    batch_kg: float,
    columns: int,
) -> list[str]:
    """Return what the materials cost per kg and for the batch.

    The batch and the difference follow from the figures per kg as they are shown.
    """
    unknown = [
        row.name for row in lines if row.percent > 0 and row.price_per_kg is None
    ]
    if cost_per_kg is None:
        why = f": no price for {listed(unknown, 5)}" if unknown else ""
        return item(f"Materials: cost not known{why}.", columns)
    text = (
        f"Materials: {money(cost_per_kg)} {currency} per kg, "
        f"{money(cents(cost_per_kg) / 100 * batch_kg)} {currency} for the batch"
    )
    if base_cost_per_kg is not None:
        text += f"; the base costs {money(base_cost_per_kg)} per kg"
        saved = cents(base_cost_per_kg) - cents(cost_per_kg)
        if saved:
            text += f": {money(abs(saved) / 100)} {'saved' if saved > 0 else 'more'}"
    return item(text + ".", columns)


def change_lines(
    change: Change | None, lines: Sequence[FormulaLine], columns: int
) -> list[str]:
    """Return how far the formula is from its base."""
    if change is None:
        return []
    came = [r.name for r in lines if r.percent > 0 and r.base_percent == 0]
    left = [r.name for r in lines if r.percent == 0 and (r.base_percent or 0) > 0]
    text = (
        f"Change from the base: {decimals(change.by_ingredient, 1)} points by "
        f"ingredient, {decimals(change.by_kind, 1)} by kind, "
        f"{decimals(change.by_category, 1)} by category"
    )
    if came:
        text += f"; in: {listed(came, 6)}"
    if left:
        text += f"; out: {listed(left, 6)}"
    kept = len([r for r in lines if r.percent > 0]) - len(came)
    if came or left:
        told = plural(kept, "ingredient") if kept else "nothing"
        text += f"; {told} of the base kept"
    return item(text + ".", columns)
