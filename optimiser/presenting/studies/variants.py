"""The page on variants: what each costs and where they differ."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from optimiser.presenting.following import following
from optimiser.presenting.page import (
    Block,
    Number,
    Page,
    Paragraph,
    Section,
    Table,
    TableColumn,
    numbers,
    section,
    words,
)
from optimiser.presenting.studies.blocks import (
    allergen_items,
    closing,
    facts_blocks,
    formulas_blocks,
    formulas_table,
    law_first,
    money_column,
)
from optimiser.presenting.studies.words import about
from optimiser.presenting.words import decimals, listed, plural, short

if TYPE_CHECKING:
    from optimiser.studies.variants import Different, Variant, Variants

__all__ = ["different_in_words", "variants_page"]

AIMS = {
    "change": "least change from the base",
    "kind change": "least change by kind",
    "category change": "least change by category",
    "count": "fewest ingredients",
    "bought": "least to buy",
}
PROOF = (
    "Each formula was proved: every rule recomputed, and nothing {better} is as"
    " different from those before it. Distances are recomputed from the amounts."
)

NO_PRICE = (
    "Not all have a price, so these are not by cost: each is the nearest to your base"
    " that is so different."
)

KEPT = (
    "Of each formula every rule was recomputed. Distances are recomputed from the"
    " amounts."
)


def variants_page(found: Variants, *, full: bool = False) -> Page:
    """Return the page on variants."""
    formulas = [each.formula for each in found.variants]
    first: list[Block] = [Paragraph(_asked(found))]
    first += [Paragraph(text) for text in _cut_short(found)]
    if found.by != "cost":
        first.append(Paragraph(NO_PRICE))
    if found.aims_let_go:
        aims = listed(AIMS.get(each, each) for each in found.aims_let_go)
        told = (
            f"Variants are looked for by cost; the aims of the scenario ({aims}) are"
            " not held. A [closeness] rule keeps them near the base."
        )
        first.append(Paragraph(told))
    sections = [Section("", (*first, _each(found)))]
    if full:
        sections.append(Section("Formulas side by side", (formulas_table(formulas),)))
        facts = facts_blocks(formulas, found.about.currency)
        sections += section("What each is like", facts)
        sections += section("How far apart, % of the formula", _apart(found))
        allergens = allergen_items(formulas)
        sections += section("Allergens present or to ask about", allergens)
    else:
        sections += section("Where they differ", formulas_blocks(formulas))
        allergens = allergen_items(formulas, among=True)
        sections += section("Allergens to mind", allergens)
    rest = ("what each is like", "how far apart they are", "all allergens")
    cut = any(each.formula.cheaper_percent > 0 for each in found.variants)
    proof = PROOF.format(better="cheaper" if found.by == "cost" else "nearer")
    sections += closing(found.told, KEPT if cut else proof, full=full, rest=rest)
    if not full:
        command = "variants" if found.by == "cost" else "variants near"
        sections += following(command, found.about.file)
    title = f"{found.about.title}: variants"
    basis = found.told.basis
    return Page(title, about(found.about, basis), law_first(basis, sections))


def _asked(found: Variants) -> str:
    how = different_in_words(found.different)
    count = len(found.variants)
    within = ""
    if found.by == "cost":
        within = f" within {short(found.within_percent)} % of the least cost"
    text = f"{plural(count, 'formula')}{within}, each {how} from those before it"
    if doses := sorted(found.different.lines.values()):
        least, most = short(doses[0]), short(doses[-1])
        text += f", each main ingredient at {least} % or more"
        if most != least:
            text += f" ({most} % for butters, oils and the like)"
        text += ", or none of it"
    if not found.complete:
        return text + "."
    text += f" ({found.asked} were asked for). No more exist"
    if found.by != "cost":
        return f"{text}."
    if found.next_dearer_percent is None:
        return text + ": no other formula that keeps every rule is as different."
    dearer = decimals(found.next_dearer_percent, 1)
    return text + f": the next one as different costs {dearer} % more than the least."


def _cut_short(found: Variants) -> Iterator[str]:
    """Return what the time was not enough for."""
    if found.cut_short:
        asked, count = found.asked, len(found.variants)
        if found.stopped:
            yield f"{asked} were asked for, and {count} found before it was stopped."
        else:
            yield (
                f"{asked} were asked for, and {count} found in the time; others were"
                " not looked for to the end. --thorough does."
            )
    unproved = [each for each in found.variants if each.formula.cheaper_percent > 0]
    if not unproved:
        return
    names = listed(each.formula.title for each in unproved)
    better = "nearer"  # by how much of nearly nothing says nothing
    if found.by == "cost":
        widest = max(each.formula.cheaper_percent for each in unproved)
        better = f"up to {decimals(widest, 1)} % cheaper"
    yield (
        f"Searches were cut short for {names}: one as different may be {better}."
        " --thorough searches to the end."
    )


def different_in_words(different: Different) -> str:
    """Return what counts as clearly different, as words.

    >>> from optimiser.studies.variants import Different
    >>> different_in_words(Different(10.0, 4.0))
    'at least 10 % different (by category 4 %)'
    """
    by_category = f"{short(different.points_by_category)} %"
    parts = []
    if different.points > 0:
        told = f"at least {short(different.points)} % different"
        if different.points_by_category > 0:
            told += f" (by category {by_category})"
        parts.append(told)
    elif different.points_by_category > 0:
        parts.append(f"at least {by_category} different by category")
    if different.points_by_kind > 0:
        by_kind = short(different.points_by_kind)
        parts.append(f"at least {by_kind} % by kind (like for like is no difference)")
    if different.other_set:
        parts.append("of another set of ingredients")
    return " and ".join(parts)


def _each(found: Variants) -> Table:
    """Return a line a variant: its cost, and what sets it off from the first."""
    rows = found.variants
    firmness = [_firmness(each) for each in rows]
    columns = [words("", [each.formula.title for each in rows], 9)]
    if found.by == "cost":
        costs = [each.formula.cost_per_kg for each in rows]
        over = [each.dearer_percent for each in rows]
        columns.append(money_column(f"{found.about.currency}/kg", costs, "not known"))
        columns.append(numbers("% over", over, _over, "-"))
    else:
        changes = [each.formula.change for each in rows]
        moved = [None if each is None else each.by_ingredient for each in changes]
        columns.append(numbers("% from base", moved, _over, "-"))
    if any(value is not None for value in firmness):
        columns.append(numbers("firmness", firmness, lambda x: decimals(x, 0), "-"))
    sets_off = ["held against"] + [_unlike(each) for each in rows[1:]]
    columns.append(words("beside the first", sets_off, 22))
    return Table(tuple(columns))


def _over(percent: float) -> str:
    return decimals(percent, 1)


def _firmness(each: Variant) -> float | None:
    for line in each.formula.properties:
        if line.property == "firmness":
            return line.value
    return None


def _unlike(each: Variant) -> str:
    parts = []
    if each.came_in:
        parts.append(f"in: {listed(each.came_in, 3)}")
    if each.left:
        parts.append(f"out: {listed(each.left, 3)}")
    if not parts:
        moves = [f"{name} {by:+.1f} %" for name, by in each.moved if abs(by) >= 1.0]
        parts.append(listed(moves, 3))
    return "; ".join(parts)


def _apart(found: Variants) -> list[Block]:
    heads = [each.formula.title for each in found.variants]
    blocks: list[Block] = []
    if len(heads) < 2:
        return blocks
    for by, matrix in (
        ("by ingredient", found.apart),
        ("by category", found.apart_by_category),
    ):
        columns = [words(by, heads, 13)]
        for number, head in enumerate(heads):
            cells = [Number(row[number], decimals(row[number], 1)) for row in matrix]
            cells[number] = Number(0.0, "-")
            columns.append(TableColumn(head, tuple(cells)))
        blocks.append(Table(tuple(columns)))
    return blocks
