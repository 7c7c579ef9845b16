"""A surveyed recipe as a formula of catalogue ingredients, fit to be checked."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.studies.survey.summaries import members
from optimiser.studies.survey.usage import seen_ingredients
from optimiser.studies.survey.values import Recipe, RecipeLine

__all__ = ["AsFormula", "as_formulas"]


class AsFormula(Struct, frozen=True):
    """Percent by ingredient key, summing to 100, and what stands in for what.

    ``missing`` is the share that nothing stands for; the rest was scaled up for it.
    """

    recipe: str
    percents: dict[str, float]
    notes: dict[str, str]
    missing: float


def as_formulas(
    recipes: Sequence[Recipe], catalogue: Catalogue, rather: Sequence[str] = ()
) -> tuple[AsFormula, ...]:
    """Return every recipe as a formula.

    A choice is taken as its first ingredient, a mixture as equal shares, and a bare
    category as the ingredient of it that most of the recipes name, if one of them names
    any that is no allergen; the notes say so. What is left is missing. Ingredients of
    ``rather``, the first first, are taken before all others.
    """
    counts = seen_ingredients(recipes)
    usual: dict[str, str] = {}
    listed = {
        key
        for rows in catalogue.allergens.values()
        for key, status in rows.items()
        if any(status.listed.values())
    }
    for key in counts:
        each = catalogue.ingredients[key]
        if key in listed:
            continue
        for category in (each.category, "butters"):
            if each.category in members(category):
                first = usual.setdefault(category, key)
                if counts[key] > counts[first]:
                    usual[category] = key
    for key in reversed(rather):
        category = catalogue.ingredients[key].category
        usual |= {c: key for c in (category, "butters") if category in members(c)}
    return tuple(_formula(each, usual, rather) for each in recipes)


def _formula(recipe: Recipe, usual: dict[str, str], rather: Sequence[str]) -> AsFormula:
    percents: dict[str, float] = {}
    notes: dict[str, str] = {}
    missing = 0.0
    for line in recipe.lines:
        if line.percent is None:
            continue
        keys, note = _keys(line, usual, rather)
        if not keys:
            missing += line.percent.value
        for key in keys:
            share = line.percent.value / len(keys)
            percents[key] = percents.get(key, 0.0) + share
            if note:
                notes[key] = f"{notes[key]}; {note}" if key in notes else note
    whole = sum(percents.values())
    scaled = {key: 100.0 * share / whole for key, share in percents.items() if whole}
    return AsFormula(recipe.name, scaled, notes, missing)


def _keys(
    line: RecipeLine, usual: dict[str, str], rather: Sequence[str]
) -> tuple[tuple[str, ...], str]:
    """Return the ingredients that a line is taken as, and what is to be said of it."""
    options, name = line.match.options, line.written.name
    if len(options) == 1:
        return options, ""
    if options and line.match.mixed:
        return options, f"equal shares of '{name}'"
    if options:
        mine = [key for key in options if key in rather]
        return tuple(mine[:1]) or options[:1], f"the first of '{name}'"
    stand_in = usual.get(line.category or "")
    if stand_in is None:
        return (), ""
    return (stand_in,), f"stands in for '{name}'"
