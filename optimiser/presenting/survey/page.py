"""The page on a survey: a base and bands first, then how recipes were read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.amounts import percents, percents_column, places
from optimiser.presenting.following import next_told
from optimiser.presenting.notes import law_in_short, prices_told
from optimiser.presenting.page import (
    Block,
    Item,
    Page,
    Paragraph,
    Section,
    Table,
    TableColumn,
    numbers,
    section,
    words,
)
from optimiser.presenting.survey import reading
from optimiser.presenting.survey.reading import MOST, more, some
from optimiser.presenting.survey.words import (
    band_words,
    base_words,
    chosen,
    fault_words,
    influence_words,
    meant_words,
    names,
    nearest_words,
    share,
    stand_in_words,
    title,
    window_words,
)
from optimiser.presenting.words import clean, decimals, listed, plural, short

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.studies.survey.values import Base, Summary, Survey

__all__ = ["survey_page"]

FEW_READ = 2  # remarks on reading on a short page
FEW = 3  # of faults, questions and names on a short page
CAUTION = (
    "Published recipes are no proof of anything: bands say what others do, not what "
    "keeps, holds or suits. Make 100 g and test."
)


def survey_page(survey: Survey, catalogue: Catalogue, *, full: bool = False) -> Page:
    """Return the page on a survey; ``catalogue`` for the names of ingredients."""
    most = MOST if full else FEW
    sections: list[Section] = [*section("", law_in_short(survey.law))]
    if not survey.structures:
        sections += section("Classes", _classes(survey))
    sections += section("Proposed base", _base(survey, catalogue))
    sections += section("Proposed bands, percent of the product", _bands(survey, full))
    waiting = reading.questions(survey, most)
    sections += section("To be answered before they count", waiting)
    asked = reading.grades(survey, catalogue, most)
    sections += section("Which one is meant", asked)
    sections += section("Structures", _structures(survey))
    if full:
        sections += section("Recipes", reading.recipes(survey))
        sections += section("Read with an assumption", reading.assumed(survey))
        sections += section("Left out of the total", reading.without_amount(survey))
    else:
        told = reading.not_as_written(survey, FEW_READ)
        sections += section("Not as written", told, close=True)
    sections += section("Names not known", reading.unknown(survey, most))
    if full:
        categories = _categories(survey)
        sections += section("Categories, percent of the product", categories)
        sections += section("Ingredients", _ingredients(survey, catalogue))
    sections += section("Faults seen", _faults(survey, most))
    care = "Cautions" if full else "Take care"
    sections += section(care, [Item(CAUTION)], close=not full)
    if not full:
        more = f"With --full: the reading and figures. {next_told('survey')}"
        sections += section("", [Paragraph("", typed=more)], close=True)
    title_of = f"Survey of recipes: {title(survey)}"
    of = None
    if survey.base is not None and survey.base.lines:
        of = catalogue.invented_among(x.ingredient for x in survey.base.lines)
    about = (*_about(survey), *prices_told(catalogue.invented_prices, of))
    return Page(title_of, about, tuple(sections))


def _about(survey: Survey) -> tuple[str, ...]:
    total = sum(survey.classes.values())
    used = sum(recipe.used for recipe in survey.recipes)
    count = len(survey.recipes)
    what = f"{plural(count, 'recipe')} of {total}, {used} of them used"
    structure = chosen(survey)
    if structure is not None and len(structure.recipes) < used:
        mine = len(structure.recipes)
        what = f"{plural(count, 'recipe')} of {total}, {used} of them fit to be used"
        what += f", {mine} of one structure"
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
    return tuple(parts)


def _classes(survey: Survey) -> list[Block]:
    """Return how many recipes each class has, and how to choose one."""
    rows = sorted(survey.classes, key=lambda name: -survey.classes[name])
    left = [Item(f"and {plural(len(rows) - MOST, 'more class', 'more classes')}")]
    left, rows = (left if len(rows) > MOST else []), rows[:MOST]
    fit = Counter(each.product_class for each in survey.recipes if each.used)
    if not rows:
        return []
    table = Table(
        (
            words("class", [name or "(no class)" for name in rows]),
            numbers("recipes", [survey.classes[name] for name in rows], _whole),
            numbers("fit to be used", [fit[name] for name in rows], _whole),
        )
    )
    one = Item("Bands are made of one class:", typed=f'--class "{rows[0]}"')
    return [table, *left, one]


def _whole(number: float) -> str:
    return decimals(number, 0)


def _structures(survey: Survey) -> list[Item]:
    if len(survey.structures) < 2:
        return []
    ways = len(survey.structures)
    told = []
    for each in survey.structures:
        wax = next((s for s in each.categories if s.what == "wax"), None)
        ends = "no wax"
        if wax is not None:
            ends = f"wax {share(wax.least)} to {share(wax.most)} %"
        who = f"{plural(len(each.recipes), 'recipe')} ({names(each.recipes)})"
        told.append(f"{each.name}: {who}; {ends}")
    others = [s.name for s in survey.structures if s.name != survey.chosen]
    first = f"These recipes are built in {ways} ways; one band over all would mislead:"
    return [
        Item(first, tuple(told)),
        Item(
            f"This page is about: {survey.chosen}.",
            typed=f'For another: --structure "{others[0]}"',
        ),
    ]


def _categories(survey: Survey) -> list[Block]:
    structure = chosen(survey)
    if structure is None:
        return []
    rows = structure.categories
    near = [f"{s.near} of {len(s.users)}" for s in rows]
    table = Table(
        (
            words("category", [s.what for s in rows]),
            _recipe_counts(rows),
            numbers("min", [s.least for s in rows], share),
            numbers("quarter", [s.lower for s in rows], share),
            numbers("median", [s.median for s in rows], share),
            numbers("3 quarters", [s.upper for s in rows], share),
            numbers("max", [s.most for s in rows], share),
            words("near it", near),
        )
    )
    return [table, Item("near it: recipes within a fifth of the median")]


def _recipe_counts(rows: Sequence[Summary]) -> TableColumn:
    return words("recipes", [f"{len(s.users)} of {s.among}" for s in rows], 8)


def _bands(survey: Survey, full: bool) -> list[Item]:
    structure = chosen(survey)
    if structure is None:
        return []
    found = []
    for band in structure.bands:
        told = f"{band.category} {band_words(band)} %"
        if len(band.summary.users) == 1:
            told += f" (one recipe only: {band.summary.users[0]})"
        parts = [influence_words(each) for each in band.influences] if full else []
        parts += [band.remark] if band.remark else []
        found.append("; ".join([told, *parts]))
    if not full:
        found = [f"{'; '.join(found)}."] if found else []
    count = len(structure.recipes)
    if full:
        found += [window_words(each, count) for each in structure.windows]
    elif structure.windows:
        found.append(f"{'; '.join(map(window_words, structure.windows))}.")
    if len(structure.recipes) == 1:
        found.append("One recipe makes no band: these are its own amounts.")
    return [Item(each) for each in found]


def _ingredients(survey: Survey, catalogue: Catalogue) -> list[Block]:
    structure = chosen(survey)
    if structure is None:
        return []
    rows = structure.ingredients[:MOST]
    left = more(len(structure.ingredients) - len(rows), "ingredient")
    if not rows:
        return [*left]
    table = Table(
        (
            words("ingredient", [catalogue.ingredients[s.what].name for s in rows]),
            _recipe_counts(rows),
            numbers("min", [s.least for s in rows], share),
            numbers("median", [s.median for s in rows], share),
            numbers("max", [s.most for s in rows], share),
        )
    )
    return [table, *left]


def _base(survey: Survey, catalogue: Catalogue) -> list[Block]:
    base = survey.base
    if base is None:
        return []
    if not base.lines and not base.clash:
        return [Item("No base can be made."), *map(Item, base_words(base, catalogue))]
    if not base.lines:
        told = "No formula keeps these bands together with the other rules:"
        return [Item(told, tuple(rule.sentence for rule in base.clash))]
    used = [catalogue.ingredients[x.ingredient] for x in base.lines]
    shares, kinds = [x.percent for x in base.lines], [e.category for e in used]
    fine = places([shares], kinds)
    rounded = percents(shares, kinds, fine)
    shown = percents_column("%", rounded, kinds, fine)
    table = Table(
        (
            words("ingredient", [each.name for each in used]),
            TableColumn("%", shown.cells[:-1]),
            numbers(_from(base), [x.centre for x in base.lines], share),
            *_nearest(base),
            words("", [stand_in_words(x) for x in base.lines]),
        )
    )
    near = nearest_words(base, catalogue)
    told = f"{meant_words(base)}."
    told += f" {near}." if near else ""
    said = [told, *base_words(base, catalogue)]
    return [table, *(Item(each) for each in said)]


def _from(base: Base) -> str:
    """Return the head over what a base was made from."""
    return "centre %" if base.instead is None else f"{base.instead.recipe} %"


def _nearest(base: Base) -> list[TableColumn]:
    """Return the nearest recipe's own shares beside the base."""
    near, own = base.nearest, base.instead
    if near is None or (own is not None and own.recipe == near.recipe):
        return []
    shares = [near.percents.get(each.ingredient, 0.0) for each in base.lines]
    return [numbers(near.recipe, shares, share)]


def _faults(survey: Survey, most: int) -> list[Item]:
    told = [f"{each.recipe}: {fault_words(each)}" for each in survey.faults]
    found = some(told, "fault", most)
    structure = chosen(survey)
    held = structure is not None and bool(structure.windows)
    if survey.zone is None and survey.recipes and not held:
        open_ = "Whether they stay solid was not looked at, for no climate is named"
        found.append(Item(open_, typed="(--zone)."))
    return found
