"""The maker's own recipe as a scenario of a workspace, tried before it is left."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct, field
from msgspec.structs import replace as with_other

from optimiser.cli.studying import EITHER_USE, USES
from optimiser.errors import InputError, Option, Phrase, Problem, phrase

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.presenting.scenario_text import RecipeTold
    from optimiser.reading.formulas import BesideBase
    from optimiser.reading.recipes.strangers import Strangers

__all__ = ["OwnRecipe", "read_recipe"]

DEMO = "demo"
TAUGHT = ("written", "stands_for", "note")
LONGEST_NAME = 100
AGAIN = (
    "put the rows above right (optimiser catalogue list shows every name) and begin"
    " again"
)
KEEPS = "Your recipe as it stands keeps every rule around it."
BREAKS = "Your recipe as it stands breaks a rule"


class OwnRecipe(Struct):
    """A recipe that was read, and the scenario that it becomes.

    ``percents`` is the recipe as it was read, ``base`` as it is written in the file;
    ``notes`` gains what to know of it once it is written; ``shelf`` is what could not
    be read of prices and stock; ``strangers`` are what its names were guessed to be.
    """

    percents: dict[str, float]
    base: dict[str, float]
    catalogue: Catalogue
    about: RecipeTold
    file: str
    strangers: Strangers
    shelf: Sequence[Problem] = ()
    notes: list[str | Phrase] = field(default_factory=list)

    @property
    def shown(self) -> str:
        """The scenario as it is seen from the workspace."""
        return f"scenarios/{self.file}"

    def write(self, workspace: Path) -> None:
        """Write the scenario: the first of a few forms of it that has an answer.

        What it replaces is kept beside it before anything is written over.
        """
        from optimiser.presenting.scenario_text import (  # noqa: PLC0415
            let_go,
            not_judged,
            start_scenario,
        )
        from optimiser.presenting.writing import write_whole  # noqa: PLC0415
        from optimiser.studies.start import start  # noqa: PLC0415

        own = self._own_tables(workspace)
        path = workspace / "scenarios" / self.file
        about, known = self.about, self.catalogue
        begun = start(self.base, about.use, known, self.percents, about.markets)
        forms: dict[str, RecipeTold] = {}
        for windows in (True, False):
            for held in (True, False):
                form = with_other(self.about, held=held, windows=windows)
                text = start_scenario(begun, form, self.catalogue)
                forms.setdefault(text, form)
        path.parent.mkdir(exist_ok=True)
        as_they_were = {
            each: each.read_bytes() if each.exists() else None for each in own
        }
        try:
            for table, text in own.items():
                write_whole(table, text, encoding="utf-8", over=True)
            text = self._settled(path, list(forms))
            self._keep(path, text)
            self.notes += let_go(begun, forms[text])
            self.notes += not_judged(begun)
        except BaseException:
            for each, content in as_they_were.items():
                each.unlink(missing_ok=True)
                if content is not None:
                    each.write_bytes(content)
            raise

    def _keep(self, path: Path, text: str) -> None:
        """Write the scenario, and what stood there before beside it."""
        from optimiser.presenting.writing import write_whole  # noqa: PLC0415
        from optimiser.reading.text import read_text  # noqa: PLC0415

        before = read_text(path, self.shown, []) if path.exists() else None
        if before is not None:
            old = path.with_name(f"{self.file}.old")
            write_whole(old, before, encoding="utf-8", over=True)
            self.notes.append(
                f"{self.shown} as it was is kept as {old.name} beside it."
            )
        write_whole(path, text, encoding="utf-8", over=True)

    def _own_tables(self, workspace: Path) -> dict[Path, str]:
        """Return the workshop's tables with what was guessed of names in them."""
        from optimiser.cli.own_rows import with_rows  # noqa: PLC0415
        from optimiser.domain.material import UNKNOWN  # noqa: PLC0415

        place = workspace / "catalogues" / "workshops" / self.about.workshop
        note = f"from {self.about.recipe}: a guess of optimiser begin"
        unknown = f"from {self.about.recipe}: nobody has told what it is"
        own = self.strangers.own
        names = self.strangers.read_as
        known = self.catalogue.ingredients
        tables = {
            "ingredients.csv": [
                {
                    "key": x.key,
                    "name": x.name,
                    "category": x.category,
                    "note": unknown if x.category == UNKNOWN else note,
                }
                | ({"made_in": x.made_in} if x.made_in else {})
                for x in own
            ],
            "recipe_names.csv": [
                {"written": name, "stands_for": known[key].name, "note": note}
                for name, key in names.items()
            ],
        }
        heads = {name: tuple(rows[0]) for name, rows in tables.items() if rows}
        if any(each.category == UNKNOWN for each in own):  # there a name is told
            heads.setdefault("recipe_names.csv", TAUGHT)
        return {
            place / name: with_rows(place / name, head, tables[name])
            for name, head in heads.items()
        }

    def _settled(self, path: Path, texts: Sequence[str]) -> str:
        """Return the form that is written, and note how the recipe stands in it."""
        from optimiser import explaining  # noqa: PLC0415
        from optimiser.presenting.check import broken  # noqa: PLC0415
        from optimiser.presenting.notes import may_be_told  # noqa: PLC0415
        from optimiser.reading import read_scenario  # noqa: PLC0415

        asked = None
        for text in texts:
            asked, catalogue = read_scenario(path, shelf=[], text=text)
            if not isinstance(explaining.formulate(asked, catalogue), explaining.Clash):
                break
        else:
            text = texts[0]
            asked, catalogue = read_scenario(path, shelf=[], text=text)
            told = "No formula keeps every rule around it: run optimiser formulate"
            self.notes.append(f"{told} {self.shown} to see which clash, and ways out.")
        checked = explaining.check(self.percents, asked, catalogue)
        missed = broken(checked.lines)
        self.notes += [
            f"{BREAKS}: {each.rule.sentence}; it has {each.value:.4g} {each.rule.unit}."
            for each in missed
            if each.value is not None
        ]
        self.notes += [may_be_told(each) for each in checked.basis.may_be]
        if not missed and not checked.missing:
            self.notes.append(KEEPS)
        return text


