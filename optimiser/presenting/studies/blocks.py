"""What the pages of studies share: formulas side by side, and how a page ends."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from optimiser.domain.material import CATEGORIES
from optimiser.presenting import amounts, care
from optimiser.presenting.amounts import percents_column
from optimiser.presenting.facts import allergen_words
from optimiser.presenting.notes import beyond_told, law_lines, unfirm_told
from optimiser.presenting.page import (
    Block,
    Cell,
    Item,
    Number,
    Section,
    Table,
    TableColumn,
    items,
    numbers,
    section,
    words,
)
from optimiser.presenting.studies.words import HELD, told_notes
from optimiser.presenting.words import (
    decimals,
    listed,
    money,
    short,
    unit_words,
)

if TYPE_CHECKING:
    from optimiser.domain.caution import CautionLine
    from optimiser.explaining.answer import AllergenLine, FormulaLine, PropertyLine
    from optimiser.explaining.basis import Basis
    from optimiser.studies.made import Made, Told

__all__ = [
    "DOUBT",
    "allergen_items",
    "care_and_rest",
    "closing",
    "facts_blocks",
    "formulas_blocks",
    "formulas_table",
    "law_first",
    "money_column",
]

DOUBT = "Figures are typical ones. The model says; make 100 g and test."
CAUTIONS = 1  # on a short page
ALIKE = 1.0  # percent


def formulas_table(
    formulas: Sequence[Made], among: Sequence[Made] | None = None
) -> Table:
    """Return formulas side by side in percent, each column adding up.

    ``among`` are all the formulas of a report whose tables are to have as many
    decimals as each other.
    """
    rows = _used(formulas)
    return Table(_columns(formulas, rows, among or formulas), (len(rows),))


def _columns(
    formulas: Sequence[Made], rows: Sequence[FormulaLine], among: Sequence[Made]
) -> tuple[TableColumn, ...]:
    places = _places(among)
    kinds = [row.category for row in rows]
    shown = [words("%", [*(row.name for row in rows), "total"], 14)]
    for each in formulas:
        shares = [each.amounts.get(row.ingredient, 0.0) for row in rows]
        percents = amounts.percents(shares, kinds, places)
        shown.append(percents_column(each.title, percents, kinds, places, "-"))
    return tuple(shown)


def formulas_blocks(formulas: Sequence[Made]) -> list[Block]:
    """Return where formulas differ as a table, and what hardly does below it."""
    rows = _used(formulas)
    columns = _columns(formulas, rows, formulas)
    same = [at for at, row in enumerate(rows) if _alike(formulas, row.ingredient)]
    if not same or len(formulas) < 2:
        return [formulas_table(formulas)]
    kept = [at for at in range(len(rows)) if at not in same]
    told = [_span(rows[at].name, [c.cells[at] for c in columns[1:]]) for at in same]
    blocks: list[Block] = []
    if kept:
        blocks.append(
            Table(
                tuple(
                    TableColumn(
                        column.head,
                        tuple(column.cells[at] for at in kept),
                        column.words,
                        column.least,
                    )
                    for column in columns
                )
            )
        )
    return [*blocks, Item(f"much the same in all, %: {listed(told)}")]


def _span(name: str, cells: Sequence[Cell]) -> str:
    """Return the least and the most of an ingredient.

    >>> _span("beeswax", [Number(3.0, "3.0"), Number(2.5, "2.5")])
    'beeswax 2.5 to 3.0'
    """
    shown = [cell for cell in cells if isinstance(cell, Number)]
    low, *_, high = sorted(shown, key=lambda cell: cell.value or 0.0)
    same = low.text == high.text
    return f"{name} {low.text}" if same else f"{name} {low.text} to {high.text}"


def _alike(formulas: Sequence[Made], key: str) -> bool:
    """Whether all of some formulas hold nearly as much of an ingredient."""
    shares = [each.amounts.get(key, 0.0) for each in formulas]
    return min(shares) > 0.0 and max(shares) - min(shares) < ALIKE


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


def facts_blocks(formulas: Sequence[Made], currency: str) -> list[Block]:
    """Return cost, change, properties and allergens of formulas side by side."""
    heads = [f"{currency} per kg"]
    cells: list[list[Number]] = [[_money(each.cost_per_kg) for each in formulas]]
    if all(each.change is not None for each in formulas):
        changes = [each.change for each in formulas if each.change is not None]
        heads += ["different from the base, %", "by kind, %", "by category, %"]
        cells += [[_tenths(each.by_ingredient) for each in changes]]
        cells += [[_tenths(each.by_kind) for each in changes]]
        cells += [[_tenths(each.by_category) for each in changes]]
    for at, line in enumerate(formulas[0].properties):
        values = [_value(each.properties, at) for each in formulas]
        if any(value is not None for value in values):
            heads.append(property_name(line))
            cells.append(_figures(values))
        if any(_second(each.properties, at) for each in formulas):
            heads.append("  by the second opinion")
            seconds = [_second(each.properties, at) for each in formulas]
            cells.append([each or Number(None, "-") for each in seconds])
    columns = [words("", heads, 20)]
    for number, each in enumerate(formulas):
        columns.append(TableColumn(each.title, tuple(row[number] for row in cells)))
    return [Table(tuple(columns)), Item(DOUBT)]


def _figures(values: Sequence[float | None]) -> list[Number]:
    """Return figures of one property with as many decimals each.

    >>> [each.text for each in _figures([6.0, 4.42, None])]
    ['6.00', '4.42', 'not known']
    """
    told = [short(value, 3) for value in values if value is not None]
    most = max((len(text.partition(".")[2]) for text in told), default=0)
    return [
        Number(value, "not known" if value is None else _rounded(value, most))
        for value in values
    ]


def _rounded(value: float, most: int) -> str:
    return decimals(float(short(value, 3)), most)


def property_name(line: PropertyLine) -> str:
    """Return a property as a row names it."""
    at = "" if line.at is None else f" at {short(line.at)} °C"
    unit = unit_words(line.unit, ", ")
    return f"{line.property}{at}{unit}"


def _value(lines: Sequence[PropertyLine], at: int) -> float | None:
    return lines[at].value if at < len(lines) else None


def _second(lines: Sequence[PropertyLine], at: int) -> Number | None:
    """Return a second figure where a window asks for one, with its doubt."""
    if at >= len(lines) or (lines[at].least, lines[at].most) == (None, None):
        return None
    second, doubt = lines[at].second, lines[at].doubt
    if second is None or doubt is None:
        return None
    return Number(second, f"{decimals(second, 0)} +-{decimals(doubt, 0)}")


def _money(amount: float | None) -> Number:
    return Number(amount, "not known" if amount is None else money(amount))


def _tenths(number: float) -> Number:
    return Number(number, decimals(number, 1))


def money_column(head: str, costs: Sequence[float | None], unknown: str) -> TableColumn:
    """Return costs to the cent."""
    return numbers(head, costs, money, unknown)


def allergen_items(
    formulas: Sequence[Made], *, among: bool = False
) -> tuple[Item, ...]:
    """Return which formula holds which allergen, and from what.

    ``among`` leaves out what all of them hold and the base does too, unless it is to
    be asked about for an allergen that is out.
    """
    rows: dict[AllergenLine, list[str]] = {}
    for each in formulas:
        for found in each.allergens:
            rows.setdefault(found, []).append(each.title)
    texts = []
    for line, titles in sorted(rows.items()):
        in_all = len(titles) == len(formulas)
        if in_all and among and not (line.new or line.out):
            continue
        who = "all" if in_all else listed(titles)
        texts.append(f"{allergen_words(line)} - in {who}")
    if not rows and not among:
        texts.append("None that an authority lists.")
    return items(texts)


def closing(
    told: Told,
    proof: str,
    *,
    full: bool,
    rest: Sequence[str] = (),
    allergens: Iterable[Item] = (),
) -> tuple[Section, ...]:
    """Return how a page ends: notes, cautions, and what was checked.

    A short page has the first cautions and the allergens, and ``rest``:
    what the full page has besides.
    """
    if not full:
        return care_and_rest(told.cautions, rest, allergens)
    if told.held:
        proof += f" {HELD}"
    return (
        *care.notes(told_notes(told), full=True),
        *care.cautions(told.cautions, full=True),
        *section("What was checked", [Item(proof)]),
    )


def law_first(basis: Basis, sections: Sequence[Section]) -> tuple[Section, ...]:
    """Return a page's sections with the law, in a line a market, at the top."""
    law = (
        *unfirm_told(basis.unfirm),
        *law_lines(basis, brief=True),
        *beyond_told(basis),
    )
    if sections and not sections[0].title:
        return (Section("", (*law, *sections[0].blocks)), *sections[1:])
    return (Section("", law), *sections)


def care_and_rest(
    cautions: Sequence[CautionLine],
    rest: Sequence[str],
    allergens: Iterable[Item] = (),
) -> tuple[Section, ...]:
    """Return how a short page ends: what to mind, what is left."""
    minded = [*items(care.briefly(cautions, CAUTIONS)), *allergens]
    return (
        *section("Take care", minded),
        *care.more(rest, cautions, CAUTIONS),
    )
