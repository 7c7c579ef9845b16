"""What all commands share: printing, messages, exit codes, where catalogues are."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optimiser.errors import Problem

__all__ = [
    "ANSWERED",
    "ATTENTION",
    "CLASH",
    "catalogues_folder",
    "lenient_streams",
    "say",
    "tell",
    "tell_problems",
]

# Exit codes; 2, a usage error, is typer's own.
ANSWERED, ATTENTION, CLASH = 0, 1, 3


def lenient_streams() -> None:
    """Let a terminal that lacks a character show "?" in its place."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def say(text: str) -> None:
    """Write a result to stdout; a reader that has gone away is no error."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        # What is still held back would fail again as Python ends.
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())


def tell(message: str) -> None:
    """Write a message to stderr."""
    sys.stderr.write(f"{message}\n")
    sys.stderr.flush()


def tell_problems(problems: Iterable[Problem], as_json: bool) -> None:
    """Write what needs attention: as JSON to stdout, or as messages to stderr."""
    from optimiser.errors import Problem  # noqa: PLC0415
    from optimiser.presenting.data import as_json as json_text  # noqa: PLC0415
    from optimiser.presenting.data import problems_data  # noqa: PLC0415
    from optimiser.presenting.words import clean  # noqa: PLC0415

    if as_json:
        say(json_text(problems_data(problems)))
        return
    for each in problems:
        cleaned = {
            name: None if value is None else clean(value)
            for name, value in (
                ("file", each.file),
                ("field", each.field),
                ("found", each.found),
                ("fix", each.fix),
            )
        }
        tell(str(Problem(clean(each.wrong), row=each.row, **cleaned)))


def catalogues_folder(given: Path | None) -> Path:
    """Return the folder of catalogues: as given, the nearest above, or the shipped.

    Parameters
    ----------
    given : Path or None
        What the maker named; taken as it is.
    """
    if given is not None:
        return given
    here = Path.cwd()
    for folder in (here, *here.parents):
        if (folder / "catalogues" / "materials").is_dir():
            return folder / "catalogues"
    from optimiser.reading import shipped_folder  # noqa: PLC0415

    return shipped_folder("catalogues")
