"""What reading recipes needs beside the catalogue: volumes, words, usual shares."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.material import CATEGORIES, EVIDENCE, UNKNOWN, Ingredient
from optimiser.domain.recipe import Match, Span, UsualShare, Volume, Word
from optimiser.errors import Problem
from optimiser.reading.disk import exists
from optimiser.reading.folders import shipped_folder
from optimiser.reading.names import Names
from optimiser.reading.tables import Columns, CsvTable, TableRow, read_table

__all__ = [
    "TAUGHT_FILE",
    "Knowledge",
    "read_knowledge",
    "read_taught",
    "read_volumes",
    "read_words",
    "stands_for",
]

VOLUMES = Columns("what,form,value,low,high,unit,evidence,source,note", "form note")
WORDS = Columns("words,match,stands_for,note", "note")
USUAL = Columns(
    "category,min_percent,far_percent,evidence,source,note",
    "min_percent far_percent note",
)
TAUGHT = Columns("written,stands_for,note", "note", any_more=True)
MATCHES = ("whole", "end", "noun", "contains", "same", "guess")
FORMS = ("melted", "grated", "packed", "pellets", "leaves")
TAUGHT_FILE = "recipe_names.csv"  # of a workshop
DROP = "drop"  # a row of volumes.csv with its size in ml
GROUPS = (*CATEGORIES, "butters")
COME_LATER = (UNKNOWN, DROP)  # rows of volumes.csv that are asked for whatever it is of


class Knowledge(Struct, frozen=True):
    """Figures and words for reading recipes.

    ``volumes`` is keyed by (ingredient key or category, form), [g/ml]; ``usual`` by
    category, percent of the product; ``taught`` by folded name.
    """

    volumes: Mapping[tuple[str, str], Volume]
    words: tuple[Word, ...]
    usual: Mapping[str, UsualShare]
    taught: Mapping[str, Match]


def read_knowledge(
    folder: Path | None,
    workshop: str | None,
    catalogue: Catalogue,
    aliases: Path | None,
    problems: list[Problem],
) -> Knowledge:
    """Return what is known for reading recipes.

    Parameters
    ----------
    folder : Path or None
        The folder of catalogues. A table that it lacks, or all where there is none,
        is taken from those that came with the program.
    workshop : str or None
        Its ``recipe_names.csv`` teaches names, if it is there.
    catalogue : Catalogue
        Where what a word stands for is looked up.
    aliases : Path or None
        One more file that teaches names; it comes before the workshop's.
    problems : list of Problem
        Gains every problem; nothing is raised.
    """
    volumes = read_volumes(folder, catalogue.ingredients, problems)
    words = read_words(folder, catalogue, problems)
    usual = _table(folder, "usual_shares.csv", USUAL, problems).each(_usual)
    taught = workshop_names(folder, workshop, catalogue, problems)
    if aliases is not None:
        taught |= read_taught(aliases, str(aliases), catalogue, problems)
    kept = {each.category: each for each in usual}
    return Knowledge(volumes, words, kept, taught)


def workshop_names(
    folder: Path | None,
    workshop: str | None,
    catalogue: Catalogue,
    problems: list[Problem],
) -> dict[str, Match]:
    """Return the names that a workshop's ``recipe_names.csv`` teaches, if any."""
    if workshop is None or folder is None:
        return {}
    path = folder / "workshops" / workshop / TAUGHT_FILE
    if not exists(path):
        return {}
    shown = f"{folder.name}/workshops/{workshop}/{TAUGHT_FILE}"
    return read_taught(path, shown, catalogue, problems)


def read_words(
    folder: Path | None, catalogue: Catalogue, problems: list[Problem]
) -> tuple[Word, ...]:
    """Return the words of recipes; those that came with the program by default."""
    table = _table(folder, "recipe_words.csv", WORDS, problems)
    return tuple(table.each(lambda row: _word(row, catalogue)))


def read_volumes(
    folder: Path | None,
    ingredients: Mapping[str, Ingredient],
    problems: list[Problem],
) -> dict[tuple[str, str], Volume]:
    """Return what a millilitre weighs by (ingredient key or category, form), [g/ml].

    Where the folder has no such table, it is the one that came with the program; so is
    each row of `COME_LATER` that a folder begun by an older version lacks.
    """
    known = {**_known_names(ingredients), DROP: DROP}
    names = Names("ingredient or category", known)
    rows = _table(folder, "volumes.csv", VOLUMES, problems)
    # A smaller catalogue of the maker's own need not hold what the shipped rows do.
    foreign = not _is_there(folder, "volumes.csv")
    found = dict(rows.each(lambda row: _volume(row, names, foreign)))
    if not foreign and any((each, "") not in found for each in COME_LATER):
        shipped = _table(None, "volumes.csv", VOLUMES, problems)
        given = dict(shipped.each(lambda row: _volume(row, names, True)))
        for each in COME_LATER:
            found.setdefault((each, ""), given[each, ""])
    return found


