"""The page on what the shelf makes: how much, from which lots, what runs out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from msgspec import Struct

from optimiser.presenting import amounts, care
from optimiser.presenting.answer import aims_in_words, reached
from optimiser.presenting.following import following, told_command
from optimiser.presenting.formula import (
    by_category,
    formula_table,
    grams_shown,
    in_order,
)
from optimiser.presenting.notes import lots_told
from optimiser.presenting.page import (
    Block,
    Item,
    Number,
    Page,
    Paragraph,
    Section,
    Table,
    TableColumn,
    section,
    words,
)
from optimiser.presenting.studies.blocks import (
    closing,
    facts_blocks,
    law_first,
)
from optimiser.presenting.studies.words import about, different
from optimiser.presenting.words import cents, listed, money, plural, short

if TYPE_CHECKING:
    from optimiser.studies.stock import Missing, Stock, Take

__all__ = ["missing_told", "stock_page"]

MOST_ROWS, MOST_HELPS, MOST_EXPIRED = 8, 2, 3
LEAST_KG = 5e-5  # less than this is not taken from a lot of its own
DATED = "lots past their date are not counted"
PROOF = (
    "Every rule was recomputed, and no larger batch keeps them from this shelf."
    " Allowances for filling and weighing are yours to add."
)


def stock_page(found: Stock, *, full: bool = False) -> Page:
    """Return the page on what the shelf makes."""
    top = (
        *about(found.about, found.told.basis)[:-1],
        *lots_told(found.about.invented_lots),
        DATED,
    )
    said = (_base(found), _most(found, full=full))
    answer: list[Block] = [Paragraph(text) for text in said if text]
    answer += [Item(text) for text in (*_expired(found), *_helps(found))]
    sections = [Section("", tuple(answer))]
    if found.formula is not None:
        sections += section("What to take, oldest lots first", [_lots(found)])
        if full:
            lines = found.formula.formula
            table = formula_table(lines, found.about.currency, full=True)
            sections += section("Formula", (table, Item(by_category(lines))))
            sections += section("What runs out first", [_first_out(found)])
            facts = facts_blocks([found.formula], found.about.currency)
            sections += section("What it is like", facts)
    rest: tuple[str, ...] = ()
    allergens: tuple[Item, ...] = ()
    if found.formula is not None:
        rest = ("the formula next to the base", "what runs out first", "properties")
        allergens = (*care.allergens(found.formula.allergens, found.about.markets),)
    sections += closing(found.told, PROOF, full=full, rest=rest, allergens=allergens)
    if not full:
        sections += following("stock", found.about.file)
    title = f"{found.about.title}: what the shelf makes today"
    return Page(title, top, law_first(found.told.basis, sections))


def missing_told(lacking: Missing, file: str) -> Iterator[Block]:
    """Yield what the shelf has nothing of that is asked for, and what to do next."""
    yield Paragraph(
        "Nothing can be made from the shelf, for what the rules ask for is not on it:"
        f" {listed(f'no {each}' for each in lacking.asked)}."
    )
    if lacking.base:
        there = lacking.of_base - len(lacking.base)
        yield Item(
            f"Of the {plural(lacking.of_base, 'ingredient')} of the base"
            f" {there or 'none'} {'is' if there < 2 else 'are'} there; not there:"
            f" {listed(lacking.base)}."
        )
    yield from map(Item, _expired(lacking))
    buying = told_command("optimiser buy {file}", file)
    yield Paragraph(
        f"Next: {buying} says which packs to buy for it. What you have goes into"
        " stock.csv, a row a lot."
    )


def _kg(kg: float) -> str:
    """Return a mass as a maker reads it, rounded down so that it is there."""
    if kg >= 1.0:
        return f"{short(int(kg * 1000 + 1e-6) / 1000)} kg"
    return f"{short(int(kg * 10000 + 1e-6) / 10)} g"


def _units(kg: float, units: int | None, found: Stock) -> str:
    text = _kg(kg)
    if units is None or found.unit_kg is None:
        return text
    loss = f", {short(found.loss_percent)} % lost" if found.loss_percent else ""
    return f"{text}, {plural(units, 'unit')} of {_unit(found.unit_kg)}{loss}"


def _unit(kg: float) -> str:
    """Return what one unit weighs, as it was asked for.

    >>> _unit(0.06), _unit(0.056699), _unit(1.25)
    ('60 g', '56.7 g', '1.25 kg')
    """
    return f"{short(kg)} kg" if kg >= 1.0 else f"{short(kg * 1000.0)} g"


def _base(found: Stock) -> str:
    base = found.base
    if base is None:
        return ""
    if base.missing:
        gone = listed(base.missing)
        return f"The base as written cannot be made: no {gone} is on the shelf."
    return (
        f"The base as written makes {_units(base.kg, base.units, found)};"
        f" {base.first_out} runs out first."
    )


def _most(found: Stock, *, full: bool) -> str:
    """Return how much can be made within the rules, and what that is worth."""
    if found.formula is None:
        return f"Not one unit: the shelf makes {_kg(found.most_kg)} at most."
    text = f"Within the rules it makes {_units(found.batch_kg, found.units, found)}"
    change = found.formula.change
    if change is not None:
        text += f" of a formula {different(change.by_ingredient)} different"
    if found.batch_kg < found.most_kg - 1e-6:
        text += f" (the shelf would reach for {_kg(found.most_kg)})"
    if found.lasts:
        text += f"; {found.lasts[0][0]} runs out first"
    cost = found.formula.cost_per_kg
    if cost is not None:
        total = money(cents(cost) / 100 * found.batch_kg)
        text += (
            f". What it takes is worth {total} {found.about.currency} to buy again"
            f" ({money(cost)} per kg)"
        )
    aims = [each for each in found.aims if each[0] != "batch"]
    if full and aims:
        made = found.formula
        here = reached(made.cost_per_kg, made.change, made.formula)
        text += f". Of the formulas for it, {aims_in_words(aims, here)}"
    return text + "."


def _expired(found: Stock | Missing) -> list[str]:
    """Return which lots are past their date: they may be why little can be made."""
    told = [f"{each[:1].upper()}{each[1:]}." for each in found.expired]
    left = len(told) - MOST_EXPIRED
    rest = [f"{plural(left, 'more lot')} expired and do not count."] if left > 0 else []
    return told[:MOST_EXPIRED] + rest


def _helps(found: Stock) -> list[str]:
    told = []
    for each in found.helps[:MOST_HELPS]:
        of = f"more {each.name}"
        if not each.on_shelf:
            of = f"of {each.name}, of which you have none,"
        told.append(f"100 g {of} would make {_kg(each.kg_more)} more.")
    return told


def _lots(found: Stock) -> Table:
    """Return what is taken from each lot, with the share of the ingredient."""
    rows = _taken(found)
    digits = amounts.decimals_of([each.grams for each in rows])
    takes = [each.take for each in rows]
    shares = _shares(found)
    first = [
        n == 0 or takes[n - 1].ingredient != take.ingredient
        for n, take in enumerate(takes)
    ]
    percent = [
        shares[take.ingredient] if is_first else ""
        for take, is_first in zip(takes, first, strict=True)
    ]

    def grams(hundredths: int) -> Number:
        return Number(hundredths / 100, amounts.as_text(hundredths, places=digits))

    until = ["-" if t.expiry is None else str(t.expiry) for t in takes]
    return Table(
        (
            words("", [take.name for take in takes], 14),
            TableColumn("%", tuple(percent)),
            words("lot", [take.lot or "-" for take in takes], 4),
            TableColumn("take, g", tuple(grams(each.grams) for each in rows)),
            TableColumn("left, g", tuple(grams(each.left) for each in rows)),
            words("good until", until, 10),
        )
    )


def _shares(found: Stock) -> dict[str, Number]:
    """Return each ingredient's percent as the formula's table shows it."""
    rows = in_order(() if found.formula is None else found.formula.formula)
    kinds = [row.category for row in rows]
    now = [row.percent for row in rows]
    places = amounts.places([now], kinds)
    shown = amounts.percents(now, kinds, places)
    return {
        row.ingredient: Number(
            each / 100,
            amounts.as_text(each, row.category in amounts.FINE, places=places),
        )
        for row, each in zip(rows, shown, strict=True)
    }


class _Taken(Struct, frozen=True):
    """What is taken from a lot and left in it as shown, in hundredths of a gram."""

    take: Take
    grams: int
    left: int


def _taken(found: Stock) -> list[_Taken]:
    """Return what is taken from each lot, which adds up to the formula's grams.

    A lot of which less than 0.05 g is taken is left out, unless it is the only one.
    """
    formula = () if found.formula is None else found.formula.formula
    shown = grams_shown(formula)
    step = 1 if amounts.decimals_of(list(shown.values())) == 2 else 10
    taken: list[_Taken] = []
    for key in dict.fromkeys(take.ingredient for take in found.takes):
        lots = [take for take in found.takes if take.ingredient == key]
        lots = [take for take in lots if take.kg >= LEAST_KG] or lots[:1]
        rest = shown.get(key, 0)
        for at, take in enumerate(lots):
            last = at == len(lots) - 1
            grams = rest if last else min(rest, _hundredths(take.kg, step))
            rest -= grams
            left = max(0, _hundredths(take.kg + take.left_kg, step) - grams)
            if grams or not at:
                taken.append(_Taken(take, grams, left))
    return taken


def _hundredths(kg: float, step: int) -> int:
    return step * round(kg * 1e5 / step)


def _first_out(found: Stock) -> Table:
    rows = found.lasts[:MOST_ROWS]
    return Table(
        (
            words("", [name for name, _ in rows], 14),
            words("is enough for", [_kg(kg) for _, kg in rows]),
        )
    )