def read_recipe(
    path: Path,
    root: Path,
    scenarios: Path,
    product: str | None,
    use: str | None,
    market: Sequence[str],
    *,
    replace: bool = False,
) -> OwnRecipe:
    """Return a recipe by the names and figures of a folder of catalogues.

    Parameters
    ----------
    scenarios : Path
        What is there already is not written over, unless ``replace`` asks for it and
        it was written from a recipe too.

    Raises
    ------
    InputError
        With whatever of the recipe, or of what is said of it, cannot be read.
    """
    from optimiser.presenting.scenario_text import (  # noqa: PLC0415
        RecipeTold,
        as_written,
        strangers_told,
    )
    from optimiser.presenting.writing import for_a_file  # noqa: PLC0415
    from optimiser.reading import read_catalogue  # noqa: PLC0415
    from optimiser.reading.formulas import beside_base, formula_told  # noqa: PLC0415
    from optimiser.reading.markets import markets_named  # noqa: PLC0415
    from optimiser.reading.recipes.strangers import strangers  # noqa: PLC0415
    from optimiser.reading.workshops import remembered_workshop  # noqa: PLC0415

    workshop = remembered_workshop(root) or DEMO
    shelf: list[Problem] = []
    catalogue = read_catalogue(root, workshop, shelf=shelf)
    problems: list[Problem] = []
    markets = markets_named(market, catalogue, problems)
    used, use_told = _use(product, use, problems)
    name = re.sub(r"[^a-z0-9]+", "_", path.stem.casefold())[:LONGEST_NAME].strip("_")
    name = for_a_file(name or "my_recipe")
    file = f"{name}.toml"
    if is_shipped(scenarios / file):  # a demo of the likeliest name
        file = f"my_{file}"
    problems += _taken(path, scenarios / file, replace=replace)
    guessed = strangers(path, catalogue, root, workshop)
    catalogue = guessed.catalogue
    try:
        read = formula_told(path, catalogue, root, workshop)
    except InputError as error:
        made = Problem("nothing was made yet", str(path), fix=AGAIN)
        nearer = {(each.row, each.field): each for each in guessed.unclear}
        said = [nearer.get((each.row, each.field), each) for each in error.problems]
        raise InputError([*problems, *said, made]) from error
    if problems:
        raise InputError(problems)
    told: list[str | Phrase] = [f"{x[:1].upper()}{x[1:]}." for x in read.notes]
    told += strangers_told(guessed, workshop)
    beside = beside_base(path)
    about = RecipeTold(
        title=_title(name, product),
        recipe=path.name,
        product=product,
        use=used,
        use_told=use_told,
        markets=markets,
        workshop=workshop,
        told=tuple(map(str, told)),
        exclude=beside.exclude,
        grams=read.grams,
    )
    base = as_written(read.percents, catalogue)
    recipe = OwnRecipe(read.percents, base, catalogue, about, file, guessed, shelf)
    recipe.notes += told
    recipe.notes += _beside_told(beside, path.name)
    if not use_told:
        recipe.notes.append(
            phrase(
                "It is taken as leave-on, for nobody said what it is: name it with ",
                Option("product"),
                f", or change use in {recipe.shown}.",
            )
        )
    if "US" in markets and not catalogue.fahrenheit:
        recipe.notes.append(
            "Pages tell °C; for °F beside it write [temperature] and, below it,"
            f" fahrenheit = true into catalogues/workshops/{workshop}/scale.toml."
        )
    if not markets:
        recipe.notes.append(
            phrase(
                "No market is named, so no law is checked: name one with ",
                Option("market"),
                f", or write it into {recipe.shown}.",
            )
        )
    return recipe


