"""The page on themes: which is possible, what it costs, which go together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimiser.presenting.following import following
from optimiser.presenting.page import (
    Block,
    Item,
    Number,
    Page,
    Paragraph,
    Section,
    Table,
    TableColumn,
    items,
    section,
    words,
)
from optimiser.presenting.studies.blocks import (
    allergen_items,
    closing,
    facts_blocks,
    formulas_table,
    law_first,
    money_column,
)
from optimiser.presenting.studies.words import about
from optimiser.presenting.words import cents, decimals, listed, money
from optimiser.studies.made import distance

if TYPE_CHECKING:
    from optimiser.studies.made import Made
    from optimiser.studies.themes import ThemeAnswer, Themes

__all__ = ["themes_page"]

SIDE_BY_SIDE = 4
PROOF = "Each was proved: every rule recomputed, and none serves its aim better."


def themes_page(found: Themes, *, full: bool = False) -> Page:
    """Return the page on themes."""
    formulas = _formulas(found)
    possible = [each for each in found.alone if each.formula is not None]
    told = f"{len(possible)} of {len(found.alone)} themes are possible."
    sections = [Section("", (Paragraph(told), _each(found)))]
    sections += section("Two themes together", _pairs(found))
    sections += section("Not possible", _why(found))
    if full:
        for start in range(0, len(formulas), SIDE_BY_SIDE):
            some = formulas[start : start + SIDE_BY_SIDE]
            head = "Formulas side by side" + (", continued" if start else "")
            sections += section(head, [formulas_table(some, formulas)])
            facts = facts_blocks(some, found.about.currency)
            sections += section("What each is like", facts)
        allergens = allergen_items(formulas)
        sections += section("Allergens present or to ask about", allergens)
    rest = ("the formulas", "what each is like", "allergens")
    sections += closing(found.told, PROOF, full=full, rest=rest)
    if not full:
        sections += following("variants", found.about.file)
    title = f"{found.about.title}: themes"
    basis = found.told.basis
    return Page(title, about(found.about, basis), law_first(basis, sections))


def _formulas(found: Themes) -> list[Made]:
    answers = (found.plain, *found.alone)
    return [each.formula for each in answers if each.formula is not None]


def _cost(each: ThemeAnswer) -> float | None:
    return None if each.formula is None else each.formula.cost_per_kg


def _each(found: Themes) -> Table:
    """Return a line a theme: its cost, and what it changes."""
    rows = (found.plain, *found.alone)
    plain = found.plain.formula
    return Table(
        (
            words("", [_name(each) for each in rows], 10),
            money_column(
                f"{found.about.currency}/kg",
                [_cost(each) for each in rows],
                "not possible",
            ),
            TableColumn("against plain", tuple(_more(each, found) for each in rows)),
            TableColumn("% different", tuple(_apart(e.formula, plain) for e in rows)),
            words("", [_news(each.formula, plain) for each in rows], 18),
        )
    )


def _name(each: ThemeAnswer) -> str:
    return " + ".join(each.names) or "plain"


def _more(each: ThemeAnswer, found: Themes) -> Number:
    """Return what a theme costs beside the plain scenario, from the figures shown."""
    cost, plain = _cost(each), _cost(found.plain)
    if cost is None or plain is None or not each.names:
        return Number(None, "")
    by = (cents(cost) - cents(plain)) / 100
    return Number(by, f"{by:+z.2f}")


def _apart(formula: Made | None, plain: Made | None) -> Number:
    if formula is None or plain is None or formula is plain:
        return Number(None, "")
    by = distance(formula.amounts, plain.amounts)
    return Number(by, decimals(by, 1))


def _news(formula: Made | None, plain: Made | None) -> str:
    """Return which ingredients come and go beside the plain formula."""
    if formula is None or plain is None or formula is plain:
        return ""
    names = {x.ingredient: x.name for made in (plain, formula) for x in made.formula}
    came = [names[key] for key in formula.amounts if key not in plain.amounts]
    left = [names[key] for key in plain.amounts if key not in formula.amounts]
    parts = [f"in: {listed(came, 2)}"] if came else []
    parts += [f"out: {listed(left, 2)}"] if left else []
    return "; ".join(parts)


def _pairs(found: Themes) -> list[Block]:
    """Return the matrix: what two themes cost together, alone on the diagonal."""
    if not found.pairs:
        return []
    names = [_name(each) for each in found.alone]
    columns = [words(f"{found.about.currency}/kg", names)]
    for column, name in enumerate(names):
        cells = []
        for row in range(len(names)):
            place = (min(row, column), max(row, column))
            each = found.alone[row] if row == column else found.pairs[place]
            cost = _cost(each)
            cells.append(Number(cost, "no" if cost is None else money(cost)))
        columns.append(TableColumn(name, tuple(cells)))
    return [Table(tuple(columns)), Item("A theme alone stands where it meets itself.")]


def _why(found: Themes) -> tuple[Item, ...]:
    texts = []
    alone = {each.names[0] for each in found.alone if each.formula is None}
    for each in (found.plain, *found.alone, *found.pairs.values()):
        if each.formula is not None or (len(each.names) == 2 and alone & {*each.names}):
            continue
        if each.lacking:
            texts += [f"{_name(each)}: {problem}" for problem in each.lacking]
            continue
        why = listed([f"'{sentence}'" for sentence in each.why], 5)
        texts.append(f"{_name(each)}: these cannot all hold: {why}.")
    return items(texts)
