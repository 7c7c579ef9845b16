"""What the shelf makes, as text, JSON and CSV."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from msgspec import Struct

from optimiser.presenting import amounts, formula_text
from optimiser.presenting.layout import Column, item, table, width
from optimiser.presenting.report import aims_in_words, reached, section, top_lines
from optimiser.presenting.studies.common import (
    about,
    about_data,
    as_csv,
    closing,
    facts_table,
    made_data,
    told_data,
)
from optimiser.presenting.words import cents, listed, money, plural, short

if TYPE_CHECKING:
    from optimiser.studies.stock import Stock
    from optimiser.studies.stock.shelf import Take

__all__ = ["COLUMNS", "stock_csv", "stock_data", "stock_report"]

COLUMNS = ("ingredient", "name", "lot", "expiry", "take_g", "left_g")
MOST_ROWS = 8
LEAST_KG = 5e-5  # less than this is not taken from a lot of its own


def stock_report(found: Stock, columns: int | None = None) -> str:
    """Return the report on what the shelf makes as text."""
    wide = columns or width()
    top = about(found.about)[:-1]
    top.append("lots past their date are not counted")
    lines = top_lines(f"{found.about.title}: what the shelf makes today", top, wide)
    lines += section("The base as written", _base(found, wide))
    lines += section("The most within the rules", _most(found, wide))
    if found.formula is not None:
        formula = formula_text.formula_lines(
            found.formula.formula, found.about.currency, wide
        )
        facts = facts_table([found.formula], found.about.currency, wide)
        lines += section("Formula", formula)
        lines += section("From which lots, oldest first", _lots(found, wide))
        lines += section("What runs out first", _first_out(found, wide))
        lines += section("What it is like", facts)
    proof = (
        "Every rule was recomputed, and no larger batch keeps them from this shelf."
        " Allowances for filling and weighing are yours to add."
    )
    lines += closing(found.told, proof, wide)
    return "\n".join(lines) + "\n"


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
    return f"{text}, {plural(units, 'unit')} of {_kg(found.unit_kg)}{loss}"


def _base(found: Stock, columns: int) -> list[str]:
    base = found.base
    if base is None:
        return []
    if base.missing:
        gone = listed(base.missing)
        return item(f"Cannot be made: no {gone} is on the shelf.", columns)
    text = (
        f"Makes {_units(base.kg, base.units, found)}; {base.first_out} runs out first."
    )
    return item(text, columns)


def _most(found: Stock, columns: int) -> list[str]:
    if found.formula is None:
        text = f"Not one unit: the shelf makes {_kg(found.most_kg)} at most."
        return item(text, columns)
    text = f"Makes {_units(found.batch_kg, found.units, found)}"
    if found.batch_kg < found.most_kg - 1e-6:
        text += f" (the shelf would reach for {_kg(found.most_kg)})"
    aims = [each for each in found.aims if each[0] != "batch"]
    if aims:
        made = found.formula
        here = reached(made.cost_per_kg, made.change, made.formula)
        text += f"; of the formulas for it, {aims_in_words(aims, here)}"
    cost = found.formula.cost_per_kg
    if cost is not None:
        total = money(cents(cost) / 100 * found.batch_kg)
        text += f". What it takes is worth {total} {found.about.currency} to buy again"
    return item(text + ".", columns)


def _lots(found: Stock, columns: int) -> list[str]:
    rows = _taken(found)
    places = amounts.decimals_of([each.grams for each in rows])
    takes = [each.take for each in rows]
    return table(
        [
            Column("", [take.name for take in takes], number=False, least=14),
            Column("lot", [take.lot or "-" for take in takes], number=False, least=4),
            Column("take, g", [amounts.as_text(r.grams, places=places) for r in rows]),
            Column("left, g", [amounts.as_text(r.left, places=places) for r in rows]),
            Column(
                "good until",
                ["-" if take.expiry is None else str(take.expiry) for take in takes],
                number=False,
            ),
        ],
        columns,
    )


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
    shown = formula_text.grams_shown(formula)
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


def _first_out(found: Stock, columns: int) -> list[str]:
    rows = found.lasts[:MOST_ROWS]
    lines = table(
        [
            Column("", [name for name, _ in rows], number=False, least=14),
            Column("is enough for", [_kg(kg) for _, kg in rows], number=False),
        ],
        columns,
    )
    for name, gain in found.helps:
        lines += item(f"100 g more {name} would make {_kg(gain)} more.", columns)
    return lines


def stock_data(found: Stock) -> dict[str, Any]:
    """Return what the shelf makes as data; "nothing" if it is not one unit."""
    return {
        "status": "nothing" if found.formula is None else "answered",
        **about_data(found.about),
        "unit_kg": found.unit_kg,
        "loss_percent": found.loss_percent,
        "base": found.base,
        "most_kg": found.most_kg,
        "batch_kg": found.batch_kg,
        "units": found.units,
        "formula": None if found.formula is None else made_data(found.formula),
        "takes": found.takes,
        "lasts": [{"name": name, "kg": kg} for name, kg in found.lasts],
        "helps": [{"name": name, "kg_more": kg} for name, kg in found.helps],
        **told_data(found.told),
    }


def stock_csv(found: Stock) -> str:
    """Return what is taken from which lot as CSV."""
    rows = [
        (row.ingredient, row.name, row.lot, row.expiry, row.kg * 1e3, row.left_kg * 1e3)
        for row in found.takes
    ]
    return as_csv(COLUMNS, rows)
