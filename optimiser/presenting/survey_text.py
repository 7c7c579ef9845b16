"""The report on a survey: recipes, how they were read, bands, a base, faults."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.amounts import FINE, as_text, percents, places
from optimiser.presenting.layout import Column, item, paragraph, section, table, width
from optimiser.presenting.survey_reading import (
    MOST,
    assumed_lines,
    lines_without_amount,
    more,
    question_lines,
    recipe_lines,
    some,
    unknown_lines,
)
from optimiser.presenting.survey_words import (
    away_words,
    band_words,
    chosen,
    influence_words,
    names,
    share,
    stand_in_words,
    title,
)
from optimiser.presenting.words import clean, listed, plural, short

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.studies.survey.values import Summary, Survey

__all__ = ["survey_report"]

CAUTION = (
    "Published recipes are no proof of anything: bands say what others do, not what "
    "keeps, holds or suits. Make 100 g and test."
)


def survey_report(
    survey: Survey, catalogue: Catalogue, columns: int | None = None
) -> str:
    """Return the report on a survey as text.

    Parameters
    ----------
    survey : Survey
        What came of surveying.
    catalogue : Catalogue
        For the names of ingredients.
    columns : int, optional
        Width to fit; by default the terminal's, at most 120.
    """
    wide = columns or width()
    lines = paragraph(f"Survey of recipes: {title(survey)}", wide)
    lines += _about(survey, wide)
    lines += section("Recipes", recipe_lines(survey, wide))
    lines += section("To be answered before they count", question_lines(survey, wide))
    lines += section("Read with an assumption", assumed_lines(survey, wide))
    lines += section("Left out of the total", lines_without_amount(survey, wide))
    lines += section("Names not known", unknown_lines(survey, wide))
    lines += section("Structures", _structures(survey, wide))
    lines += section("Categories, percent of the product", _categories(survey, wide))
    lines += section("Proposed bands", _bands(survey, wide))
    lines += section("Ingredients", _ingredients(survey, catalogue, wide))
    lines += section("Proposed base", _base(survey, catalogue, wide))
    lines += section("Faults seen", _faults(survey, wide))
    lines += section("Cautions", item(CAUTION, wide))
    return "\n".join(lines) + "\n"


def _about(survey: Survey, columns: int) -> list[str]:
    total = sum(survey.classes.values())
    used = sum(recipe.used for recipe in survey.recipes)
    count = len(survey.recipes)
    what = f"{plural(count, 'recipe')} of {total}, {used} of them used"
    if not survey.structures:
        ways = plural(len(survey.classes), "class", "classes")
        what = f"{plural(count, 'recipe')} in {ways}, {used} fit to be used"
    parts = [names(survey.files, 4), what]
    use = survey.use + (" (usual for this class)" if survey.use_assumed else "")
    sold = f"sold in {listed(survey.markets)}" if survey.markets else "no market named"
    if survey.structures:
        parts += [use, sold]
    if survey.storage is not None:
        parts.append(f"kept at {short(survey.storage)} °C (zone {clean(survey.zone)})")
    return paragraph("; ".join(parts), columns)


def _structures(survey: Survey, columns: int) -> list[str]:
    if len(survey.structures) < 2:
        return []
    ways = len(survey.structures)
    told = f"These recipes are built in {ways} ways; one band over all would mislead:"
    lines = item(told, columns)
    for each in survey.structures:
        wax = next((s for s in each.categories if s.what == "wax"), None)
        ends = "no wax"
        if wax is not None:
            ends = f"wax {share(wax.least)} to {share(wax.most)} %"
        who = f"{plural(len(each.recipes), 'recipe')} ({names(each.recipes)})"
        lines += item(f"{each.name}: {who}; {ends}", columns, depth=2)
    others = [s.name for s in survey.structures if s.name != survey.chosen]
    lines += item(f"What follows is about: {survey.chosen}.", columns)
    lines += item(f'For another: --structure "{others[0]}"', columns)
    return lines


def _categories(survey: Survey, columns: int) -> list[str]:
    structure = chosen(survey)
    if structure is None:
        return []
    rows = structure.categories
    near = [f"{s.near} of {len(s.users)}" for s in rows]
    columns_of = [
        Column("category", [s.what for s in rows], number=False),
        _recipe_counts(rows),
        Column("min", [share(s.least) for s in rows]),
        Column("quarter", [share(s.lower) for s in rows]),
        Column("median", [share(s.median) for s in rows]),
        Column("3 quarters", [share(s.upper) for s in rows]),
        Column("max", [share(s.most) for s in rows]),
        Column("near it", near, number=False),
    ]
    lines = table(columns_of, columns)
    return lines + item("near it: recipes within a fifth of the median", columns)


def _recipe_counts(rows: Sequence[Summary]) -> Column:
    counts = [f"{len(s.users)} of {s.among}" for s in rows]
    return Column("recipes", counts, number=False, least=8)


def _bands(survey: Survey, columns: int) -> list[str]:
    structure = chosen(survey)
    if structure is None:
        return []
    lines: list[str] = []
    for band in structure.bands:
        told = f"{band.category} {band_words(band)} %"
        if len(band.summary.users) == 1:
            told += f" (one recipe only: {band.summary.users[0]})"
        parts = [influence_words(each) for each in band.influences]
        parts += [band.remark] if band.remark else []
        lines += item("; ".join([told, *parts]), columns)
    if len(structure.recipes) == 1:
        lines += item("One recipe makes no band: these are its own amounts.", columns)
    return lines


def _ingredients(survey: Survey, catalogue: Catalogue, columns: int) -> list[str]:
    structure = chosen(survey)
    if structure is None:
        return []
    rows = structure.ingredients[:MOST]
    named = [catalogue.ingredients[s.what].name for s in rows]
    columns_of = [
        Column("ingredient", named, number=False),
        _recipe_counts(rows),
        Column("min", [share(s.least) for s in rows]),
        Column("median", [share(s.median) for s in rows]),
        Column("max", [share(s.most) for s in rows]),
    ]
    lines = table(columns_of, columns) if rows else []
    return lines + more(len(structure.ingredients) - len(rows), "ingredient", columns)


def _base(survey: Survey, catalogue: Catalogue, columns: int) -> list[str]:
    base = survey.base
    if base is None:
        return []
    if not base.lines:
        told = "No formula keeps these bands together with the other rules:"
        clash = [item(rule.sentence, columns, 2) for rule in base.clash]
        return item(told, columns) + [line for each in clash for line in each]
    categories = [catalogue.ingredients[x.ingredient].category for x in base.lines]
    shares, kinds = [x.percent for x in base.lines], categories
    fine = places([shares], kinds)
    rounded = percents(shares, kinds, fine)
    shown = [
        as_text(r, c in FINE, places=fine) for r, c in zip(rounded, kinds, strict=True)
    ]
    lines = table(
        [
            Column(
                "ingredient",
                [catalogue.ingredients[x.ingredient].name for x in base.lines],
                number=False,
            ),
            Column("%", shown),
            Column("centre %", [share(x.centre) for x in base.lines]),
            Column("", [stand_in_words(x) for x in base.lines], number=False),
        ],
        columns,
    )
    told = (
        "The centre is the recipes' compositional mean (of ratios, not of percents); "
        f"the base is the nearest formula that keeps every rule, {away_words(base)}."
    )
    lines += item(told, columns)
    return lines + [line for each in base.remarks for line in item(each, columns)]


def _faults(survey: Survey, columns: int) -> list[str]:
    lines = some(
        [f"{each.recipe}: {each.text}" for each in survey.faults], "fault", columns
    )
    if survey.zone is None and survey.recipes:
        told = "Whether they stay solid was not looked at: name a climate with --zone."
        lines += item(told, columns)
    return lines
