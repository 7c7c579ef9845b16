"""What commands share: a formula read, progress told, a result shown or written."""

from __future__ import annotations

import os
import re
import sys
import time
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Protocol, TypeVar

import typer
from msgspec.structs import replace

from optimiser.cli.running import CLASH, catalogues_folder, say, tell, workshop_used
from optimiser.errors import InputError, Option, Problem, phrase

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.scenario import Scenario
    from optimiser.explaining.answer import Clash
    from optimiser.presenting.page import Block, Page
    from optimiser.presenting.sheet import Sheet

Ruled = TypeVar("Ruled")
Found = TypeVar("Found")
Shown_contra = TypeVar("Shown_contra", contravariant=True)

__all__ = [
    "EITHER_USE",
    "SECONDS",
    "USES",
    "AsJson",
    "Bar",
    "Batch",
    "Full",
    "Loss",
    "MouldName",
    "Net",
    "Out",
    "Overfill",
    "ScenarioFile",
    "Spread",
    "Thorough",
    "Units",
    "formula_made",
    "grams_of",
    "in_time",
    "keep_pages",
    "mass_or_none",
    "of_size",
    "quantity_kg",
    "refuse_page_file",
    "refuse_the_same_file",
    "refuse_to_write_twice",
    "rules_of",
    "show",
    "show_clash",
    "show_result",
    "spaced",
    "tell_shelf",
    "write",
]

USES = ("leave-on", "rinse-off")
EITHER_USE = (Option("use", USES[0]), ", or ", Option("use", USES[1]))
# How long a study searches, of the ten seconds that it may take.
SECONDS = 7.0
Thorough = Annotated[
    bool, typer.Option("--thorough", help="Search to the end, however long it takes.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Answer as JSON.")]
ScenarioFile = Annotated[Path, typer.Argument(help="Scenario file (TOML).")]
Full = Annotated[bool, typer.Option("--full", help="Show everything.")]
Out = Annotated[
    Path | None,
    typer.Option("--out", help="Also keep all of it to print (.html), or as .xlsx."),
]


@contextmanager
def in_time(*, thorough: bool) -> Iterator[None]:
    """Let searches end when their time is up; with --thorough, only at their end."""
    from optimiser.solving import to_the_end  # noqa: PLC0415

    with to_the_end() if thorough else nullcontext():
        yield


def show(page: Page) -> None:
    """Print a page in the width of the terminal."""
    from optimiser.presenting.terminal import as_text  # noqa: PLC0415

    say(as_text(page))


class AsPage(Protocol[Shown_contra]):
    """What makes the page of a result, short or whole."""

    def __call__(self, found: Shown_contra, /, *, full: bool) -> Page:
        """Return the page."""


def show_result(
    found: Found,
    data: Callable[[Found], Mapping[str, Any]],
    page: AsPage[Found],
    *,
    full: bool,
    json: bool,
    out: Path | None,
) -> None:
    """Show a result as JSON or as its page; keep all of it where a file is named."""
    if json:
        from optimiser.presenting import as_json  # noqa: PLC0415

        say(as_json(data(found)))
    else:
        show(page(found, full=full))
    if out is not None:
        keep_pages(out, page(found, full=True))


def show_clash(
    clash: Clash,
    as_json: bool,
    csv: Path | None = None,
    *,
    as_asked: bool = True,
    out: Path | None = None,
    first: Sequence[Block] = (),
    full: bool = True,
) -> int:
    """Show why nothing fits, and return the exit code for it.

    ``as_asked`` says whether `formulate` would meet the same clash: where a command
    adds a wish of its own, its ways out cannot be written. ``first`` is what tells it
    by itself; all else is then for ``full``.
    """
    from optimiser import presenting  # noqa: PLC0415

    told = presenting.clash_data(clash)
    page = presenting.clash_page(clash, can_write=as_asked, first=first)
    shown = presenting.clash_page(clash, can_write=as_asked, first=first, full=full)
    say(presenting.as_json(told) if as_json else presenting.as_text(shown))
    if csv is not None:
        tell(f"{presenting.clean(csv)}: not written, for no formula was found.")
    if out is not None:
        keep_pages(out, page)
    return CLASH


