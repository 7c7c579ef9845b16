"""What all commands share: printing, messages, exit codes, where catalogues are."""

from __future__ import annotations

import codecs
import errno
import io
import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from pathlib import Path
from typing import IO

from msgspec.structs import replace

from optimiser.errors import InputError, Problem

__all__ = [
    "ANSWERED",
    "ATTENTION",
    "CLASH",
    "catalogues_folder",
    "installed_version",
    "lenient_streams",
    "let_go",
    "near",
    "plain_letters",
    "say",
    "seen",
    "tell",
    "tell_problems",
    "unwritten",
    "workshop_used",
]

# Exit codes; 2, a usage error, is typer's own.
ANSWERED, ATTENTION, CLASH = 0, 1, 3
MOST_PROBLEMS = 40  # more of them help nobody
LONGEST = 600  # signs of each part of a message
A_LIST = 3  # rows of a column with one problem are told as a list
DISTRIBUTION = "formulation-optimiser"
NOWHERE = "the answer could not be written to where it was sent"
SEND = "send it somewhere that can be written to, and has room"
NEAR = "optimiser-near"
PLAIN = {
    "\N{DEGREE SIGN}": "deg",
    "\N{MULTIPLICATION SIGN}": "x",
    "\N{EN DASH}": "-",
    "\N{EM DASH}": "-",
    "\N{MINUS SIGN}": "-",
    "\N{MICRO SIGN}": "u",
    "\N{EURO SIGN}": "EUR",
    "\N{RIGHT SINGLE QUOTATION MARK}": "'",
}
_said: list[int] = []  # how long each result was that went to stdout in this run


def lenient_streams() -> None:
    """Let a terminal that lacks a character show what comes near it, or "?".

    Raises
    ------
    InputError
        If there is nowhere at all that a result could be written to.
    """
    _said.clear()
    if sys.stdout is None or sys.stderr is None:
        # What is opened next would get their numbers, and whatever prints there.
        while os.open(os.devnull, os.O_RDWR) < 3:
            pass
    if sys.stdout is None:
        raise InputError([Problem(f"{NOWHERE} (it is closed)", fix=SEND)])
    try:
        os.getcwd()  # noqa: PTH109 - only whether there is one
    except OSError as error:
        wrong = "the folder that you are in is not there any more, or may not be read"
        raise InputError(
            [Problem(wrong, fix="go to another one (cd) first")]
        ) from error
    codecs.register_error(NEAR, plain_letters)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=NEAR)


def plain_letters(error: UnicodeError) -> tuple[str, int]:
    """Return what stands for letters that a terminal lacks, and where to go on.

    >>> codecs.register_error(NEAR, plain_letters)
    >>> "25 °C, café, 茶".encode("ascii", NEAR)
    b'25 degC, cafe, ?'
    """
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lacking = error.object[error.start : error.end]
    return "".join(map(near, lacking)), error.end


def near(letter: str) -> str:
    """Return what stands for a letter where there is only ASCII; "?" if nothing does.

    >>> near("é"), near("a"), near("茶")
    ('e', 'a', '?')
    """
    import unicodedata  # noqa: PLC0415 - seldom needed

    if letter in PLAIN:
        return PLAIN[letter]
    base = unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
    return base or ("" if unicodedata.combining(letter) else "?")


def say(text: str) -> None:
    """Write a result to stdout; a reader that has gone away is no error.

    Raises
    ------
    InputError
        If it cannot be written for another reason, such as a full disk.
    """
    _said.append(len(text))
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        let_go(sys.stdout)
    except OSError as error:
        if sys.platform == "win32" and error.errno == errno.EINVAL:
            let_go(sys.stdout)  # so it is told there that nobody reads any more
            return
        raise unwritten(error) from error


def unwritten(error: OSError) -> InputError:
    """Return the failure to write to stdout as a message, and let stdout go."""
    let_go(sys.stdout)
    wrong = f"{NOWHERE} ({error.strerror or error})"
    return InputError([Problem(wrong, fix=SEND)])


def let_go(stream: IO[str] | None) -> None:
    """Send what a stream still holds back nowhere, or it fails again at the end."""
    if stream is None:
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
    except (OSError, ValueError):
        return  # no file is behind it


def tell(message: str) -> None:
    """Write a message to stderr; where that fails there is nobody to tell.

    Whatever names it holds, they steer no terminal.
    """
    if sys.stderr is None:
        return
    try:
        sys.stderr.write(f"{seen(message)}\n")
        sys.stderr.flush()
    except OSError:
        let_go(sys.stderr)


