"""How recipes were read: what adds up to what, what waits, what was assumed."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from optimiser.presenting.page import (
    Block,
    Item,
    Number,
    Table,
    TableColumn,
    items,
    words,
)
from optimiser.presenting.survey.remarks import remarks_told, sum_told
from optimiser.presenting.survey.words import used_words
from optimiser.presenting.words import clean, listed, plural
from optimiser.studies.survey.drafts import quoted

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.studies.survey.values import Recipe, RecipeLine, Survey

__all__ = [
    "MOST",
    "assumed",
    "grades",
    "more",
    "not_as_written",
    "questions",
    "recipes",
    "some",
    "unknown",
    "without_amount",
]

MOST = 30  # rows of a list on a screen; the table that is written holds all


def recipes(survey: Survey) -> list[Block]:
    """Return the recipes as a table, with what was done to their sums."""
    shown = survey.recipes[:MOST]
    columns = [
        words("recipe", [each.name for each in shown]),
        TableColumn("lines", tuple(_count(len(each.lines)) for each in shown)),
        words("adds up to", [sum_told(each.total) for each in shown]),
        words("read", [_sureness(each) for each in shown], 20),
        words("used", [used_words(each) for each in shown], 10),
    ]
    if not survey.structures:
        classes = [each.product_class or "(no class)" for each in shown]
        columns.insert(1, words("class", classes))
    if len(survey.structures) > 1:
        structures = [each.structure for each in shown]
        columns.insert(4, words("structure", structures))
    told = [
        f"{each.name}: {remark}"
        for each in survey.recipes
        for remark in remarks_told(each.remarks)
    ]
    left = more(len(survey.recipes) - len(shown), "recipe")
    if left and not survey.structures:
        rest = plural(len(survey.recipes) - MOST, "more recipe")
        left = [Item(f"and {rest}", typed="(name a class with --class)")]
    return [Table(tuple(columns)), *left, *some(told, "remark")]


def _count(number: int) -> Number:
    return Number(number, str(number))


def _sureness(recipe: Recipe) -> str:
    """Return how the lines of a recipe were read, in words."""
    counts = Counter(line.sure for line in recipe.lines)
    if set(counts) == {"as written"}:
        return "all as written"
    kinds = ("as written", "converted", "assumed", "unknown")
    return ", ".join(f"{counts[each]} {each}" for each in kinds if counts[each])


def questions(survey: Survey, most: int = MOST) -> list[Item]:
    """Return what has to be answered, with how to answer it.

    What one answer settles in several recipes is one question.
    """
    asked: dict[tuple[str, str, str], list[tuple[str, int | None]]] = {}
    for recipe in survey.recipes:
        for each in recipe.questions:
            what = "" if each.found is None else f"'{each.found}' "
            key = (what, str(each.wrong), str(each.fix))
            asked.setdefault(key, []).append((recipe.name, each.row))
    found = []
    for (what, wrong, fix), places in list(asked.items())[:most]:
        names = list(dict.fromkeys(name for name, _ in places))
        row = places[0][1]
        where = listed(names, most=4)
        where += "" if len(places) > 1 or row is None else f", row {row}"
        found.append(Item(f"{where}: {what}{wrong}", (fix,)))
    return [*found, *more(len(asked) - most, "question", most)]


def _told(recipe: Recipe, line: RecipeLine) -> str:
    amount = f"{line.written.amount} {line.written.unit}".strip()
    what = line.written.name + (f" {amount}" if amount else "")
    return f"{recipe.name}, row {line.written.origin.row}: {what}: "


def assumed(survey: Survey) -> list[Item]:
    """Return the lines that were read with an assumption."""
    told = [
        _told(recipe, line) + "; ".join(remarks_told(line.remarks))
        for recipe in survey.recipes
        for line in recipe.lines
        if line.sure == "assumed" and line.status == "read" and survey.structures
    ]
    return some(told, "line")


def not_as_written(survey: Survey, most: int) -> list[Item]:
    """Return what a short page must tell: lines left out, percentages rescaled.

    Weights and parts need not add up to 100.
    """
    told = [
        f"{recipe.name}: {remark}"
        for recipe in survey.recipes
        for remark in remarks_told(recipe.remarks)
        if any("%" in f"{x.written.amount}{x.written.unit}" for x in recipe.lines)
    ]
    return some([*_left_out(survey), *told], "remark", most)


def without_amount(survey: Survey) -> list[Item]:
    """Return the lines that are not in the total, and why."""
    return some(_left_out(survey), "line")


def _left_out(survey: Survey) -> list[str]:
    return [
        _told(recipe, line) + (*remarks_told(line.remarks[-1:]), line.status)[0]
        for recipe in survey.recipes
        for line in recipe.lines
        if line.status != "read"
    ]


def unknown(survey: Survey, most: int = MOST) -> list[Item]:
    """Return each name that stands for nothing once, with the nearest one known.

    Then those of which only the category was told, by a noun they end with.
    """
    told: dict[str, str] = {}
    partly: dict[str, str] = {}
    for recipe in survey.recipes:
        for line in recipe.lines:
            if line.category is None and line.match.absent is None:
                near, name = line.match.nearest, line.written.name
                nearest = f"the nearest is {near}" if near else "none is near it"
                told[name] = f"{name} ({recipe.name}): {nearest}"
            elif not line.match.options and line.match.sure == "assumed":
                name = line.written.name
                read = f"read only as {line.category}"
                partly[name] = f"{name} ({recipe.name}): {read}"
    found = some([*told.values(), *partly.values()], "name", most)
    if found:
        how = (
            "Teach names in a file for --aliases with the columns written,stands_for, "
            "or for good in recipe_names.csv of your workshop."
        )
        found.append(Item("", typed=how))
    return found


def grades(survey: Survey, catalogue: Catalogue, most: int = MOST) -> list[Item]:
    """Return which grade was taken of each name that spells several."""
    known = catalogue.ingredients
    told = []
    for each in survey.grades:
        others = " or ".join(known[key].name for key in each.others)
        told.append(f"{clean(each.written)} as {known[each.taken].name}, or {others}?")
    found = some(told, "name", most)
    if found:
        first = survey.grades[0]
        other = known[first.others[0]].name
        taught = f"{quoted(clean(first.written))},{quoted(other)}"
        other = f"For another, a row in --aliases: {taught}"
        found.append(Item("It goes on with the first.", typed=other))
    return found


def some(texts: list[str], noun: str, most: int = MOST) -> list[Item]:
    """Return the first of many texts as items, and how many more there are."""
    return [*items(texts[:most]), *more(len(texts) - most, noun, most)]


def more(count: int, noun: str, most: int = MOST) -> list[Item]:
    """Return that there are so many more, if there are, and where."""
    if count <= 0:
        return []
    where = "see the table written (with --class)" if most == MOST else "--full"
    return [Item(f"and {plural(count, f'more {noun}')}", typed=f"({where})")]