def refuse_the_same_file(
    written: Path | None, *read: Path, columns: Sequence[str] | None = None
) -> None:
    """Say so where a file that is read would be written over, or cannot be written.

    Asked before any work is done, so that none is lost. ``columns``, where they are
    known by then, are those of the table that is written: another file is kept.
    """
    if written is None:
        return
    from optimiser.presenting.workbook import (  # noqa: PLC0415
        is_workbook,
        refuse_another_workbook,
    )
    from optimiser.presenting.writing import (  # noqa: PLC0415
        refuse_what_cannot_be_written,
        refuse_what_something_else_wrote,
    )

    for each in read:
        if _same(written, each):
            wrong = "is read by this command, and would be written over"
            fix = "give the file to write another name"
            raise InputError([Problem(wrong, file=str(written), fix=fix)])
    refuse_what_cannot_be_written(written)
    if is_workbook(written):
        refuse_another_workbook(written, columns)
    elif columns is not None:
        refuse_what_something_else_wrote(written, columns)


def refuse_to_write_twice(first: Path | None, second: Path | None) -> None:
    """Say so where two results would go to one file."""
    if first is not None and second is not None and _same(first, second):
        wrong = "is named twice, for two different results"
        fix = "give one of them another name"
        raise InputError([Problem(wrong, file=str(second), fix=fix)])


def _same(one: Path, other: Path) -> bool:
    """Whether two names are one file; links that go in circles are told later."""
    return os.path.realpath(one) == os.path.realpath(other)


def write(
    path: Path | None,
    content: str | Sheet,
    columns: Sequence[str] | None = None,
    encoding: str = "utf-8-sig",
) -> None:
    """Write a file whole, where one was asked for, and say so.

    A table is written as CSV, or as a spreadsheet where the file ends in .xlsx.
    ``columns`` are those that each table of the kind has, where others vary.
    """
    if path is None:
        return
    from optimiser.presenting import clean, write_whole  # noqa: PLC0415
    from optimiser.presenting.workbook import (  # noqa: PLC0415
        is_workbook,
        write_workbook,
    )

    if isinstance(content, str):
        write_whole(path, content, columns=columns, encoding=encoding)
    elif is_workbook(path):
        write_workbook(path, [content], columns)
    else:
        write_whole(path, content.csv, columns=columns, encoding=encoding)
    tell(f"{clean(path)}: written.")


def refuse_page_file(path: Path | None, *read: Path) -> None:
    """Say so, before any work is done, where pages cannot be kept in a file."""
    if path is None:
        return
    from optimiser.presenting.workbook import REPORT, is_workbook  # noqa: PLC0415

    if not is_workbook(path) and path.suffix.casefold() not in {".html", ".htm"}:
        fix = phrase("end its name in .html for a page to print, or in .xlsx")
        if path.suffix.casefold() == ".csv":
            kept = ("; a table as CSV is kept with ", Option("csv"))
            fix = phrase(fix, *kept, ", where there is one")
        wrong = "is neither a page nor a spreadsheet"
        raise InputError([Problem(wrong, field="--out", found=str(path), fix=fix)])
    refuse_the_same_file(path, *read, columns=[REPORT] if is_workbook(path) else None)


def keep_pages(path: Path, *pages: Page) -> None:
    """Write pages to a file: to print, or their tables as a spreadsheet."""
    from optimiser.presenting import clean  # noqa: PLC0415
    from optimiser.presenting.workbook import (  # noqa: PLC0415
        is_workbook,
        page_sheets,
        write_workbook,
    )

    if is_workbook(path):
        write_workbook(path, page_sheets(pages))
        tell(f"{clean(path)}: written.")
        return
    from optimiser.presenting.html import as_html  # noqa: PLC0415

    write(path, as_html(pages), encoding="utf-8")


