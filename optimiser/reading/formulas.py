"""Formula files: a table, a scenario's base, or what ``formulate --json`` printed."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.recipe import Match, WrittenLine
from optimiser.errors import InputError, Problem
from optimiser.reading.cells import quoted_advice
from optimiser.reading.names import Names
from optimiser.reading.shapes import shown_value
from optimiser.reading.sheets import is_workbook, read_sheet
from optimiser.reading.tables import Columns, TableRow, first_row, read_table
from optimiser.reading.text import read_text
from optimiser.reading.toml_text import read_toml

if TYPE_CHECKING:
    from optimiser.reading.recipes import Knowledge, Matcher

__all__ = [
    "BesideBase",
    "FormulaRead",
    "FormulaReader",
    "beside_base",
    "formula_told",
    "read_formula",
]

COLUMNS = Columns(
    "ingredient,percent,grams,weighed_grams",
    "percent grams weighed_grams",
    any_more=True,
    told="ingredient,percent or ingredient,grams or ingredient,amount,unit",
)
BENCH = "weighed_grams"  # of a batch sheet: what was weighed is no plan
KITCHEN = {"amount", "quantity", "qty", "weight"}
MOST_GRAMS = 1e9
AMOUNTS = ("percent", "grams")  # the first of them that is there counts
SUM_TOLERANCE = 0.05


class FormulaRead(Struct, frozen=True):
    """A formula, percent by ingredient key, and what its reading took for granted.

    ``read_as`` tells how names were read that are not the catalogue's own.
    """

    percents: dict[str, float]
    told: tuple[str, ...] = ()
    grams: float | None = None  # how much it makes, where it is by weight
    read_as: tuple[str, ...] = ()

    @property
    def notes(self) -> tuple[str, ...]:
        """All that is to be told of its reading."""
        return (*self.told, *self.read_as)


def read_formula(
    path: Path | str,
    catalogue: Catalogue,
    folder: Path | None = None,
    workshop: str | None = None,
) -> dict[str, float]:
    """Return a formula: percent of the finished product by ingredient key.

    Parameters
    ----------
    path : Path
        A CSV table with the columns ingredient and percent, or ingredient and
        grams, or ingredient, amount and unit (kitchen units too); a TOML file with
        a table [formula] or [base]; or the JSON that ``formulate --json`` prints. Of
        grams, 100 times each over their total is the percent; where both columns are
        there, percent counts. A header without rows is no formula.
    catalogue : Catalogue
        Where names are looked up.
    folder : Path, optional
        The folder of catalogues, for what spoons weigh and words of recipes; by
        default that which came with the program.
    workshop : str, optional
        Whose names count too (its recipe_names.csv).

    Returns
    -------
    dict of ingredient key to percent
        As written: it sums to 100 within 0.05, or from weights, to 100.

    Raises
    ------
    InputError
        With every problem of the file.
    """
    return formula_told(path, catalogue, folder, workshop).percents


def formula_told(
    path: Path | str,
    catalogue: Catalogue,
    folder: Path | None = None,
    workshop: str | None = None,
) -> FormulaRead:
    """Return a formula as `read_formula` does, and what was converted on the way."""
    path = Path(path)
    problems: list[Problem] = []
    kitchen = FormulaReader(catalogue, folder, workshop, problems)
    suffix = path.suffix.casefold()
    if suffix == ".toml":
        entries = _from_toml(path, problems)
    elif suffix == ".json":
        entries = _from_json(path, problems)
    elif _is_kitchen_table(path):
        entries = kitchen.entries(path)
    else:
        entries = _from_csv(path, kitchen.told, problems)
    formula = _formula(entries, kitchen, _shown(path), problems)
    if problems:
        raise InputError(problems)
    weights = [each.grams for each in entries if each.grams is not None]
    grams = sum(weights) if weights and len(weights) == len(entries) else None
    read_as = _read_as(entries, kitchen)
    return FormulaRead(formula, tuple(kitchen.told), grams, read_as)


def _shown(path: Path) -> str:
    """Return what a file is called in messages; a spreadsheet's sheet too."""
    sheet = read_sheet(path, str(path), []) if is_workbook(path) else None
    return str(path) if sheet is None else sheet.shown


class BesideBase(Struct, frozen=True):
    """What a scenario file asks for beside its formula, where one begins from it.

    ``exclude`` is its table of what must stay out, as written; ``others`` the names of
    all else that it holds but its title.
    """

    exclude: Mapping[str, bool | str | list[str]] = {}
    others: tuple[str, ...] = ()


_EXCLUDE: dict[str, type] = {
    **dict.fromkeys(("allergens", "ingredients", "categories"), list),
    **dict.fromkeys(("vegan", "palm_free"), bool),
    "reading": str,
}
_FORMULA_ONLY = ("title", "formula", "base", "exclude")


