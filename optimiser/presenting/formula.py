"""The formula as a table that adds up, its categories, and what it costs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimiser.domain.material import CATEGORIES
from optimiser.presenting import amounts
from optimiser.presenting.page import Cell, Number, Table, TableColumn
from optimiser.presenting.words import cents, decimals, listed, money, plural, short

if TYPE_CHECKING:
    from optimiser.explaining.answer import Change, FormulaLine

__all__ = [
    "batch_cost",
    "by_category",
    "change_told",
    "cost_told",
    "different",
    "formula_table",
    "grams_shown",
    "in_order",
]

NAMED = 42  # signs of what left a formula, on its one row


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


class _Rows:
    """Lines in their order, with figures in hundredths as all columns show them."""

    def __init__(self, lines: Sequence[FormulaLine], *, brief: bool = False) -> None:
        shown = [r for r in lines if r.percent > 0.0 or r.base_percent]
        gone = [r for r in in_order(shown) if r.percent <= 0.0]
        self.gone = len(gone) if brief and len(gone) > 1 else 0  # told on one row
        self.rows = [r for r in in_order(shown) if r.percent > 0.0 or not self.gone]
        self.rows += gone if self.gone else []
        self.categories = [row.category for row in self.rows]
        self.fine = [each in amounts.FINE for each in self.categories]
        now = [row.percent for row in self.rows]
        was = [row.base_percent or 0.0 for row in self.rows]
        self.moved = any(row.base_percent is not None for row in self.rows)
        columns = [now, was] if self.moved else [now]
        self.places = amounts.places(columns, self.categories)
        self.percents = amounts.percents(now, self.categories, self.places)
        self.base = amounts.percents(was, self.categories, self.places)
        self.grams = amounts.grams([row.grams for row in self.rows])

    @property
    def names(self) -> list[str]:
        """The name of each row, what is gone together as the last one."""
        told = [row.name for row in self.rows]
        if not self.gone:
            return told
        kept, gone = told[: -self.gone], told[-self.gone :]
        return [*kept, f"out: {_named(gone)}"]

    def column(self, head: str, hundredths: Sequence[int], places: int) -> TableColumn:
        """Return a column of figures with its total."""
        fine = self.fine
        if self.gone:
            fine = [*fine[: -self.gone], False]
            hundredths = self.joined(hundredths)
        cells = [
            _number(each, small, places)
            for each, small in zip(hundredths, fine, strict=True)
        ]
        total = _number(sum(hundredths), False, places)
        return TableColumn(head, (*cells, total), bar=True)

    def joined(self, values: Sequence[int]) -> list[int]:
        """Return the figures of rows, those of what is gone added up."""
        if not self.gone:
            return list(values)
        return [*values[: -self.gone], sum(values[-self.gone :])]


def _named(gone: Sequence[str]) -> str:
    """Return as many of some names as one row has room for, and how many more."""
    for most in range(len(gone), 1, -1):
        if len(named := listed(gone, most)) <= NAMED:
            return named
    return listed(gone, 1)


def _number(hundredths: int, fine: bool, places: int, sign: bool = False) -> Number:
    text = amounts.as_text(hundredths, fine, sign=sign, places=places)
    return Number(hundredths / 100, text)


def formula_table(
    lines: Sequence[FormulaLine],
    currency: str = "",
    *,
    full: bool = False,
    brief: bool = False,
) -> Table:
    """Return the table of a formula and its total, beside the base where there is one.

    What left the base stands at zero. With ``full`` also what each line costs in a
    kilogram, and how far it moved; ``brief`` has one row for all that left.
    """
    of = _Rows(lines, brief=brief and not full)
    grams = amounts.decimals_of(of.grams)
    columns = [
        TableColumn("", (*of.names, "total"), words=True, least=14),
        of.column("%", of.percents, of.places),
        # Small doses are weighed as finely as all others: one scale is used.
        TableColumn(
            "g",
            tuple(_number(g, False, grams) for g in _with_total(of.joined(of.grams))),
        ),
    ]
    if full:
        columns += _costs(of.rows, currency)
    if of.moved:
        columns.append(of.column("base %", of.base, of.places))
    if of.moved and full:
        moves = [now - was for now, was in zip(of.percents, of.base, strict=True)]
        cells: list[Cell] = [
            _number(move, small, of.places, sign=True) if move else Number(0.0, "=")
            for move, small in zip(moves, of.fine, strict=True)
        ]
        columns.append(TableColumn("move", (*cells, "")))
    return Table(tuple(columns), lines=() if brief else (len(of.rows),))


def _with_total(values: Sequence[int]) -> list[int]:
    return [*values, sum(values)]


def grams_shown(lines: Sequence[FormulaLine]) -> dict[str, int]:
    """Return the grams of each ingredient as its table shows them, in hundredths."""
    rows = in_order(lines)
    shown = amounts.grams([row.grams for row in rows])
    return {row.ingredient: each for row, each in zip(rows, shown, strict=True)}


def _costs(rows: Sequence[FormulaLine], currency: str) -> list[TableColumn]:
    """Return the cost share of each line, in money per kg of product."""
    costs = [row.cost_per_kg_product for row in rows]
    if all(cost is None for cost in costs):
        return []
    shares = iter(
        amounts.adding_up([c for c in costs if c is not None], [1] * len(costs))
    )
    hundredths = [None if cost is None else next(shares) for cost in costs]
    cells = [
        Number(None, "not known") if each is None else _money(each)
        for each in hundredths
    ]
    total = sum(each for each in hundredths if each is not None)
    whole: Cell = "" if None in hundredths else _money(total)
    return [TableColumn(f"{currency} in 1 kg", (*cells, whole))]


def _money(hundredths: int) -> Number:
    return Number(hundredths / 100, f"{hundredths / 100:.2f}")


def by_category(lines: Sequence[FormulaLine]) -> str:
    """Return the total of each category, from the figures as the table shows them."""
    of = _Rows(lines)
    parts = []
    for category in dict.fromkeys(of.categories):
        at = [i for i, each in enumerate(of.categories) if each == category]
        total = sum(of.percents[i] for i in at)
        text = f"{category} {amounts.as_text(total, places=of.places)}"
        if of.moved:
            was = sum(of.base[i] for i in at)
            told = amounts.as_text(was, places=of.places)
            text += "" if was == total else f" (base {told})"
        parts.append(text)
    return f"By category, %: {', '.join(parts)}."


def cost_told(
    cost_per_kg: float | None,
    base_cost_per_kg: float | None,
    lines: Sequence[FormulaLine],
    currency: str,
) -> str:
    """Return what the materials cost, against the base where its cost is known.

    The difference follows from the figures as they are shown.
    """
    if cost_per_kg is None:
        unknown = [r.name for r in lines if r.percent > 0 and r.price_per_kg is None]
        why = f": no price for {listed(unknown, 5)}" if unknown else ""
        return f"What the materials cost is not known{why}."
    told = f"{money(cost_per_kg)} {currency} per kg"
    if base_cost_per_kg is None:
        return f"{told}."
    saved = cents(base_cost_per_kg) - cents(cost_per_kg)
    if not saved:
        return f"{told}, as much as your base."
    way = "less" if saved > 0 else "more"
    return (
        f"{told}, {money(abs(saved) / 100)} {way} than your base"
        f" ({money(base_cost_per_kg)})."
    )


def batch_cost(cost_per_kg: float | None, batch_kg: float, currency: str) -> str:
    """Return what a batch costs, from the figure per kg as it is shown."""
    if cost_per_kg is None:
        return ""
    whole = money(cents(cost_per_kg) / 100 * batch_kg)
    return f"{whole} {currency} for the batch of {short(batch_kg)} kg."


def different(change: Change | None, of: str = " from your base") -> str:
    """Return how much of a formula is not in its base, in a sentence.

    ``of`` is "" where the base is named just before.
    """
    if change is None:
        return ""
    share = change.by_ingredient
    if share < 0.05:
        return "It is your base."
    told = decimals(share, 0 if share >= 9.95 else 1)
    return f"{told} % of it is different{of}."


def change_told(change: Change | None, lines: Sequence[FormulaLine]) -> str:
    """Return how different a formula is from its base, and what came and went."""
    if change is None or change.by_ingredient < 0.05:
        return different(change)
    told = different(change).removesuffix(".")
    told += f" ({decimals(change.by_kind, 1)} % by kind,"
    told += f" {decimals(change.by_category, 1)} % by category)"
    came = [r.name for r in lines if r.percent > 0 and r.base_percent == 0]
    left = [r.name for r in lines if r.percent == 0 and (r.base_percent or 0) > 0]
    if came:
        told += f"; in: {listed(came, 6)}"
    if left:
        told += f"; out: {listed(left, 6)}"
    kept = len([r for r in lines if r.percent > 0]) - len(came)
    if (came or left) and not kept:
        told += "; nothing of the base is kept"
    elif came or left:
        told += f"; {plural(kept, 'ingredient')} of the base kept"
    return f"{told}."
