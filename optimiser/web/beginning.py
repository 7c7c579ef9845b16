"""Beginning from the page: a workspace, and a first scenario of one's own in it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import tomlkit
from msgspec import Struct
from msgspec.structs import replace

from optimiser.cli.begin import begun, is_workspace
from optimiser.domain.spoken import use_of
from optimiser.errors import InputError, Phrase
from optimiser.presenting.writing import for_a_file, shortened, write_whole
from optimiser.reading import read_scenario, shipped_folder
from optimiser.web.rooms import Rooms, Upload, free_name, scenarios

__all__ = ["BeginTold", "Started", "begin_here", "starters"]


class BeginTold(Struct, frozen=True, forbid_unknown_fields=True):
    """What is made and where it is sold; from a recipe, or from another scenario.

    ``replace`` lets a recipe's scenario of before be written anew.
    """

    product: str = ""
    use: str = ""
    markets: tuple[str, ...] = ()
    recipe: Upload | None = None
    start: str = ""
    replace: bool = False


class Started(Struct, frozen=True):
    """The scenario that was begun, as seen from the workspace, and notes on it."""

    file: str
    notes: tuple[str | Phrase, ...]


def starters(workspace: Path) -> list[tuple[str, str]]:
    """Return scenarios to start from: those here, else those that a new one gets."""
    here = scenarios(workspace)
    return here or scenarios(shipped_folder("scenarios").parent)


def begin_here(rooms: Rooms, told: BeginTold) -> Started:
    """Fill the folder where it is no workspace yet, and write a scenario into it.

    Raises
    ------
    InputError
        If the recipe, or what is said of it, cannot be read; then nothing is changed.
    """
    workspace, product = rooms.workspace, " ".join(told.product.split())
    if told.recipe is not None:
        path = rooms.keep(told.recipe)
        more = product or None, told.use or None, list(told.markets)
        try:
            made = begun(workspace, path, *more, replace=told.replace)
        except InputError as error:
            raise named_as_dropped(error, path) from error
        return Started(f"scenarios/{made.file}", made.notes)
    notes: tuple[str | Phrase, ...] = ()
    if not is_workspace(workspace):
        notes = begun(workspace).notes
    start = dict(scenarios(workspace)).get(told.start)
    file = told.start if start else scenarios(workspace)[0][0]
    if not product and not told.markets:
        return Started(file, notes)
    path = _other(workspace / file, product, told.use, told.markets)
    return Started(path.relative_to(workspace).as_posix(), notes)


def named_as_dropped(error: InputError, path: Path) -> InputError:
    """Return problems with a dropped file under the name that it came with."""
    found = [
        replace(each, file=path.name) if each.file == str(path) else each
        for each in error.problems
    ]
    return InputError(found)


def _other(start: Path, product: str, use: str, markets: Sequence[str]) -> Path:
    """Write a scenario that is another but for its product and markets.

    Raises
    ------
    InputError
        If it cannot be read then.
    """
    name = re.sub(r"[^a-z0-9]+", "_", product.casefold()).strip("_") or start.stem
    path = free_name(start.with_name(f"{for_a_file(shortened(name))}.toml"))
    file = tomlkit.document()
    file.add("title", tomlkit.string(product.capitalize() or path.stem))
    file.add("extends", tomlkit.string(start.name))
    if product:
        file.add("product", tomlkit.string(product))
        used = use or use_of(product)
        if used:
            file.add("use", tomlkit.string(used))
    if markets:
        file.add("market", tomlkit.item(list(markets)))
    write_whole(path, tomlkit.dumps(file), encoding="utf-8")
    try:
        read_scenario(path)
    except InputError:
        path.unlink()
        raise
    return path
