"""A table of recipes that was dropped: its survey, with answers given on the page."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from threading import Lock

from msgspec import Struct
from msgspec.structs import replace

from optimiser.cli.survey import slug, surveyed
from optimiser.domain.catalogue import Catalogue
from optimiser.errors import InputError, Problem
from optimiser.presenting.page import Page, untyped
from optimiser.presenting.survey.page import survey_page
from optimiser.presenting.survey.scenario import survey_scenario
from optimiser.presenting.writing import for_a_file, shortened, write_whole
from optimiser.reading import nearest_catalogues, read_scenario
from optimiser.reading.workshops import remembered_workshop
from optimiser.studies.survey import Asked, Survey

__all__ = ["SurveyDesk", "SurveyTold", "ToAnswer"]

MOST = 30  # questions and names at a time
LEFT_OUT = "leave out"  # is no name, but an answer
OWN = {"Classes", "To be answered before they count", "Structures", "Names not known"}


class SurveyTold(Struct, frozen=True, forbid_unknown_fields=True):
    """What is asked of a survey, and answers to what recipes leave open.

    ``answers`` are ((recipes, ingredient as written), answer), ``names`` names as
    written with what each stands for.
    """

    product_class: str = ""
    structure: str = ""
    use: str = ""
    markets: tuple[str, ...] = ()
    zone: str = ""
    middle: bool = False
    answers: tuple[tuple[tuple[tuple[str, ...], str], str], ...] = ()
    names: tuple[tuple[str, str], ...] = ()


class ToAnswer(Struct, frozen=True):
    """One thing to answer: of which recipes, about what, and what may be said."""

    recipes: tuple[str, ...]
    ingredient: str
    asks: str
    hint: str


class SurveyDesk:
    """One table of recipes, and what was answered so far.

    Raises
    ------
    InputError
        If nothing of it can be read.
    """

    def __init__(self, path: Path, workspace: Path) -> None:
        self.path, self._workspace = path, workspace
        whole = workspace.resolve()
        self._root = nearest_catalogues((whole, *whole.parents))
        workshop = remembered_workshop(self._root)
        self.asked = Asked(workshop=workshop)
        self.answers: dict[tuple[str, str], str] = {}
        self.names: dict[str, str] = {}
        self._lock = Lock()
        self.found, self.catalogue, self.problems = self._survey(self.asked, {}, {})
        if len(self.found.classes) == 1:
            self.ask(SurveyTold(product_class=next(iter(self.found.classes))))

    def ask(self, told: SurveyTold) -> None:
        """Survey again, with what was said; what was answered before stays.

        Raises
        ------
        InputError
            If something of it is not understood; then nothing changes.
        """
        with self._lock:
            asked = replace(
                self.asked,
                product_class=told.product_class or None,
                structure=told.structure or None,
                use=told.use or None,
                markets=told.markets,
                zone=told.zone or None,
                middle=told.middle,
            )
            if asked.product_class != self.asked.product_class:
                asked = replace(asked, structure=None)
            answers, names = dict(self.answers), dict(self.names)
            for (recipes, ingredient), text in told.answers:
                if text.strip():
                    answers |= {(each, ingredient): text for each in recipes}
            for written, text in told.names:
                if text.strip().casefold() == LEFT_OUT:
                    answers |= {(each, written): text for each in self._having(written)}
                elif text.strip():
                    names[written] = text
            found = self._survey(asked, answers, names)
            self.found, self.catalogue, self.problems = found
            self.asked, self.answers, self.names = asked, answers, names

    def _survey(
        self,
        asked: Asked,
        answers: dict[tuple[str, str], str],
        names: dict[str, str],
    ) -> tuple[Survey, Catalogue, list[Problem]]:
        said = _written(
            self.path.with_name("answers.csv"),
            ("recipe", "ingredient", "answer"),
            [(*place, text) for place, text in answers.items()],
        )
        taught = _written(
            self.path.with_name("names.csv"),
            ("written", "stands_for"),
            list(names.items()),
        )
        try:
            found, catalogue, problems = surveyed(
                [self.path], self._root, said, taught, asked
            )
        except InputError as error:
            raise InputError(map(self._plain, error.problems)) from error
        files = tuple(Path(each).name for each in found.files)
        return replace(found, files=files), catalogue, list(map(self._plain, problems))

    def _plain(self, problem: Problem) -> Problem:
        """Return a problem under the name that a file came with."""
        folder = f"{self.path.parent}/"
        file = None if problem.file is None else problem.file.removeprefix(folder)
        return replace(problem, file=file)

    # -- what is shown -----------------------------------------------------------------

    def page(self) -> Page:
        """Return the page on the survey, without what is asked in fields of its own."""
        page = survey_page(self.found, self.catalogue)
        plain = untyped(page.sections)
        return replace(page, sections=tuple(x for x in plain if x.title not in OWN))

    def questions(self) -> list[ToAnswer]:
        """Return what has to be answered; what one answer settles is one."""
        asked: dict[tuple[str, str, str], list[str]] = {}
        unknown = {name for name, _ in self._unknown()}
        for recipe in self.found.recipes:
            for each in recipe.questions:
                if each.about == "name" and each.line in unknown:
                    continue  # asked once, as a name
                what = "" if each.found is None else f"{each.found}: "
                key = (each.line, f"{what}{each.wrong}", each.may_be)
                asked.setdefault(key, []).append(recipe.name)
        return [
            ToAnswer(tuple(dict.fromkeys(recipes)), *key)
            for key, recipes in list(asked.items())[:MOST]
        ]

    def unknown(self) -> list[tuple[str, str]]:
        """Return names that stand for nothing known, with the nearest that is."""
        return self._unknown()[:MOST]

    def _having(self, written: str) -> list[str]:
        """Return the recipes in which a name is written."""
        return [
            recipe.name
            for recipe in self.found.recipes
            if any(line.written.name == written for line in recipe.lines)
        ]

    def _unknown(self) -> list[tuple[str, str]]:
        found = {
            line.written.name: line.match.nearest or ""
            for recipe in self.found.recipes
            for line in recipe.lines
            if line.category is None
            and line.match.absent is None
            and (recipe.name, line.written.name) not in self.answers
        }
        return list(found.items())

    @property
    def has_base(self) -> bool:
        """Whether a scenario can be written from it."""
        return self.found.base is not None and bool(self.found.base.lines)

    @property
    def name(self) -> str:
        """What the scenario's file may be called."""
        return slug(self.found)

    def write(self, name: str) -> str:
        """Write the scenario, and return it as seen from the workspace.

        Raises
        ------
        InputError
            If it has no base, or the file is there already or cannot be read then.
        """
        if not self.has_base:
            wrong = "there is no base yet, so no scenario can be written"
            raise InputError([Problem(wrong, fix="answer what is asked first")])
        stem = re.sub(r"[^\w.-]+", "_", name.removesuffix(".toml")).strip("_.")
        folder = self._workspace / "scenarios"
        folder.mkdir(exist_ok=True)
        path = folder / f"{for_a_file(shortened(stem) or self.name)}.toml"
        if path.exists() or path.is_symlink():
            wrong, fix = "is there already", "give another name"
            raise InputError([Problem(wrong, path.name, fix=fix)])
        text = survey_scenario(self.found, self.catalogue)
        write_whole(path, text, encoding="utf-8")
        try:
            read_scenario(path)
        except InputError:
            path.unlink()
            raise
        return path.relative_to(self._workspace).as_posix()


def _written(
    path: Path, head: tuple[str, ...], rows: list[tuple[str, ...]]
) -> Path | None:
    """Write a table beside the recipes; None where it would be empty."""
    if not rows:
        return None
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([head, *rows])
    return path
