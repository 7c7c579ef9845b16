"""An answer found and shown, for the command line; where asked plainly, with no parser.

Loading the parser of arguments takes as long as reading the catalogues and solving.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from optimiser.cli.running import ANSWERED, CLASH, say

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.explaining.answer import Answer, Clash

__all__ = ["Plain", "answered", "plain_question", "show_answer"]

COMMAND, SWITCHES = "formulate", ("--full", "--json")


class Plain(Struct, frozen=True):
    """``optimiser formulate FILE``, with ``--full`` or ``--json`` and nothing else."""

    scenario: Path
    full: bool
    json: bool


def plain_question(arguments: Sequence[str]) -> Plain | None:
    """Return what arguments ask for; None where it takes a parser to tell.

    >>> plain_question(["formulate", "bar.toml", "--json"]).json
    True
    >>> plain_question(["formulate", "bar.toml", "--batch", "2 kg"]) is None
    True
    """
    if list(arguments[:1]) != [COMMAND]:
        return None
    files = [each for each in arguments[1:] if each not in SWITCHES]
    if len(files) != 1 or not files[0] or files[0].startswith("-"):
        return None
    full, json = (each in arguments for each in SWITCHES)
    return Plain(Path(files[0]), full, json)


def answered(asked: Plain) -> int:
    """Answer what was asked plainly, and return the exit code."""
    from optimiser import explaining  # noqa: PLC0415
    from optimiser.cli.reading import kept_scenario  # noqa: PLC0415

    scenario, catalogue = kept_scenario(asked.scenario)
    result = explaining.formulate(scenario, catalogue)
    return show_answer(result, catalogue, full=asked.full, json=asked.json)


def show_answer(
    result: Answer | Clash, catalogue: Catalogue, *, full: bool, json: bool
) -> int:
    """Print an answer, or why there is none, and return the exit code."""
    from optimiser import explaining, presenting  # noqa: PLC0415

    if isinstance(result, explaining.Clash):
        if json:
            say(presenting.as_json(presenting.clash_data(result)))
        else:
            say(presenting.as_text(presenting.clash_page(result)))
        return CLASH
    if json:
        say(presenting.as_json(presenting.answer_data(result)))
    else:
        page = presenting.answer_page(result, catalogue.sources, full=full)
        say(presenting.as_text(page))
    return ANSWERED
