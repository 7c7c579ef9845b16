"""The report on a formula: what was asked, what came out, and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting import facts_text, formula_text, opinion_text, rules_text
from optimiser.presenting.layout import heading, item, numbered, paragraph, width
from optimiser.presenting.notes import notes
from optimiser.presenting.words import clean, listed, money, short, tidy

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Source
    from optimiser.explaining.answer import Answer, Change, FormulaLine

__all__ = ["aims_in_words", "reached", "report", "section", "top_lines"]

# What each aim makes small.
MEASURES = {
    "cost": "cost",
    "change": "change from the base",
    "kind change": "change by kind",
    "category change": "change by category",
    "count": "number of ingredients",
    "bought": "what must be bought",
}
AIM_WORDS = {
    "cost": "least cost",
    "change": "least change from the base",
    "kind change": "least change by kind",
    "category change": "least change by category",
    "count": "fewest ingredients",
    "bought": "least to buy",
}
OVER = 1e-4  # an aim this much over its least, of itself, was given room


def section(title: str, lines: Sequence[str]) -> list[str]:
    """Return a section with its heading; nothing if it has no lines."""
    return [*heading(title), *lines] if lines else []


def top_lines(title: str, parts: Sequence[str], columns: int) -> list[str]:
    """Return the title and, below it, what the report is about."""
    return [*paragraph(title, columns), *paragraph("; ".join(parts), columns)]


def aims_in_words(
    aims: Sequence[tuple[str, float, str]],
    here: Mapping[str, float] | None = None,
    room: Mapping[str, float] | None = None,
) -> str:
    """Return the aims in their order, each with what was reached.

    Parameters
    ----------
    aims : sequence of (str, float, str)
        The name of each aim, the least it could be, and its unit.
    here : mapping of str to float, optional
        What the formula has of each, where it may be more: a later aim used it.
    room : mapping of str to float, optional
        How much more was allowed.

    >>> aims_in_words([("change", 2.5, "points"), ("cost", 9.871, "EUR/kg")])
    'least change from the base (2.5 points), then least cost (9.87 EUR/kg)'
    >>> two = [("change", 0.0, "points"), ("cost", 9.5, "EUR/kg")]
    >>> aims_in_words(two, {"change": 1.0}, {"change": 1.0}).split(", then ")[0]
    'change from the base at most 1 point over the least (0 points; here 1)'
    """
    parts = []
    for place, (name, least, unit) in enumerate(aims, start=1):
        now, more = (here or {}).get(name, least), (room or {}).get(name)
        told = f"{_figure(name, least)} {clean(unit)}"
        if place < len(aims) and more != 0.0 and _over(now, least):
            at_most = "" if more is None else f" at most {_amount(name, more, unit)}"
            over = f"{MEASURES[name]}{at_most} over the least"
            parts.append(f"{over} ({told}; here {_figure(name, now)})")
        else:
            parts.append(f"{AIM_WORDS.get(name, clean(name))} ({told})")
    return ", then ".join(parts)


def _over(now: float, least: float) -> bool:
    return now - least > OVER * max(1.0, abs(least))


def _figure(name: str, value: float) -> str:
    return money(value) if name == "cost" else short(tidy(value))


def _amount(name: str, value: float, unit: str) -> str:
    told, of = _figure(name, value), clean(unit)
    return f"{told} {of.removesuffix('s') if told == '1' else of}"


def reached(
    cost_per_kg: float | None,
    change: Change | None,
    formula: Sequence[FormulaLine],
) -> dict[str, float]:
    """Return what a formula has of each aim that can be told from it."""
    here = {"count": float(sum(line.percent > 0 for line in formula))}
    if cost_per_kg is not None:
        here["cost"] = cost_per_kg
    if change is not None:
        here["change"] = change.by_ingredient
        here["kind change"] = change.by_kind
        here["category change"] = change.by_category
    return here


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
    here = reached(answer.cost_per_kg, answer.change, answer.formula)
    aims = aims_in_words(answer.aims, here, answer.room)
    lines = top_lines(answer.title, _about(answer), wide)
    lines += paragraph(f"Aim: {aims}.", wide)
    lines += section("Formula", _formula(answer, wide))
    held = _used_up(answer, here, wide) + _held(answer, wide)
    lines += section("What holds the formula where it is", held)
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
    lines += section("Notes", _notes(answer, wide))
    lines += section("Cautions", numbered(answer.cautions, wide))
    lines += section("What was checked", _checked(answer, wide, sources or {}))
    return "\n".join(lines) + "\n"


def _notes(answer: Answer, columns: int) -> list[str]:
    told = notes(answer.basis, [("", answer.properties)])
    return [line for note in told for line in item(note, columns)]


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


def _used_up(answer: Answer, here: Mapping[str, float], columns: int) -> list[str]:
    """Return the aims whose room was wholly used by those after them."""
    lines: list[str] = []
    for name, least, unit in answer.aims[:-1]:
        more, now = answer.room.get(name, 0.0), here.get(name, least)
        if more > 0 and _over(now, least) and not _over(least + more, now):
            allowed = _amount(name, more, unit)
            told = (
                f"{MEASURES[name]} at most {allowed} over the least: all of it is used"
            )
            lines += item(told, columns)
            lines += paragraph(f"from aim.slack.{name}", columns, "      ", "        ")
    return lines


def _free(answer: Answer, columns: int) -> list[str]:
    sure = len(answer.aims) == 1 and not answer.choices_kept
    return rules_text.free_lines(answer.rules, sure, columns)


def _unused(answer: Answer, columns: int) -> list[str]:
    return facts_text.unused_lines(
        answer.unused, answer.currency, columns, choices_kept=answer.choices_kept
    )


def _checked(answer: Answer, columns: int, sources: Mapping[str, Source]) -> list[str]:
    rules = [line.rule for line in answer.rules]
    lines = facts_text.checked_lines(rules, sources, columns)
    aim = answer.aims[0][0] if answer.aims else None
    said = answer.second_opinion
    held = said is not None and said.outcome == "held"
    return lines + item(facts_text.proof_line(answer.proof, aim, held=held), columns)