def seen(message: str) -> str:
    r"""Return lines without signs that are not seen, or turn the order of reading.

    >>> seen("beeswax\x1b[31m:\tadded\u202e up.\n  To fix: ...")
    'beeswax[31m: added up.\n  To fix: ...'
    """
    if all(map(str.isprintable, message.split("\n"))):
        return message
    return "".join(
        x if x == "\n" or x.isprintable() else " " * x.isspace() for x in message
    )


def tell_problems(problems: Iterable[Problem], as_json: bool) -> None:
    """Write what needs attention: as JSON to stdout, or as messages to stderr.

    Stdout holds one JSON document: once a result is there, messages go to stderr.
    """
    from optimiser.presenting.data import as_json as json_text  # noqa: PLC0415
    from optimiser.presenting.data import problems_data  # noqa: PLC0415

    problems = [_short(each) for each in dict.fromkeys(problems)]
    more = len(problems) - MOST_PROBLEMS
    if more > 0:
        wrong = f"and {more} more problems like these are not shown"
        fix = "put right what is shown, and ask again"
        problems = [*problems[:MOST_PROBLEMS], Problem(wrong, fix=fix)]
    if as_json and not _said and sys.stdout is not None:
        try:
            say(json_text(problems_data(problems)))
        except InputError as error:
            problems += error.problems
        else:
            return
    tidy = (_clean(each) for each in problems)
    for _, alike in groupby(tidy, lambda x: (x.file, x.field, x.wrong, x.row is None)):
        for told in _together(list(alike)):
            tell(told)


def _clean(problem: Problem) -> Problem:
    from optimiser.presenting.words import clean  # noqa: PLC0415

    texts = {
        name: clean(str(text))
        for name in ("wrong", "file", "field", "found", "fix", "within")
        if (text := getattr(problem, name)) is not None
    }
    return replace(problem, **texts)


def _together(alike: Sequence[Problem]) -> Iterator[str]:
    """Yield problems that are one in several rows of a column as one list."""
    from optimiser.presenting.words import listed  # noqa: PLC0415

    first = alike[0]
    if len(alike) < A_LIST or first.row is None or not first.file:
        yield from map(str, alike)
        return
    column = "" if first.field is None else f", column {first.field}"
    same = len({each.fix for each in alike}) == 1
    bare = same and all(each.found is None and each.cell is None for each in alike)
    rows = f"in {len(alike)} rows"
    if bare:
        rows = f"rows {listed([str(each.row) for each in alike])}"
    yield f"{first.file}{column}, {rows}: {first.wrong}."
    for each in () if bare else alike:
        place = f"row {each.row}" if each.cell is None else f"cell {each.cell}"
        found = "" if each.found is None else f": '{each.found}'"
        fix = "" if same or each.fix is None else f"; {each.fix}"
        yield f"  {place}{found}{fix}"
    if same and first.fix is not None:
        yield f"  To fix: {first.fix}."


def _short(problem: Problem) -> Problem:
    """Return a problem with what a file holds cut to what can be read."""
    long = {
        name: f"{str(text)[:LONGEST]}..."
        for name in ("wrong", "field", "found", "fix")
        if len(str(text := getattr(problem, name) or "")) > LONGEST
    }
    return replace(problem, **long) if long else problem


def catalogues_folder(given: Path | None) -> Path:
    """Return the folder of catalogues: as given, the nearest above, or the shipped.

    Parameters
    ----------
    given : Path or None
        What the maker named; taken as it is.
    """
    if given is not None:
        return given
    from optimiser.reading import nearest_catalogues  # noqa: PLC0415

    here = Path.cwd()
    return nearest_catalogues((here, *here.parents))


def installed_version() -> str:
    """Return the version of this package, as installed."""
    from importlib import metadata  # noqa: PLC0415

    try:
        return metadata.version(DISTRIBUTION)
    except metadata.PackageNotFoundError:
        return "not installed"


def workshop_used(given: str | None, folder: Path | None = None) -> str | None:
    """Return the workshop that was named, or the one that the workspace remembers.

    ``catalogues/workspace.toml`` names it; `optimiser begin` writes that file. Where
    there is none, no workshop's prices and rows count.

    Parameters
    ----------
    folder : Path, optional
        The folder of catalogues, as the maker named it.

    Raises
    ------
    InputError
        If the file cannot be read.
    """
    if given is not None:
        return given
    from optimiser.reading.workshops import remembered_workshop  # noqa: PLC0415

    return remembered_workshop(catalogues_folder(folder))
