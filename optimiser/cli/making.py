"""A formula from a file, or from the answer to a scenario: what commands work on."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

from optimiser.cli.running import catalogues_folder, tell, workshop_used
from optimiser.cli.studying import of_size
from optimiser.errors import InputError, Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optimiser.domain.catalogue import Catalogue
    from optimiser.explaining.answer import Clash

__all__ = ["formula_made", "tell_shelf"]


def formula_made(
    path: Path, workshop: str | None, batch: str | None = None
) -> Clash | tuple[str, dict[str, float], Catalogue]:
    """Return title, formula and catalogue of a formula file or a scenario's answer.

    A scenario without an answer gives its clash.
    """
    from optimiser import explaining  # noqa: PLC0415
    from optimiser.reading import read_catalogue, read_scenario  # noqa: PLC0415
    from optimiser.reading.formulas import formula_told  # noqa: PLC0415

    if not _is_scenario(path):
        root = catalogues_folder(None)
        workshop = workshop_used(workshop)
        shelf: list[Problem] = []
        catalogue = read_catalogue(root, workshop, shelf=shelf)
        read = formula_told(path, catalogue, root, workshop)
        tell_shelf(shelf)
        if batch is not None:
            tell(f"--batch {batch}: nothing here depends on how much is made.")
        for each in read.told:
            tell(f"{path.name}: {each}.")
        return path.name, read.percents, catalogue
    if workshop is not None:
        wrong = "is not for a scenario, which names its own workshop"
        problem = Problem(wrong, found="--workshop", fix="leave it out")
        raise InputError([problem])
    shelf = []
    asked, catalogue = read_scenario(path, shelf=shelf)
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
    try:
        return "formula" not in tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError):  # its reader tells what is wrong
        return True
