"""Variants and themes as text, JSON and CSV."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from optimiser.presenting.layout import Column, item, paragraph, table, width
from optimiser.presenting.report import section, top_lines
from optimiser.presenting.studies.common import (
    about,
    about_data,
    as_csv,
    closing,
    facts_table,
    formulas_table,
    made_data,
    points,
    signed,
    told_data,
)
from optimiser.presenting.words import (
    allergen_words,
    decimals,
    listed,
    money,
    plural,
    short,
)

if TYPE_CHECKING:
    from optimiser.studies.made import Made
    from optimiser.studies.variants import Different, Variant, Variants

__all__ = [
    "COLUMNS",
    "different_in_words",
    "formulas_csv",
    "variants_csv",
    "variants_data",
    "variants_report",
]

COLUMNS = (
    "cost_per_kg", "ingredient", "name", "category", "percent", "grams",
)  # fmt: skip
AIMS = {
    "change": "least change from the base",
    "kind change": "least change by kind",
    "category change": "least change by category",
    "count": "fewest ingredients",
    "bought": "least to buy",
}


def variants_report(found: Variants, columns: int | None = None) -> str:
    """Return the report on variants as text."""
    wide = columns or width()
    formulas = [each.formula for each in found.variants]
    top = about(found.about)
    lines = top_lines(f"{found.about.title}: variants", top, wide)
    lines += paragraph(_asked(found), wide)
    if found.aims_let_go:
        aims = listed(AIMS.get(each, each) for each in found.aims_let_go)
        lines += paragraph(
            f"Variants are looked for by cost; the aims of the scenario ({aims}) are"
            " not held. A [closeness] rule keeps them near the base.",
            wide,
        )
    lines += section("Formulas side by side", formulas_table(formulas, wide))
    lines += section(
        "What each is like", facts_table(formulas, found.about.currency, wide)
    )
    lines += section("What makes them different", _differences(found, wide))
    lines += section("How far apart, in points", _apart(found, wide))
    lines += section("Allergens present or to ask about", allergen_rows(formulas, wide))
    proof = (
        "Each formula was proved: every rule recomputed, and nothing cheaper is as"
        " different from those before it. Distances are recomputed from the amounts."
    )
    lines += closing(found.told, proof, wide)
    return "\n".join(lines) + "\n"


def _asked(found: Variants) -> str:
    how = different_in_words(found.different)
    count = len(found.variants)
    within = f"within {short(found.within_percent)} % of the least cost"
    text = f"{plural(count, 'formula')} {within}, each {how} from those before it"
    if not found.complete:
        return text + "."
    text += f" ({found.asked} were asked for). No more exist"
    if found.next_dearer_percent is None:
        return text + ": no other formula that keeps every rule is as different."
    dearer = decimals(found.next_dearer_percent, 1)
    return text + f": the next one as different costs {dearer} % more than the least."


def different_in_words(different: Different) -> str:
    """Return what counts as clearly different, as words.

    >>> from optimiser.studies.variants import Different
    >>> different_in_words(Different(10.0, 4.0))
    'at least 10 points by ingredient and 4 by category'
    """
    parts = []
    if different.points > 0:
        parts.append(f"{short(different.points)} points by ingredient")
    if different.points_by_category > 0:
        unit = "" if parts else " points"
        parts.append(f"{short(different.points_by_category)}{unit} by category")
    text = f"at least {listed(parts)}" if parts else ""
    if different.other_set:
        text += (" and " if parts else "") + "another set of ingredients"
    return text


def _differences(found: Variants, columns: int) -> list[str]:
    lines: list[str] = []
    for number, each in enumerate(found.variants, start=1):
        cost = each.formula.cost_per_kg
        price = "" if cost is None else f" {money(cost)} {found.about.currency}/kg"
        lines += item(f"variant {number}:{price}{_unlike(number, each)}.", columns)
    return lines


def _unlike(number: int, each: Variant) -> str:
    if number == 1:
        return ", the one the others are held against"
    text = f", {decimals(each.dearer_percent, 1)} % over the least"
    if each.came_in:
        text += f"; in: {listed(each.came_in, 5)}"
    if each.left:
        text += f"; out: {listed(each.left, 5)}"
    moves = [f"{name} {signed(by)}" for name, by in each.moved if abs(by) >= 1.0]
    if moves:
        text += f"; moved: {listed(moves, 4)}"
    return text


def _apart(found: Variants, columns: int) -> list[str]:
    heads = [each.formula.title for each in found.variants]
    lines: list[str] = []
    if len(heads) < 2:
        return lines
    for by, matrix in (
        ("by ingredient", found.apart),
        ("by category", found.apart_by_category),
    ):
        shown = [Column(by, heads, number=False, least=13)]
        for number, head in enumerate(heads):
            cells = [points(row[number]) for row in matrix]
            cells[number] = "-"
            shown.append(Column(head, cells))
        lines += [*([""] if lines else []), *table(shown, columns)]
    return lines


def allergen_rows(formulas: Sequence[Made], columns: int) -> list[str]:
    """Return which formula holds which allergen, and from what."""
    rows: dict[tuple[str, str], list[str]] = {}
    for each in formulas:
        for found in each.allergens:
            rows.setdefault(found, []).append(each.title)
    lines: list[str] = []
    for (allergen, name), titles in sorted(rows.items()):
        who = "all" if len(titles) == len(formulas) else listed(titles)
        lines += item(f"{allergen}: {allergen_words(name)} - in {who}", columns)
    return lines or item("None that an authority lists.", columns)


def variants_data(found: Variants) -> dict[str, Any]:
    """Return variants as data."""
    return {
        "status": "answered",
        **about_data(found.about),
        "asked": found.asked,
        "within_percent": found.within_percent,
        "different": found.different,
        "variants": [
            {
                **made_data(each.formula),
                "dearer_percent": each.dearer_percent,
                "came_in": each.came_in,
                "left": each.left,
                "moved": [{"name": name, "points": by} for name, by in each.moved],
            }
            for each in found.variants
        ],
        "apart": {
            "by_ingredient": found.apart,
            "by_category": found.apart_by_category,
        },
        "no_more_exist": found.complete,
        "next_dearer_percent": found.next_dearer_percent,
        "aims_let_go": found.aims_let_go,
        **told_data(found.told),
    }


def variants_csv(found: Variants) -> str:
    """Return variants as CSV: one row a variant and ingredient."""
    return formulas_csv([each.formula for each in found.variants], "variant")


def formulas_csv(formulas: Sequence[Made], head: str) -> str:
    """Return formulas as one long table, an ingredient of a formula a row."""
    rows = [
        (each.title, each.cost_per_kg, line.ingredient, line.name, line.category,
         line.percent, line.grams)
        for each in formulas
        for line in each.formula
        if line.percent > 0
    ]  # fmt: skip
    return as_csv((head, *COLUMNS), rows)
