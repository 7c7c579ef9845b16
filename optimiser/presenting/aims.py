"""The aims in words: what each came to, and what room later ones used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.page import Item
from optimiser.presenting.words import clean, money, short, tidy

if TYPE_CHECKING:
    from optimiser.explaining.answer import Answer, Change, FormulaLine

__all__ = ["aims_in_words", "reached", "used_up"]

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


def used_up(answer: Answer, here: Mapping[str, float]) -> Iterator[Item]:
    """Yield the aims whose room was wholly used by those after them."""
    for name, least, unit in answer.aims[:-1]:
        more, now = answer.room.get(name, 0.0), here.get(name, least)
        if more > 0 and _over(now, least) and not _over(least + more, now):
            allowed = _amount(name, more, unit)
            told = (
                f"{MEASURES[name]} at most {allowed} over the least: all of it is used"
            )
            yield Item(told, (f"from aim.slack.{name}",))