def _known_names(ingredients: Mapping[str, Ingredient]) -> dict[str, str]:
    names = {category: category for category in GROUPS}
    for each in ingredients.values():
        names |= dict.fromkeys((each.key, each.name), each.key)
    return names


def _is_there(folder: Path | None, name: str) -> bool:
    return folder is not None and exists(folder / "materials" / name)


def _table(
    folder: Path | None, name: str, columns: Columns, problems: list[Problem]
) -> CsvTable:
    root = shipped_folder("catalogues")
    if folder is not None and _is_there(folder, name):
        root = folder
    shown = f"{(folder or root).name}/materials/{name}"
    return read_table(root / "materials" / name, shown, columns, problems)


def _volume(
    row: TableRow, names: Names, foreign: bool
) -> tuple[tuple[str, str], Volume] | None:
    """Return a row of volumes.csv, [g/ml]; of a drop, [ml]."""
    if foreign and names.find(row.text("what")) is None:
        return None
    fix = "write the key of an ingredient, or a category"
    what = row.name_in("what", names, fix)
    form = row.choice("form", FORMS, blank=True) or ""
    value = row.need_number("value", 0.01, 5)
    low, high = row.number_in("low", 0.01, 5), row.number_in("high", 0.01, 5)
    row.choice("unit", ("g/ml", "ml"))
    evidence, source = row.choice("evidence", EVIDENCE), row.need("source")
    if what is None or value is None or evidence is None or source is None:
        return None
    span = Span(value if low is None else low, value, value if high is None else high)
    return (what, form), Volume(span, evidence, source, row.origin)


def _word(row: TableRow, catalogue: Catalogue) -> Word | None:
    """Return a row of recipe_words.csv; one about an unknown ingredient is left out."""
    words, match = row.need("words"), row.choice("match", MATCHES)
    text = row.need("stands_for")
    if words is None or match is None or text is None:
        return None
    if match == "same":
        return Word(fold(words), match, (), None, fold(text))
    each = [_told_by_word(part, catalogue) for part in row.parts("stands_for")]
    found = [one for one in each if one is not None]
    if not found:  # a smaller catalogue of the maker's own
        return None
    options = tuple(key for one in found for key in one.options)
    return Word(fold(words), match, options, found[0].category)


def _told_by_word(text: str, catalogue: Catalogue) -> Match | None:
    """Return what a word tells: the category "water" rather than plain water."""
    key = None if fold(text) in GROUPS else catalogue.exact(text)
    if key is not None:
        return Match((key,), catalogue.ingredients[key].category, "", "")
    return Match((), fold(text), "", "") if fold(text) in GROUPS else None


def _usual(row: TableRow) -> UsualShare | None:
    """Return a row of usual_shares.csv, percent of the product."""
    category = row.choice("category", CATEGORIES)
    least = row.number_in("min_percent", 0, 100)
    far, source = row.number_in("far_percent", 0, 100), row.need("source")
    if category is None or source is None:
        return None
    return UsualShare(category, least, far, source)


def stands_for(text: str, catalogue: Catalogue) -> Match | None:
    """Return the match of an ingredient or a category named by its maker, or None."""
    key = catalogue.find(text)
    if key is not None:
        category = catalogue.ingredients[key].category
        return Match((key,), category, "as you taught", "as written")
    if fold(text) in GROUPS:
        return Match((), fold(text), "as you taught", "as written")
    return None


def read_taught(
    path: Path, shown: str, catalogue: Catalogue, problems: list[Problem]
) -> dict[str, Match]:
    """Return names taught by a table with the columns written and stands_for."""
    found: dict[str, Match] = {}
    names = Names("ingredient or category", _known_names(catalogue.ingredients))
    for row in read_table(path, shown, TAUGHT, problems).rows:
        written, text = row.need("written"), row.need("stands_for")
        if written is None or text is None:
            continue
        match = stands_for(text, catalogue)
        if match is None:
            fix = "write an ingredient of the catalogue, or a category"
            row.say("stands_for", names.wrong(text), fix)
        else:
            found[fold(written)] = match
    return found