def beside_base(path: Path) -> BesideBase:
    """Return what a TOML file holds beside a formula; nothing of any other file."""
    content = read_toml(path, str(path), []) if path.suffix == ".toml" else None
    if content is None:
        return BesideBase()
    own = content.get("exclude")
    exclude: dict[str, Any] = {
        key: value
        for key, value in (own if isinstance(own, dict) else {}).items()
        if isinstance(value, _EXCLUDE.get(key, ()))
        and (not isinstance(value, list) or all(isinstance(x, str) for x in value))
    }
    others = [key for key in content if key not in _FORMULA_ONLY]
    if own is not None and (not isinstance(own, dict) or len(exclude) < len(own)):
        others.append("some of [exclude]")
    return BesideBase(exclude, tuple(others))


class FormulaReader:
    """What reads names and amounts as people write them; looked for when needed.

    One for every reader of formulas, so that a name taught is known to all of them.
    """

    def __init__(
        self,
        catalogue: Catalogue,
        folder: Path | None,
        workshop: str | None,
        problems: list[Problem],
    ) -> None:
        self.catalogue, self.problems = catalogue, problems
        self._folder, self._workshop = folder, workshop
        self.told: list[str] = []

    @cached_property
    def _knowledge(self) -> Knowledge:
        from optimiser.reading.recipes import read_knowledge  # noqa: PLC0415 - seldom needed

        return read_knowledge(
            self._folder, self._workshop, self.catalogue, None, self.problems
        )

    @cached_property
    def _taught(self) -> dict[str, Match]:
        from optimiser.reading.recipes.knowledge import (  # noqa: PLC0415 - as above
            workshop_names,
        )

        return workshop_names(
            self._folder, self._workshop, self.catalogue, self.problems
        )

    @cached_property
    def _matcher(self) -> Matcher:
        from optimiser.reading.recipes import Matcher  # noqa: PLC0415 - seldom needed

        known = self._knowledge
        return Matcher(self.catalogue, known.words, known.taught)

    def key(self, name: str) -> str | None:
        """Return the ingredient that a name stands for beyond doubt, or None.

        What the workshop teaches comes before the catalogue's own names.
        """
        from optimiser.reading.recipes.names import certain  # noqa: PLC0415 - seldom needed

        if (taught := self._taught.get(fold(name))) is not None:
            return certain(taught)
        return self.catalogue.exact(name) or certain(self._matcher.match(name))

    def is_guess(self, name: str) -> bool:
        """Whether a name of the catalogue's is one that often means other goods."""
        if fold(name) in self._taught:
            return False
        guesses = [x.words for x in self._knowledge.words if x.match == "guess"]
        return any(each in fold(name) for each in guesses)

    def wrong(self, name: str) -> str | None:
        """Return what keeps a name from standing for one ingredient, if it is known."""
        return self._matcher.left_open(name)

    def asks_its_oil(self, name: str) -> bool:
        """Whether a name is of an infusion whose oil it does not tell."""
        return self._matcher.asks_its_oil(name)

    def made_in(self, name: str) -> str | None:
        """Return the name of the oil that an infusion was made in, if it tells one."""
        key = self._matcher.made_in(name)
        return None if key is None else self.catalogue.ingredients[key].name

    def entries(self, path: Path) -> list[_Entry]:
        """Return the entries of a table with amounts in any usual unit."""
        from optimiser.reading.recipes import read_recipe_table  # noqa: PLC0415
        from optimiser.reading.recipes.kitchen import kitchen_percents  # noqa: PLC0415

        recipes = read_recipe_table(path, self.problems, one=True)
        if self.problems:
            return []
        if len(recipes) != 1:
            wrong = "holds no recipe" if not recipes else "holds several recipes"
            fix = "write the lines of one recipe, each with ingredient, amount, unit"
            self.problems.append(Problem(wrong, str(path), fix=fix))
            return []
        lines = kitchen_percents(
            recipes[0], self.catalogue, self._knowledge, self.problems, self.told
        )
        if self.problems:  # the names of the other rows are looked up all the same
            said = {each.row for each in self.problems}
            return [
                _Entry(_named(x), math.nan, x.origin.row, "ingredient")
                for x in recipes[0].lines
                if x.origin.row not in said
            ]
        return [_Entry(x.name, x.percent, x.row, "ingredient", x.grams) for x in lines]


def _named(line: WrittenLine) -> str:
    """Return the name of a line, where its amount stands in the same cell too."""
    from optimiser.reading.recipes.amounts import amount_and_name  # noqa: PLC0415

    both = None if line.amount or line.unit else amount_and_name(line.name)
    return line.name if both is None else both[1]


