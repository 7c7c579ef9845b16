"""The files of a survey: what its tables hold, and all written or none."""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from optimiser.errors import Option, Problem, phrase
from optimiser.presenting.sheet import cell
from optimiser.presenting.survey.remarks import remarks_told
from optimiser.presenting.survey.words import used_words
from optimiser.presenting.words import clean
from optimiser.presenting.writing import (
    TAKEN,
    begins_alike,
    for_a_file,
    write_whole,
)

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.material import Ingredient
    from optimiser.studies.survey.formulas import AsFormula
    from optimiser.studies.survey.remarks import Remark
    from optimiser.studies.survey.values import Recipe, RecipeLine

__all__ = [
    "RecipesSheet",
    "SurveyFile",
    "file_names",
    "formula_sheet",
    "refused",
    "write_files",
]

ELSEWHERE = phrase("name another folder with ", Option("to"))
REMOVE = phrase(ELSEWHERE, ", or remove it first")


class SurveyFile(Struct, frozen=True):
    """A file to write; ``over`` says that it may take the place of anything."""

    path: Path
    text: str | Iterable[str]
    encoding: str = "utf-8-sig"
    over: bool = False


def refused(files: Iterable[SurveyFile], read: Iterable[Path]) -> list[Problem]:
    """Return why files cannot be written, before any of them is.

    Parameters
    ----------
    files : iterable of SurveyFile
        Their folders need not be there yet.
    read : iterable of Path
        Files that the same command reads, which are never written over.
    """
    files, read = list(files), list(read)
    folders = dict.fromkeys(each.path.parent for each in files)
    try:
        asked = (_folder_refused(each, each.parent in folders) for each in folders)
        found = [each for each in asked if each is not None][:1]
        if not found:
            found = [each for file in files for each in _file_refused(file, read)]
    except OSError as error:
        return [_told(error, next(iter(folders)))]
    return found


def write_files(files: Sequence[SurveyFile], target: Path) -> list[Problem]:
    """Write the files of a folder, which is there whole at the end or as it was.

    A folder that is not there yet is written beside its place and then takes it. In one
    that is there each file takes its place when all of them are written; the first of
    the files, which keeps the next run from writing, comes last.

    Raises
    ------
    InputError
        If a file cannot be written after all.
    """
    place = target if os.path.lexists(target) else target.resolve()
    draft = place.parent / f".{place.name}.part"
    try:
        shutil.rmtree(draft, ignore_errors=True)  # of a run that was stopped
        for each in files:
            path = draft / each.path.relative_to(target)
            path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(path, each.text, encoding=each.encoding, over=True)
        if not place.exists():
            draft.rename(place)
            return []
        for each in (*files[1:], *files[:1]):
            each.path.parent.mkdir(exist_ok=True)
            (draft / each.path.relative_to(target)).replace(each.path)
    except OSError as error:
        return [_told(error, target)]
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    return []


def _told(error: OSError, folder: Path) -> Problem:
    wrong = f"cannot be written to ({error.strerror or error}); nothing was written"
    return Problem(wrong, str(error.filename or folder), fix=ELSEWHERE)


def _folder_refused(folder: Path, inner: bool) -> Problem | None:
    """Return why files cannot be written to a folder, there already or not."""
    place = folder
    while not os.path.lexists(place) and place != place.parent:
        place = place.parent
    if not place.is_dir():
        wrong = "is there already and is no folder; nothing was written"
        return Problem(wrong, str(place), fix=REMOVE)
    if inner and folder.is_symlink():
        wrong = "is a link to another folder; nothing was written"
        return Problem(wrong, str(folder), fix=REMOVE)
    if not os.access(place, os.W_OK | os.X_OK):
        wrong = "is a folder that you may not write to; nothing was written"
        return Problem(wrong, str(place), fix=ELSEWHERE)
    return None


def _file_refused(file: SurveyFile, read: list[Path]) -> Iterator[Problem]:
    """Yield why a file cannot be written."""
    path = file.path
    if any(os.path.realpath(path) == os.path.realpath(each) for each in read):
        wrong = "is read by this command, and would be written over"
        yield Problem(f"{wrong}; nothing was written", str(path), fix=ELSEWHERE)
    elif path.is_symlink():
        wrong = "is a link to another file; nothing was written"
        yield Problem(wrong, str(path), fix=REMOVE)
    elif path.exists() and not path.is_file():
        wrong = "is there already and is no file; nothing was written"
        yield Problem(wrong, str(path), fix=REMOVE)
    elif not file.over and not begins_alike(path, file.text):
        yield Problem(f"{TAKEN}; nothing was written", str(path), fix=REMOVE)