def quantity_kg(text: str, option: str, example: str) -> float:
    """Return an option such as "60 g" in kg."""
    from optimiser.reading.cells import (  # noqa: PLC0415
        QuantityError,
        read_quantity,
        to_number,
    )

    try:
        return read_quantity(spaced(text), "kg", example)
    except QuantityError as error:
        unit = example.rpartition(" ")[2]
        plain = to_number(text.strip()) is not None
        fix = f'write "{text.strip()} {unit}"' if plain else error.fix
        problem = Problem(str(error), field=option, found=text, fix=fix)
        raise InputError([problem]) from error


Batch = Annotated[
    str | None,
    typer.Option("--batch", help='How much is made, as in "5 kg"; else as it says.'),
]


Units = Annotated[int | None, typer.Option("--units", help="How many units are made.")]
Net = Annotated[
    str | None, typer.Option("--net", help='Net weight of a unit, as in "60 g".')
]
MouldName = Annotated[
    str | None, typer.Option("--mould", help="A mould of the workshop's scale.toml.")
]
Spread = Annotated[
    str | None,
    typer.Option("--spread", help='How much fills vary, as in "1.2 g".'),
]
Loss = Annotated[
    float | None, typer.Option("--loss", help="Percent that stays in the pot.")
]
Overfill = Annotated[
    float | None,
    typer.Option("--overfill", help="Percent a unit gets above its net weight."),
]


def grams_of(
    text: str, option: str, example: str, *, plain: bool = False, most: float = 25_000.0
) -> float:
    """Return an option such as "60 g" in g, above 0.

    ``plain``: what was read off a scale may stand without its unit.
    """
    from optimiser.reading.cells import to_number  # noqa: PLC0415

    number = to_number(text.strip()) if plain else None
    grams = 1000.0 * quantity_kg(text, option, example) if number is None else number
    if not 0.0 < grams <= most:
        fix = f'write a mass above 0 and up to {most / 1e3:g} kg, as in "{example}"'
        raise InputError([Problem("is no such mass", None, None, option, text, fix)])
    return grams


def mass_or_none(text: str | None, option: str, example: str) -> float | None:
    """Return an option such as "60 g" in kg; None where it is not given."""
    return None if text is None else quantity_kg(text, option, example)


def of_size(scenario: Scenario, batch: str | None) -> Scenario:
    """Return a scenario with the batch that the option --batch asks for, if any.

    Raises
    ------
    InputError
        If it is no mass that a batch may have.
    """
    if batch is None:
        return scenario
    from optimiser.reading.scenario import wrong_batch  # noqa: PLC0415

    kg = quantity_kg(batch, "--batch", "5 kg")
    wrong = wrong_batch(kg)
    if wrong is not None:
        told, fix = wrong
        raise InputError([Problem(told, field="--batch", found=batch, fix=fix)])
    return replace(scenario, batch_kg=kg)


def spaced(unit: str) -> str:
    """Return a weight typed without its space, as in 60g, with one.

    >>> spaced("60g"), spaced("0.06 kg"), spaced("60")
    ('60 g', '0.06 kg', '60')
    """
    joined = re.fullmatch(r"\s*([0-9]+(?:\.[0-9]+)?)([^\W\d_]+)\s*", unit)
    return f"{joined[1]} {joined[2]}" if joined else unit


WIDTH = 30
WAIT, PAUSE = 0.7, 0.1  # seconds before the first sight, and between two


class Bar:
    """How much is done, on one line of a terminal; nothing where there is none.

    Parameters
    ----------
    what : str
        What is counted, in a word.
    keeps : bool
        Whether what is done is shown when the keyboard ends it.
    """

    def __init__(self, what: str, *, keeps: bool = True) -> None:
        self._what = what
        self._end = "keeps them" if keeps else "ends it"
        self._shows = sys.stderr.isatty()
        self._next = time.monotonic() + WAIT
        self._drawn = False

    def __call__(self, done: int, of: int) -> None:
        """Show that so many are done."""
        now = time.monotonic()
        if not self._shows or now < self._next:
            return
        self._next = now + PAUSE
        self._drawn = True
        full = WIDTH * done // max(1, of)
        bar = "#" * full + "." * (WIDTH - full)
        sys.stderr.write(f"\r{bar} {done} of {of} {self._what}, Ctrl-C {self._end}")
        sys.stderr.flush()

    def close(self) -> None:
        """Take the bar away."""
        if self._drawn:
            sys.stderr.write("\r\033[K")
            sys.stderr.flush()