def _is_kitchen_table(path: Path) -> bool:
    """Whether a table has a column of amounts that are neither percent nor grams."""
    if is_workbook(path):
        names = {fold(cell) for cell in first_row(path)}
    else:
        text = read_text(path, str(path), [])
        header = "" if text is None else text.partition("\n")[0]
        names = {fold(cell.strip(' "')) for cell in re.split(r"[,;\t]", header)}
    return bool(names & KITCHEN) and not names & set(AMOUNTS)


class _Entry(Struct, frozen=True):
    """One ingredient's name and percent as written, and where."""

    name: str
    percent: float
    row: int | None
    field: str
    grams: float | None = None
    cell: str | None = None


def _from_csv(path: Path, told: list[str], problems: list[Problem]) -> list[_Entry]:
    """Return the entries of a CSV table; ``told`` gains which column counts."""
    found: list[_Entry] = []
    table = read_table(path, str(path), COLUMNS, problems)
    if not table.places or (problems and not table.rows):
        return found
    column = next((each for each in AMOUNTS if each in table.places), None)
    if column is None:
        fix = "the columns are ingredient,percent or ingredient,grams"
        missing = Problem("is missing", table.shown, 1, AMOUNTS[0], fix=fix)
        problems.append(missing)
        return found
    passed = [name for name in table.places if fold(name) in KITCHEN]
    if passed:
        told.append(f"column {column} counts, and {passed[0]} is not read")
    if BENCH in table.places:
        filled = any(row.text(BENCH) for row in table.rows)
        state = "read" if filled else "filled in"
        told.append(f"column {column} counts, and {BENCH} is not {state}")
    if not table.rows:
        fix = f"write a row for each ingredient, with its {column}"
        problems.append(Problem("has a header but no rows", table.shown, fix=fix))
    for row in table.rows:
        name, amount = row.need("ingredient"), _amount(row, column)
        if name is not None:  # looked up also where its amount is wrong
            amount = math.nan if amount is None else amount
            cell = table.cell("ingredient", row.number)
            each = _Entry(name, amount, row.number, "ingredient", cell=cell)
            found.append(each)
    return found if column == "percent" else _of_grams(found, table.shown, problems)


def _amount(row: TableRow, column: str) -> float | None:
    """Return a row's percent or grams, or None after a problem."""
    if column == "percent":
        return row.need_number(column)
    return row.need_number(column, 0, MOST_GRAMS)


def _of_grams(
    entries: list[_Entry], shown: str, problems: list[Problem]
) -> list[_Entry]:
    """Return entries in percent of their total, which are given in grams."""
    total = sum(each.percent for each in entries)
    if total > 0:
        return [
            replace(each, percent=100.0 * each.percent / total, grams=each.percent)
            for each in entries
        ]
    if not problems:
        fix = "write how many grams there are of each ingredient"
        problems.append(Problem("has 0 grams in all", shown, fix=fix))
    return [replace(each, percent=math.nan) for each in entries]


def _from_toml(path: Path, problems: list[Problem]) -> list[_Entry]:
    """Return the entries of the table [formula] or [base] of a TOML file."""
    content = read_toml(path, str(path), problems)
    if content is None:
        return []
    name = "formula" if "formula" in content else "base"
    table = content.get(name)
    if isinstance(table, dict) and table:
        return list(_numbers(table.items(), name, str(path), problems))
    fix = 'write [formula] and, below it, lines such as "cocoa butter" = 40'
    problems.append(Problem("has no table [formula] or [base]", str(path), fix=fix))
    return []


def _numbers(
    items: Iterable[tuple[str, Any]], table: str, shown: str, problems: list[Problem]
) -> Iterator[_Entry]:
    """Yield the entries of names and values, without values that are no numbers."""
    for name, value in items:
        field = f"{table}.{name}"
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            if abs(value) < 1e9:  # nan and inf fail this too
                yield _Entry(name, float(value), None, field)
                continue
            wrong, fix = "is not a percentage", "write a number from 0 to 100"
        elif isinstance(value, str):
            wrong, fix = quoted_advice(value)
        else:
            wrong, fix = "is not a number", "write a plain number, as in 2.65"
        problems.append(Problem(wrong, shown, None, field, shown_value(value), fix))


def _from_json(path: Path, problems: list[Problem]) -> list[_Entry]:
    """Return the entries of a JSON file as ``formulate --json`` prints it."""
    shown = str(path)
    text = read_text(path, shown, problems)
    if text is None:
        return []
    try:
        content = json.loads(text)
    except (ValueError, RecursionError) as error:
        line = (
            f"line {error.lineno} " if isinstance(error, json.JSONDecodeError) else ""
        )
        fix = "print it again with: optimiser formulate SCENARIO --json"
        problems.append(Problem(f"{line}is not written as JSON", shown, fix=fix))
        return []
    rows = content.get("formula") if isinstance(content, dict) else None
    if isinstance(rows, list) and rows and all(map(_is_row, rows)):
        items = [(row["ingredient"], row["percent"]) for row in rows]
        return list(_numbers(items, "formula", shown, problems))
    wrong = "has no list formula of entries with ingredient and percent"
    fix = 'write {"formula": [{"ingredient": "cocoa_butter", "percent": 40}]}'
    problems.append(Problem(wrong, shown, fix=fix))
    return []


