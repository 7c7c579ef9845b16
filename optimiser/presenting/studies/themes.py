"""Themes as text, JSON and CSV: which is possible, what it costs, which go together."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optimiser.presenting.layout import Column, item, paragraph, table, width
from optimiser.presenting.report import section, top_lines
from optimiser.presenting.studies.common import (
    about,
    about_data,
    closing,
    facts_table,
    formulas_table,
    made_data,
    points,
    told_data,
)
from optimiser.presenting.studies.variants import allergen_rows, formulas_csv
from optimiser.presenting.words import cents, listed, money
from optimiser.studies.made import distance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optimiser.studies.made import Made
    from optimiser.studies.themes import ThemeAnswer, Themes

__all__ = ["themes_csv", "themes_data", "themes_report"]

SIDE_BY_SIDE = 4


def themes_report(found: Themes, columns: int | None = None) -> str:
    """Return the report on themes as text."""
    wide = columns or width()
    top = about(found.about)
    lines = top_lines(f"{found.about.title}: themes", top, wide)
    formulas = _formulas(found)
    possible = [each for each in found.alone if each.formula is not None]
    lines += paragraph(
        f"{len(possible)} of {len(found.alone)} themes are possible.", wide
    )
    lines += section("Each theme", _each(found, wide))
    lines += section("Two themes together", _pairs(found, wide))
    lines += section("Not possible", _why(found, wide))
    for start in range(0, len(formulas), SIDE_BY_SIDE):
        some = formulas[start : start + SIDE_BY_SIDE]
        head = "Formulas side by side" + (", continued" if start else "")
        lines += section(
            head,
            [
                *formulas_table(some, wide, formulas),
                "",
                *facts_table(some, found.about.currency, wide),
            ],
        )
    lines += section("Allergens present or to ask about", allergen_rows(formulas, wide))
    proof = "Each was proved: every rule recomputed, and none serves its aim better."
    lines += closing(found.told, proof, wide)
    return "\n".join(lines) + "\n"


def _formulas(found: Themes) -> list[Made]:
    answers = (found.plain, *found.alone)
    return [each.formula for each in answers if each.formula is not None]


def _cost(each: ThemeAnswer) -> float | None:
    return None if each.formula is None else each.formula.cost_per_kg


def _each(found: Themes, columns: int) -> list[str]:
    rows = (found.plain, *found.alone)
    plain = found.plain.formula
    shown = [
        Column("", [_name(each) for each in rows], number=False, least=12),
        Column(f"{found.about.currency}/kg", [_money(_cost(each)) for each in rows]),
        Column("against plain", [_more(each, found) for each in rows]),
        Column("points from plain", [_apart(each.formula, plain) for each in rows]),
    ]
    return table(shown, columns)


def _name(each: ThemeAnswer) -> str:
    return " + ".join(each.names) or "plain"


def _money(cost: float | None) -> str:
    return "not possible" if cost is None else money(cost)


def _more(each: ThemeAnswer, found: Themes) -> str:
    """Return what a theme costs beside the plain scenario, from the figures shown."""
    cost, plain = _cost(each), _cost(found.plain)
    if cost is None or plain is None or not each.names:
        return ""
    return f"{(cents(cost) - cents(plain)) / 100:+z.2f}"


def _apart(formula: Made | None, plain: Made | None) -> str:
    if formula is None or plain is None or formula is plain:
        return ""
    return points(distance(formula.amounts, plain.amounts))


def _pairs(found: Themes, columns: int) -> list[str]:
    """Return the matrix: what two themes cost together, alone on the diagonal."""
    if not found.pairs:
        return []
    names = [_name(each) for each in found.alone]
    shown = [Column(f"{found.about.currency}/kg", names, number=False, least=12)]
    for column, name in enumerate(names):
        cells = []
        for row in range(len(names)):
            place = (min(row, column), max(row, column))
            each = found.alone[row] if row == column else found.pairs[place]
            cost = _cost(each)
            cells.append("no" if cost is None else money(cost))
        shown.append(Column(name, cells))
    said = "Where a row meets a column both are kept; a theme alone is on the diagonal."
    return [*table(shown, columns), *item(said, columns)]


def _why(found: Themes, columns: int) -> list[str]:
    lines: list[str] = []
    alone = {each.names[0] for each in found.alone if each.formula is None}
    for each in (found.plain, *found.alone, *found.pairs.values()):
        if each.formula is not None or (len(each.names) == 2 and alone & {*each.names}):
            continue
        why = listed([f"'{sentence}'" for sentence in each.why], 5)
        lines += item(f"{_name(each)}: these cannot all hold: {why}.", columns)
    return lines


def themes_data(found: Themes) -> dict[str, Any]:
    """Return themes as data."""
    return {
        "status": "answered",
        **about_data(found.about),
        "plain": _data(found.plain),
        "themes": [_data(each) for each in found.alone],
        "pairs": [_data(each) for each in found.pairs.values()],
        **told_data(found.told),
    }


def _data(each: ThemeAnswer) -> dict[str, Any]:
    return {
        "themes": each.names,
        "possible": each.formula is not None,
        "why_not": each.why,
        "formula": None if each.formula is None else made_data(each.formula),
    }


def themes_csv(found: Themes) -> str:
    """Return every possible formula, pairs too: one row a theme and ingredient."""
    answers: Sequence[ThemeAnswer] = (*found.alone, *found.pairs.values())
    formulas = [each.formula for each in answers if each.formula is not None]
    plain = [] if found.plain.formula is None else [found.plain.formula]
    return formulas_csv([*plain, *formulas], "theme")
