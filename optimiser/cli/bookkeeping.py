"""What `record` and `trace` share: whose book it is, and options as facts."""

from __future__ import annotations

import getpass
import math
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from optimiser.cli.running import catalogues_folder, workshop_used
from optimiser.cli.studying import grams_of, spaced, tell_shelf
from optimiser.errors import InputError, Option, Problem, phrase

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.record import Book, Fact

__all__ = [
    "Place",
    "day_of",
    "degrees_of",
    "facts_of",
    "gathered",
    "in_words",
    "place_of_scenario",
    "place_of_workshop",
    "weighed_of",
    "writer",
]

LONGEST = 2000  # signs of a note


class Place(Struct, frozen=True):
    """A book: its file, what it is called, and the workspace and workshop it is of."""

    file: Path
    shown: str
    root: Path
    workshop: str

    def catalogue(self, *, lenient: bool = False) -> Catalogue:
        """Return the catalogue of the workshop, for its lots.

        ``lenient`` leaves out rows of prices and stock that are wrong, and says so:
        nothing there keeps a maker from tracing a lot.
        """
        from optimiser.cli.reading import shown_as_asked  # noqa: PLC0415
        from optimiser.reading import read_catalogue  # noqa: PLC0415

        shelf: list[Problem] = []
        beside = shelf if lenient else None
        found = read_catalogue(self.root, self.workshop, shelf=beside)
        tell_shelf(shelf)
        shown_as_asked(found)
        return found

    def book(self) -> Book:
        """Return the book as it is."""
        from optimiser.reading.records import read_book  # noqa: PLC0415

        return read_book(self.file, self.shown)


def _place(root: Path, workshop: str) -> Place:
    from optimiser.reading.records import FILE  # noqa: PLC0415

    shown = f"{root.name}/workshops/{workshop}/{FILE}"
    return Place(root / "workshops" / workshop / FILE, shown, root, workshop)


def place_of_scenario(scenario: Path, workshop: str) -> Place:
    """Return the book of a scenario's workshop.

    Raises
    ------
    InputError
        If it names none, or one that came with the program.
    """
    from optimiser.reading.folders import catalogues_of, workshop_folder  # noqa: PLC0415

    if not workshop:
        wrong = "names no workshop, so there is nowhere to record"
        fix = 'write workshop = "NAME" above the first [table]'
        raise InputError([Problem(wrong, str(scenario), field="workshop", fix=fix)])
    if workshop_folder(scenario, workshop) is None:
        raise InputError([_not_yours(str(scenario))])
    return _place(catalogues_of(scenario), workshop)


def _not_yours(file: str | None) -> Problem:
    wrong = "uses the catalogues that came with the program, which are not yours"
    if file is None:
        wrong = "there is no workspace of yours here to record in"
    fix = "begin a workspace with: optimiser begin FOLDER, and work there"
    return Problem(wrong, file, fix=fix)


def place_of_workshop(given: str | None) -> Place:
    """Return the book of a workshop that was named, or is remembered.

    Raises
    ------
    InputError
        If there is none.
    """
    from optimiser.reading.folders import Folder  # noqa: PLC0415
    from optimiser.reading.workshops import find_workshop  # noqa: PLC0415

    root, here = catalogues_folder(None), Path.cwd()
    if root.parent not in (here, *here.parents):
        raise InputError([_not_yours(None)])
    workshop = workshop_used(given)
    if workshop is None:
        written = ', or write workshop = "NAME" in workspace.toml'
        fix = phrase("add ", Option("workshop", "NAME"), written)
        raise InputError([Problem("is missing", field="--workshop", fix=fix)])
    problems: list[Problem] = []
    find_workshop(Folder(root / "workshops", f"{root.name}/workshops", problems),
                  workshop, None)  # fmt: skip
    if problems:
        raise InputError(problems)
    return _place(root, workshop)


def writer(given: str | None) -> str:
    """Return who writes: as told, or as the machine knows them."""
    if given is not None:
        return in_words(given, "--by")[:60]
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return ""


def gathered(*parts: Callable[[], object]) -> None:
    """Do each, and tell what was wrong with all of them in one go."""
    problems: list[Problem] = []
    for each in parts:
        try:
            each()
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)