def _is_row(row: object) -> bool:
    """Return whether a JSON value names an ingredient and a percent."""
    return (
        isinstance(row, dict)
        and isinstance(row.get("ingredient"), str)
        and "percent" in row
    )


def _formula(
    entries: list[_Entry], kitchen: FormulaReader, shown: str, problems: list[Problem]
) -> dict[str, float]:
    """Return entries by key, after saying what is wrong with them."""
    read = not problems
    names = Names.of("ingredient", kitchen.catalogue.names())
    found: dict[str, float] = {}
    names_of: dict[str, list[str]] = {}
    for each in entries:
        key = kitchen.key(each.name)
        wrong = fix = None
        if key is None:
            wrong, fix = _not_known(each.name, kitchen, names)
        elif key in found and not _by_another_name(each, names_of[key]):
            wrong, fix = "is there twice", "write it once, with both added up"
        elif each.percent < 0 or each.percent > 100:
            wrong = f"has {each.percent:g} percent"
            fix = "write a percentage from 0 to 100"
        if wrong is not None:
            problem = Problem(
                wrong, shown, each.row, each.field, each.name, fix, each.cell
            )
            problems.append(problem)
        found[key or each.name] = found.get(key or each.name, 0.0) + each.percent
        names_of.setdefault(key or each.name, []).append(each.name)
    kitchen.told += _added_up(names_of, kitchen.catalogue)
    total = sum(found.values())
    if read and abs(total - 100) > SUM_TOLERANCE:
        problems.append(
            Problem(f"sums to {total:g}, not to 100", shown, fix=_fix(total))
        )
    return found


def _not_known(name: str, kitchen: FormulaReader, names: Names) -> tuple[str, str]:
    """Return what is wrong with a name that stands for no ingredient, and the fix."""
    oil = kitchen.made_in(name)
    if oil is not None:
        return f"is an infusion in {oil}, and no ingredient here yet", (
            "begin from this recipe, which makes it one of your own (optimiser begin"
            f" FOLDER --from FILE), or add it to ingredients.csv with made_in {oil}"
        )
    several = kitchen.wrong(name)
    if kitchen.asks_its_oil(name):
        wrong = several or "does not tell which oil it was made in"
        return wrong, 'write the oil too, as in "calendula infused olive oil"'
    if several is not None:
        return several, "name the one ingredient that it is"
    fix = "correct the name, or add the ingredient to ingredients.csv"
    return names.wrong(name), fix


def _by_another_name(entry: _Entry, names: Sequence[str]) -> bool:
    """Whether a row of a table names by another name what was there before.

    The same name twice may be a row that was pasted twice.
    """
    return entry.row is not None and fold(entry.name) not in set(map(fold, names))


def _added_up(
    names_of: Mapping[str, Sequence[str]], catalogue: Catalogue
) -> Iterator[str]:
    """Yield which names of a recipe stand for one ingredient, and are one line."""
    for key, names in names_of.items():
        if len(names) > 1 and key in catalogue.ingredients:
            one = catalogue.ingredients[key].name
            yield f"{' and '.join(names)} are one ingredient here, {one}: added up"


def _read_as(entries: list[_Entry], kitchen: FormulaReader) -> tuple[str, ...]:
    """Return a line on the names that are not the catalogue's, letter by letter.

    A key is one as a table of ours writes it. Where it is no name (`shea_butter` is
    refined shea butter), its words are a maker's own.
    """
    known = kitchen.catalogue.ingredients
    read: dict[str, str] = {}
    for each in entries:
        key = kitchen.key(each.name)
        if key is None or each.name == key:
            continue
        if fold(each.name) != fold(known[key].name):
            guess = " (a guess)" if kitchen.is_guess(each.name) else ""
            read[each.name] = f"{known[key].name}{guess}"
    told = "; ".join(f"{name} = {ingredient}" for name, ingredient in read.items())
    return (f"read as: {told}",) if told else ()


def _fix(total: float) -> str:
    """Return how to bring a formula's sum to 100."""
    if abs(total - 1) <= SUM_TOLERANCE / 100:
        return "write percent of the finished product, as in 40 for 0.4"
    if total < 100:
        return f"add the {100 - total:g} percent that are missing"
    return f"take {total - 100:g} percent away"