HEADER = (
    "recipe",
    "class",
    "structure",
    "used",
    "row",
    "ingredient_written",
    "amount_written",
    "unit_written",
    "ingredient",
    "category",
    "percent",
    "percent_low",
    "percent_high",
    "status",
    "sure",
    "how",
)
RECIPES_AT_ONCE = 1000
_UNFIT = re.compile(r"[^A-Za-z0-9_-]+")


class RecipesSheet(Struct, frozen=True):
    """Every line of every recipe as CSV, so many recipes at a time.

    A million lines are a quarter of a gigabyte, which is never there as a whole.
    Percent is of the finished product; ``percent_low`` and ``percent_high`` are how
    far the reading may be off.
    """

    recipes: tuple[Recipe, ...]
    ingredients: Mapping[str, Ingredient]

    def __iter__(self) -> Iterator[str]:
        """Yield the head, then the rows of some recipes after another."""
        yield _csv([HEADER])
        cells = _Cells(self.ingredients)
        for start in range(0, len(self.recipes), RECIPES_AT_ONCE):
            out = io.StringIO()
            writer = csv.writer(out, lineterminator="\n")
            for recipe in self.recipes[start : start + RECIPES_AT_ONCE]:
                writer.writerows(cells.of(recipe))
            yield out.getvalue()


class _Cells:
    """Texts as cells of CSV, kept: most of them are there many times."""

    def __init__(self, ingredients: Mapping[str, Ingredient]) -> None:
        self._ingredients = ingredients
        self._cells: dict[str, str] = {}
        self._names: dict[tuple[str, ...], str] = {}
        self._remarks: dict[tuple[Remark, ...], str] = {}

    def of(self, recipe: Recipe) -> Iterator[tuple[str, ...]]:
        """Yield the rows of a recipe."""
        about = (recipe.product_class, recipe.structure, used_words(recipe))
        head = (_cell(recipe.name), *map(self._cell, about))
        for line in recipe.lines:
            written, match = line.written, line.match
            yield (
                *head,
                str(written.origin.row),
                self._cell(written.name),
                self._cell(written.amount),
                self._cell(written.unit),
                self._named(match.options),
                match.category or "",
                *_percents(line),
                line.status,
                line.sure,
                self._told(line.remarks),
            )

    def _cell(self, text: str) -> str:
        if text not in self._cells:
            self._cells[text] = _cell(text)
        return self._cells[text]

    def _named(self, keys: tuple[str, ...]) -> str:
        if keys not in self._names:
            names = " or ".join(self._ingredients[key].name for key in keys)
            self._names[keys] = _cell(names)
        return self._names[keys]

    def _told(self, remarks: tuple[Remark, ...]) -> str:
        if remarks not in self._remarks:
            self._remarks[remarks] = _cell("; ".join(remarks_told(remarks)))
        return self._remarks[remarks]


def _percents(line: RecipeLine) -> tuple[str, str, str]:
    """Return the share of a line, and how far the reading may be off."""
    own, doubt = line.percent, line.doubt
    if own is None or doubt is None:
        return ("", "", "")
    low, high = min(own.low, doubt.low), max(own.high, doubt.high)
    return (f"{own.value:.3f}", f"{low:.3f}", f"{high:.3f}")


def formula_sheet(formula: AsFormula, catalogue: Catalogue) -> str:
    """Return a recipe as a formula that ``optimiser check`` reads.

    The last digit of the largest line takes what rounding leaves, so that it sums.
    """
    amounts = {key: round(each, 3) for key, each in formula.percents.items()}
    largest = max(amounts, key=lambda key: amounts[key])
    amounts[largest] = round(amounts[largest] + 100.0 - sum(amounts.values()), 3)
    rows: list[tuple[str, ...]] = [("ingredient", "percent", "note")]
    for key, amount in sorted(amounts.items(), key=lambda item: -item[1]):
        name = catalogue.ingredients[key].name
        rows.append((name, f"{amount:.3f}", formula.notes.get(key, "")))
    return _csv(rows)


def file_names(recipes: Iterable[str]) -> dict[str, str]:
    """Return a file name for each recipe, no two alike on any disk.

    >>> file_names(["LB 1", "lb/1"])
    {'LB 1': 'LB_1.csv', 'lb/1': 'lb_1_2.csv'}
    """
    taken: set[str] = set()
    found: dict[str, str] = {}
    for recipe in recipes:
        stem = for_a_file(_UNFIT.sub("_", recipe).strip("_")[:60] or "recipe")
        name, number = stem, 1
        while name.casefold() in taken:
            number += 1
            name = f"{stem}_{number}"
        taken.add(name.casefold())
        found[recipe] = f"{name}.csv"
    return found


def _csv(rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows(map(_cell, row) for row in rows)
    return out.getvalue()


def _cell(text: str) -> str:
    return cell(clean(text))