def weighed_of(text: str, option: str, example: str) -> float:
    """Return what a scale showed, g; a plain number is in g."""
    from optimiser.domain.record import MOST_GRAMS  # noqa: PLC0415

    return grams_of(text, option, example, plain=True, most=MOST_GRAMS)


def degrees_of(
    text: str, option: str, coldest: float | None = None, hottest: float | None = None
) -> float:
    """Return a temperature in deg C; a plain number is in deg C."""
    from optimiser.reading.cells import (  # noqa: PLC0415
        COLDEST,
        HOTTEST,
        QuantityError,
        read_quantity,
        to_number,
    )

    wrong, fix = "is no temperature here", 'write it like "72 degC"'
    found = to_number(text.strip())
    if found is None:
        try:
            found = read_quantity(spaced(text), "degC", "72 degC")
        except QuantityError as error:
            found, wrong, fix = math.nan, str(error), error.fix
    low = COLDEST if coldest is None else coldest
    high = HOTTEST if hottest is None else hottest
    if not low <= found <= high:
        raise InputError([Problem(wrong, None, None, option, text, fix)])
    return found


def day_of(text: str | None, option: str) -> date:
    """Return a day; today where none is named, and none that is to come."""
    from optimiser.reading.cells import date_advice, to_date  # noqa: PLC0415

    if text is None:
        return date.today()
    found = to_date(text.strip())
    if found is None:
        problem = Problem("is not a date", None, None, option, text, date_advice(text))
        raise InputError([problem])
    if found > date.today():
        fix = "record a batch once it is made"
        raise InputError([Problem("is a day to come", None, None, option, text, fix)])
    return found


def facts_of(
    temperatures: Sequence[str],
    yielded: str | None,
    units: int | None,
    net: str | None,
    notes: Sequence[str],
) -> list[Fact]:
    """Return what options say of a batch; all that is wrong is told at once."""
    from optimiser.domain.record import (  # noqa: PLC0415
        MOST_UNITS,
        Note,
        Units,
        Yielded,
    )

    facts: list[Fact] = []

    count = Option("units", "24")

    def filled() -> None:
        grams = None if net is None else weighed_of(net, "--net", "60 g")
        if units is None:
            if net is not None:
                fix = phrase("add how many units were filled: ", count)
                raise InputError([Problem("tells of units", field="--net", fix=fix)])
            return
        if not 1 <= units <= MOST_UNITS:
            fix = phrase("write how many were filled, as in ", count)
            wrong = "is no count of units"
            raise InputError([Problem(wrong, None, None, "--units", str(units), fix)])
        facts.append(Units(units, grams))

    def poured() -> None:
        if yielded is not None:
            facts.append(Yielded(weighed_of(yielded, "--yield", "1420 g")))

    def noted() -> None:
        for each in notes:
            text = in_words(each, "--note")
            if not text:
                fix = f"write a line of up to {LONGEST} letters"
                raise InputError([Problem("is no note", field="--note", fix=fix)])
            facts.append(Note(text))

    reading = [lambda each=each: facts.append(_read(each)) for each in temperatures]
    gathered(*reading, poured, filled, noted)
    return facts


def _read(text: str) -> Fact:
    from optimiser.domain.record import Temperature  # noqa: PLC0415

    stage, mark, degrees = text.partition("=")
    if not mark or not stage.strip():
        fix = 'name the stage and what was read, as in "melt=78 degC"'
        wrong = "names no stage"
        raise InputError([Problem(wrong, None, None, "--temperature", text, fix)])
    stage = in_words(stage, "--temperature")
    return Temperature(stage, degrees_of(degrees, "--temperature"))


def in_words(text: str, option: str) -> str:
    """Return what somebody said, on one line; it may be blank.

    Raises
    ------
    InputError
        If it is longer than a note, or holds what is no writing: a sign that steers a
        screen, or that turns the order in which a line is read.
    """
    said = " ".join(text.split())
    if len(said) <= LONGEST and said.isprintable():
        return said
    wrong = f"is longer than {LONGEST} signs"
    fix = "say it in fewer words, or in several notes"
    if not said.isprintable():
        wrong = "holds signs that are no writing"
        fix = "type it anew: letters, digits, stops and spaces"
    raise InputError([Problem(wrong, field=option, found=said[:40], fix=fix)])