def _beside_told(beside: BesideBase, name: str) -> Iterator[str]:
    """Yield what of a scenario that was begun from is carried over, and what is not."""
    from optimiser.presenting.words import clean, listed  # noqa: PLC0415

    if beside.exclude:
        yield f"What {clean(name)} keeps out is kept out here too ([exclude])."
    if beside.others:
        left = listed(tuple(map(clean, beside.others)), 8)
        taken = "formula and [exclude] are" if beside.exclude else "formula is"
        yield (
            f"Of {clean(name)} only the {taken} taken; what else it holds is not:"
            f" {left}. To keep all of a scenario, build on it with a line extends"
            " (GUIDE.md, Write a scenario)."
        )


def is_shipped(path: Path) -> bool:
    """Whether a scenario is one that came with the program, as it came."""
    from optimiser.reading import shipped_folder  # noqa: PLC0415

    own = shipped_folder("scenarios") / path.name
    try:
        return own.read_bytes() == path.read_bytes()
    except OSError:  # one of the two is not there, or cannot be
        return False


def _title(name: str, product: str | None) -> str:
    """Return what a scenario is called: several are of one product.

    >>> _title("my_lip_balm", "lip balm"), _title("winter", "lip balm")
    ('My lip balm', 'Winter (lip balm)')
    """
    own = name.replace("_", " ")
    title = own.capitalize()
    return title if product is None or product in own else f"{title} ({product})"


def _taken(recipe: Path, scenario: Path, *, replace: bool) -> Iterator[Problem]:
    """Yield what keeps a recipe from becoming a scenario of that name."""
    from optimiser.presenting.scenario_text import is_start_scenario  # noqa: PLC0415
    from optimiser.reading.text import read_text  # noqa: PLC0415

    if not scenario.exists():
        return
    own = is_start_scenario(read_text(scenario, scenario.name, []) or "")
    if own and replace:
        return
    wrong = f"would become scenarios/{scenario.name}, which is there already"
    other = "give your recipe's file another name"
    fix: str | Phrase = other
    if own:
        fix = phrase(
            "begin again with ",
            Option("replace"),
            " to write it anew (as it is now it stays beside it, as"
            f" {scenario.name}.old), or {other}",
        )
    elif replace:
        wrong += ", and was not written from a recipe"
    yield Problem(wrong, str(recipe), fix=fix)


def _use(
    product: str | None, use: str | None, problems: list[Problem]
) -> tuple[str, bool]:
    """Return how the product is used, and whether the maker said so."""
    from optimiser.domain.spoken import use_of  # noqa: PLC0415

    if use is not None:
        if use not in USES:
            fix = phrase("write ", *EITHER_USE)
            problems.append(Problem("is no use", field="--use", found=use, fix=fix))
        return use, True
    found = None if product is None else use_of(product)
    if product is not None and found is None:
        wrong = "does not tell whether it stays on the skin or is rinsed off"
        fix = phrase("add ", *EITHER_USE)
        problems.append(Problem(wrong, field="--product", found=product, fix=fix))
    return found or USES[0], product is not None