def formula_made(
    path: Path, workshop: str | None, batch: str | None = None
) -> Clash | tuple[str, dict[str, float], Catalogue]:
    """Return title, formula and catalogue of a formula file or a scenario's answer.

    A scenario without an answer gives its clash.
    """
    from optimiser import explaining  # noqa: PLC0415
    from optimiser.cli.reading import kept_scenario, shown_as_asked  # noqa: PLC0415
    from optimiser.reading import read_catalogue  # noqa: PLC0415
    from optimiser.reading.formulas import formula_told  # noqa: PLC0415

    if not _is_scenario(path):
        root = catalogues_folder(None)
        workshop = workshop_used(workshop)
        shelf: list[Problem] = []
        catalogue = read_catalogue(root, workshop, shelf=shelf)
        shown_as_asked(catalogue)
        read = formula_told(path, catalogue, root, workshop)
        tell_shelf(shelf)
        if batch is not None:
            tell(f"--batch {batch}: nothing here depends on how much is made.")
        for each in read.notes:
            tell(f"{path.name}: {each}.")
        return path.name, read.percents, catalogue
    if workshop is not None:
        wrong = "is not for a scenario, which names its own workshop"
        problem = Problem(wrong, found="--workshop", fix="leave it out")
        raise InputError([problem])
    shelf = []
    asked, catalogue = kept_scenario(path, shelf=shelf)
    asked = of_size(asked, batch)
    try:
        answer = explaining.formulate(asked, catalogue)
    except InputError as error:  # what lacks a price may lack it by such a row
        raise InputError([*shelf, *error.problems]) from error
    tell_shelf(shelf, "; the formula may be another once they can")
    if isinstance(answer, explaining.Clash):
        return answer
    amounts = {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}
    return answer.title, amounts, catalogue


def tell_shelf(shelf: Sequence[Problem], more: str = "") -> None:
    """Say that prices or stock could not be read, where nothing asked for needs them.

    ``more`` is what that may change.
    """
    if not shelf:
        return
    from optimiser.presenting.words import listed  # noqa: PLC0415

    files = listed(dict.fromkeys(each.file or "" for each in shelf))
    rows = "a row" if len(shelf) == 1 else f"{len(shelf)} places"
    tell(
        f"{files}: {rows} cannot be read, which nothing here needs{more}. See what is"
        " wrong with: optimiser catalogue check"
    )


def _is_scenario(path: Path) -> bool:
    """Whether a file is TOML without a formula written out in it."""
    if path.suffix.casefold() != ".toml":
        return False
    from optimiser.reading.toml_text import read_toml  # noqa: PLC0415

    content = read_toml(path, str(path), [])
    return content is None or "formula" not in content  # its reader tells what is wrong


def rules_of(
    markets: Iterable[str],
    known: Mapping[str, Ruled],
    wrong: str,
    *fix: str | Option,
) -> list[Ruled]:
    """Return what is known of markets as they are named, each once.

    Raises
    ------
    InputError
        With ``wrong`` for each market that nothing is known of.
    """
    from optimiser.domain.spoken import market_named  # noqa: PLC0415

    names = list(dict.fromkeys(map(market_named, markets)))
    there = phrase(f"the markets with rules are {', '.join(known)}", *fix)
    problems = [
        Problem(wrong, field="--market", found=name, fix=there)
        for name in names
        if name not in known
    ]
    if problems:
        raise InputError(problems)
    return [known[name] for name in names]
