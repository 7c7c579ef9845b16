"""The report on a formula: what was asked, what came out, and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting import facts_text, formula_text, opinion_text, rules_text
from optimiser.presenting.layout import heading, item, numbered, paragraph, width
from optimiser.presenting.words import clean, listed, money, short

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Source
    from optimiser.explaining.answer import Answer

__all__ = ["aims_in_words", "report", "section", "top_lines"]

AIM_WORDS = {
    "cost": "least cost",
    "change": "least change from the base",
    "category change": "least change by category",
    "count": "fewest ingredients",
    "bought": "least to buy",
}


def section(title: str, lines: Sequence[str]) -> list[str]:
    """Return a section with its heading; nothing if it has no lines."""
    return [*heading(title), *lines] if lines else []


def top_lines(title: str, parts: Sequence[str], columns: int) -> list[str]:
    """Return the title and, below it, what the report is about."""
    return [*paragraph(title, columns), *paragraph("; ".join(parts), columns)]


def aims_in_words(aims: Sequence[tuple[str, float, str]]) -> str:
    """Return the aims in their order, each with what was reached.

    >>> aims_in_words([("change", 2.5, "points"), ("cost", 9.871, "EUR/kg")])
    'least change from the base (2.5 points), then least cost (9.87 EUR/kg)'
    """
    parts = []
    for name, value, unit in aims:
        reached = money(value) if name == "cost" else short(value)
        parts.append(f"{AIM_WORDS.get(name, clean(name))} ({reached} {clean(unit)})")
    return ", then ".join(parts)


def _about(answer: Answer) -> list[str]:
    sold = f"sold in {listed(answer.markets)}" if answer.markets else "no market named"
    return [answer.file, answer.use, sold, f"batch {short(answer.batch_kg)} kg"]


def report(
    answer: Answer,
    columns: int | None = None,
    sources: Mapping[str, Source] | None = None,
) -> str:
    """Return the report on an answer as text.

    Parameters
    ----------
    answer : Answer
        What came of formulating.
    columns : int, optional
        Width to fit; by default the terminal's, at most 120.
    sources : mapping of key to Source, optional
        Where rules were read; with it editions of law are told in full.
    """
    wide = columns or width()
    lines = top_lines(answer.title, _about(answer), wide)
    lines += paragraph(f"Aim: {aims_in_words(answer.aims)}.", wide)
    lines += section("Formula", _formula(answer, wide))
    lines += section("What holds the formula where it is", _held(answer, wide))
    lines += section("Nearly holding", rules_text.near_lines(answer.rules, wide))
    lines += section("With room to spare", _free(answer, wide))
    lines += section("Not used", _unused(answer, wide))
    if answer.tie is not None:
        told = item(facts_text.tie_line(answer.tie, answer.currency), wide)
        lines += section("Just as good", told)
    lines += section("Properties", facts_text.property_lines(answer.properties, wide))
    said = opinion_text.opinion_lines(answer.second_opinion, answer.aims, wide)
    lines += section("Second opinion", said)
    lines += section(
        "Allergens present or to ask about",
        facts_text.allergen_lines(answer.allergens, wide),
    )
    lines += section(
        "Names a label must carry", facts_text.label_lines(answer.label_names, wide)
    )
    lines += section("Left out", facts_text.left_out_lines(answer.left_out, wide))
    lines += section("Notes", [t for note in answer.notes for t in item(note, wide)])
    lines += section("Cautions", numbered(answer.cautions, wide))
    lines += section("What was checked", _checked(answer, wide, sources or {}))
    return "\n".join(lines) + "\n"


def _formula(answer: Answer, columns: int) -> list[str]:
    lines = formula_text.formula_lines(answer.formula, answer.currency, columns)
    lines += formula_text.cost_lines(
        answer.cost_per_kg,
        answer.base_cost_per_kg,
        answer.formula,
        answer.currency,
        answer.batch_kg,
        columns,
    )
    return lines + formula_text.change_lines(answer.change, answer.formula, columns)


def _held(answer: Answer, columns: int) -> list[str]:
    aims = [name for name, _, _ in answer.aims]
    return rules_text.binding_lines(
        answer.rules, aims, answer.currency, answer.choices_kept, columns
    )


def _free(answer: Answer, columns: int) -> list[str]:
    sure = len(answer.aims) == 1 and not answer.choices_kept
    return rules_text.free_lines(answer.rules, sure, columns)


def _unused(answer: Answer, columns: int) -> list[str]:
    return facts_text.unused_lines(answer.unused, answer.currency, columns)


def _checked(answer: Answer, columns: int, sources: Mapping[str, Source]) -> list[str]:
    rules = [line.rule for line in answer.rules]
    lines = facts_text.checked_lines(rules, sources, columns)
    aim = answer.aims[0][0] if answer.aims else None
    return lines + item(facts_text.proof_line(answer.proof, aim), columns)
