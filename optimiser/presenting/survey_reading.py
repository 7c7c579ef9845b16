"""How recipes were read: what adds up to what, what waits, what was assumed."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from optimiser.presenting.layout import Column, item, paragraph, table
from optimiser.presenting.survey_words import used_words
from optimiser.presenting.words import plural

if TYPE_CHECKING:
    from optimiser.studies.survey.values import Recipe, RecipeLine, Survey

__all__ = [
    "MOST",
    "assumed_lines",
    "lines_without_amount",
    "more",
    "question_lines",
    "recipe_lines",
    "some",
    "unknown_lines",
]

MOST = 30  # rows of a list on a screen; the table that is written holds all


def recipe_lines(survey: Survey, columns: int) -> list[str]:
    """Return the recipes as a table, with what was done to their sums."""
    shown = survey.recipes[:MOST] if survey.structures else survey.recipes
    columns_of = [
        Column("recipe", [each.name for each in shown], number=False),
        Column("lines", [str(len(each.lines)) for each in shown]),
        Column("adds up to", [each.total for each in shown], number=False),
        Column("read", [_sureness(each) for each in shown], number=False, least=20),
        Column("used", [used_words(each) for each in shown], number=False, least=10),
    ]
    if not survey.structures:
        classes = [each.product_class or "(no class)" for each in shown]
        columns_of.insert(1, Column("class", classes, number=False))
    if len(survey.structures) > 1:
        structures = [each.structure for each in shown]
        columns_of.insert(4, Column("structure", structures, number=False))
    lines = table(columns_of, columns)
    lines += more(len(survey.recipes) - len(shown), "recipe", columns)
    told = [
        f"{each.name}: {remark}" for each in survey.recipes for remark in each.remarks
    ]
    return lines + some(told, "remark", columns)


def _sureness(recipe: Recipe) -> str:
    """Return how the lines of a recipe were read, in words."""
    counts = Counter(line.sure for line in recipe.lines)
    if set(counts) == {"as written"}:
        return "all as written"
    words = ("as written", "converted", "assumed", "unknown")
    return ", ".join(f"{counts[each]} {each}" for each in words if counts[each])


def question_lines(survey: Survey, columns: int) -> list[str]:
    """Return what has to be answered, with how to answer it."""
    asked = [
        (recipe.name, each) for recipe in survey.recipes for each in recipe.questions
    ]
    lines: list[str] = []
    for name, each in asked[:MOST]:
        place = name if each.row is None else f"{name}, row {each.row}"
        found = "" if each.found is None else f"'{each.found}' "
        lines += item(f"{place}: {found}{_without_name(each.wrong)}", columns)
        lines += paragraph(f"{each.fix}", columns, "      ", "      ")
    return lines + more(len(asked) - MOST, "question", columns)


def _without_name(wrong: str) -> str:
    return wrong.split(": ", 1)[1] if wrong.startswith("in recipe ") else wrong


def _told(recipe: Recipe, line: RecipeLine) -> str:
    amount = f"{line.written.amount} {line.written.unit}".strip()
    what = line.written.name + (f" {amount}" if amount else "")
    return f"{recipe.name}, row {line.written.origin.row}: {what}: "


def assumed_lines(survey: Survey, columns: int) -> list[str]:
    """Return the lines that were read with an assumption."""
    told = [
        _told(recipe, line) + "; ".join(line.remarks)
        for recipe in survey.recipes
        for line in recipe.lines
        if line.sure == "assumed" and line.status == "read" and survey.structures
    ]
    return some(told, "line", columns)


def lines_without_amount(survey: Survey, columns: int) -> list[str]:
    """Return the lines that are not in the total, and why."""
    told = [
        _told(recipe, line) + (line.remarks[-1] if line.remarks else line.status)
        for recipe in survey.recipes
        for line in recipe.lines
        if line.status != "read"
    ]
    return some(told, "line", columns)


def unknown_lines(survey: Survey, columns: int) -> list[str]:
    """Return each name that stands for nothing once, with the nearest one known."""
    told: dict[str, str] = {}
    for recipe in survey.recipes:
        for line in recipe.lines:
            if line.category is None and line.match.absent is None:
                near, name = line.match.nearest, line.written.name
                nearest = f"the nearest is {near}" if near else "none is near it"
                told[name] = f"{name} ({recipe.name}): {nearest}"
    lines = some(list(told.values()), "name", columns)
    if lines:
        lines += item(
            "Teach names in a file for --aliases with the columns written,stands_for, "
            "or for good in recipe_names.csv of your workshop.",
            columns,
        )
    return lines


def some(texts: list[str], noun: str, columns: int) -> list[str]:
    """Return the first of many texts as items, and how many more there are."""
    lines = [line for text in texts[:MOST] for line in item(text, columns)]
    return lines + more(len(texts) - MOST, noun, columns)


def more(count: int, noun: str, columns: int) -> list[str]:
    """Return that there are so many more, if there are."""
    if count <= 0:
        return []
    return item(f"and {plural(count, f'more {noun}')}: see the table written", columns)
