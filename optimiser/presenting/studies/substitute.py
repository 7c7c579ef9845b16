"""A substitute as text, JSON and CSV: the base and what takes its place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optimiser.presenting import facts_text, formula_text
from optimiser.presenting.layout import Column, item, numbered, paragraph, table, width
from optimiser.presenting.notes import notes as answer_notes
from optimiser.presenting.report import section, top_lines
from optimiser.presenting.rules_text import origin, sentence
from optimiser.presenting.studies.common import (
    about,
    about_data,
    as_csv,
    facts_table,
    made_data,
    points,
    signed,
)
from optimiser.presenting.words import cents, listed, money, short

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optimiser.explaining.answer import RuleLine
    from optimiser.studies.substitute import Move, Substitution

__all__ = ["substitute_csv", "substitute_data", "substitute_report"]

HEADER = ("ingredient", "name", "category", "base_percent", "percent", "move")


def substitute_report(found: Substitution, columns: int | None = None) -> str:
    """Return the report on a substitute as text."""
    wide = columns or width()
    answer = found.answer
    title = f"{found.about.title}: without {listed(found.out)}"
    top = about(found.about)
    lines = top_lines(title, top, wide)
    lines += paragraph(
        f"The closest formula is {points(found.apart)} points from {found.base_from}, "
        f"{points(found.apart_by_category)} by category.",
        wide,
    )
    lines += section("Formula next to the base", _formula(found, wide))
    lines += section("What moved where", _moved(found, wide))
    lines += section("Why", _why(found, wide))
    lines += section("Side by side", _facts(found, wide))
    lines += section("Label order", _labels(found, wide))
    lines += section("Runners-up", _runners_up(found, wide))
    lines += section(
        "Allergens present or to ask about",
        facts_text.allergen_lines(answer.allergens, wide),
    )
    said = answer_notes(answer.basis, [("", answer.properties)])
    notes = [line for note in said for line in item(note, wide)]
    lines += section("Notes", notes)
    lines += section("Cautions", numbered(answer.cautions, wide))
    rules = [line.rule for line in answer.rules]
    checked = facts_text.checked_lines(rules, {}, wide)
    aim = answer.aims[0][0] if answer.aims else None
    checked += item(
        facts_text.proof_line(answer.proof, aim, held=found.formula.held), wide
    )
    lines += section("What was checked", checked)
    return "\n".join(lines) + "\n"


def _formula(found: Substitution, columns: int) -> list[str]:
    return formula_text.formula_lines(
        found.formula.formula, found.about.currency, columns
    )


def _moved(found: Substitution, columns: int) -> list[str]:
    text = f"By ingredient: {_flow(found.moves)}."
    lines = item(text, columns)
    if found.category_moves:
        text = f"By category: {_flow(found.category_moves)}."
    else:
        text = "By category: nothing; every category keeps its share."
    return lines + item(text, columns)


def _flow(moves: Sequence[Move]) -> str:
    """Return what was lost and what gained it, in points.

    >>> from optimiser.studies.substitute import Move
    >>> _flow([Move("almond oil", "liquid oil", -5.0), Move("shea", "x", 5.0)])
    '5.0 points of almond oil went to shea'
    """
    lost = [move for move in moves if move.points < 0]
    gained = [move for move in moves if move.points > 0]
    if not lost:
        return "nothing moved"
    left = listed(f"{points(-move.points)} points of {move.what}" for move in lost)
    if len(gained) == 1:
        return f"{left} went to {gained[0].what}"
    shares = listed(f"{move.what} ({signed(move.points)})" for move in gained)
    return f"{left} went to {shares}"


def _why(found: Substitution, columns: int) -> list[str]:
    lines = item(f"{listed(found.out)}: asked to be out.", columns)
    for rule in found.given_up:
        lines += item(f"'{rule}' went with it, for it could not be kept.", columns)
    for line in found.held:
        lines += item(f"{sentence(line.rule)}: {_without(line, found)}.", columns)
        lines += paragraph(origin(line.rule), columns, "      ", "        ")
    if found.moves and not any(_aim(line) != "cost" for line in found.held):
        lines += item(
            "No rule makes the change larger than what had to go; among formulas as"
            " close, the cheapest is taken.",
            columns,
        )
    for note in found.notes:
        lines += item(f"{note[:1].upper()}{note[1:]}.", columns)
    return lines


def _aim(line: RuleLine) -> str:
    return "" if line.ease is None else line.ease.of


def _without(line: RuleLine, found: Substitution) -> str:
    """Return what more room in a rule would do."""
    gain = 0.0 if line.ease is None else -line.ease.price
    unit = {"points": "point", "": "unit"}.get(line.rule.unit, line.rule.unit)
    if _aim(line) == "cost":
        better = f"{money(gain)} {found.about.currency}/kg cheaper"
    else:
        by = "category" if _aim(line) == "category change" else "ingredient"
        better = f"{short(gain, 3)} points closer by {by}"
    return f"with more room it would be {better} for each {unit}"


def _facts(found: Substitution, columns: int) -> list[str]:
    formulas = [found.base, found.formula]
    lines = facts_table(formulas, found.about.currency, columns)
    was, now = found.base.cost_per_kg, found.formula.cost_per_kg
    if was is None or now is None:
        return lines
    text = "Materials cost the same as the base."
    by = (cents(now) - cents(was)) / 100
    if by:
        text = (
            f"Materials cost {money(abs(by))} {found.about.currency} per kg "
            f"{'more' if by > 0 else 'less'} than the base, "
            f"{money(abs(by) * found.about.batch_kg)} for the batch."
        )
    return lines + item(text, columns)


def _labels(found: Substitution, columns: int) -> list[str]:
    was, now = found.base.label_order, found.formula.label_order
    lines = item(f"base: {', '.join(was)}", columns)
    lines += item(f"now: {', '.join(now)}", columns)
    both = [name for name in was if name in now]
    kept = both == [name for name in now if name in was]
    told = "keep their order" if kept else "change their order"
    return lines + item(f"The ingredients that stay {told}.", columns)


def _runners_up(found: Substitution, columns: int) -> list[str]:
    if not found.runners_up:
        return item("None: without these nothing keeps every rule.", columns)
    rows = found.runners_up
    firm = [_firmness(row.formula.properties) for row in rows]
    shown = [
        Column("comes in", [listed(row.names, 4) for row in rows], False, 16),
        Column("points", [points(row.apart) for row in rows]),
        Column("by category", [points(row.apart_by_category) for row in rows]),
        Column(
            f"{found.about.currency}/kg",
            [_cost(row.formula.cost_per_kg) for row in rows],
        ),
    ]
    if all(firm):
        shown.append(Column("firmness", firm))
    said = "Each is the closest when the ones before it are out too."
    return [*table(shown, columns), *item(said, columns)]


def _firmness(lines: Sequence[Any]) -> str:
    for line in lines:
        if line.property == "firmness" and line.value is not None:
            return short(line.value, 3)
    return ""


def _cost(cost: float | None) -> str:
    return "not known" if cost is None else money(cost)


def substitute_data(found: Substitution) -> dict[str, Any]:
    """Return a substitute as data."""
    return {
        "status": "answered",
        **about_data(found.about),
        "without": found.out,
        "base_from": found.base_from,
        "base": made_data(found.base),
        "formula": made_data(found.formula),
        "change": {
            "by_ingredient": found.apart,
            "by_category": found.apart_by_category,
        },
        "moves": found.moves,
        "category_moves": found.category_moves,
        "came_in": found.came_in,
        "given_up": found.given_up,
        "held_by": [line.rule.id for line in found.held],
        "runners_up": [
            {
                "came_in": row.names,
                "by_ingredient": row.apart,
                "by_category": row.apart_by_category,
                "formula": made_data(row.formula),
            }
            for row in found.runners_up
        ],
        "notes": [
            *found.notes,
            *answer_notes(found.answer.basis, [("", found.answer.properties)]),
        ],
        "cautions": found.answer.cautions,
    }


def substitute_csv(found: Substitution) -> str:
    """Return the base and the formula without it as CSV, one ingredient a row."""
    rows = [
        (
            line.ingredient,
            line.name,
            line.category,
            line.base_percent,
            line.percent,
            line.percent - (line.base_percent or 0.0),
        )
        for line in found.formula.formula
    ]
    return as_csv(HEADER, rows)
