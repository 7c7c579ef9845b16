"""``optimiser begin``: a starter workspace, whole or not at all."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Annotated

import typer

from optimiser.cli.running import say
from optimiser.errors import InputError, Problem

__all__ = ["begin"]

PARTS = ("catalogues", "scenarios")


def begin(
    folder: Annotated[Path, typer.Argument(help="New or empty folder to fill.")],
    json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
) -> None:
    """Fill a new folder with catalogues and scenarios to start from.

    Example: optimiser begin my_workshop
    """
    from optimiser import presenting  # noqa: PLC0415
    from optimiser.reading import shipped_folder  # noqa: PLC0415

    _refuse_what_is_there(folder)
    _fill(folder, {name: shipped_folder(name) for name in PARTS})
    following = _next(folder)
    if json:
        told = {"status": "answered", "folder": str(folder), "next": following}
        say(presenting.as_json(told))
        return
    lines = "\n".join(f"  {line}" for line in following)
    say(
        f"{presenting.clean(folder)} is ready: its catalogues and scenarios are yours "
        f"to change.\nNext:\n{lines}\n"
    )


def _refuse_what_is_there(folder: Path) -> None:
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        wrong = "is there already, and is not a folder"
    elif folder.is_dir() and any(folder.iterdir()):
        wrong = "is there already, and is not empty"
    else:
        return
    fix = "name a new folder; nothing was changed"
    raise InputError([Problem(wrong, file=str(folder), fix=fix)])


def _fill(folder: Path, sources: dict[str, Path]) -> None:
    """Copy to a folder beside, or inside where it exists, and move it into place."""
    exists = folder.is_dir()
    parent = folder if exists else folder.absolute().parent
    parent.mkdir(parents=True, exist_ok=True)
    draft = parent / f".begin.{os.getpid()}"
    draft.mkdir()
    try:
        for name, source in sources.items():
            _copy(source, draft / name)
        if exists:
            for name in sources:
                (draft / name).rename(folder / name)
            draft.rmdir()
        else:
            draft.rename(folder)
    except BaseException:
        shutil.rmtree(draft, ignore_errors=True)
        raise


def _copy(source: Path, target: Path) -> None:
    """Copy files and folders, not their permissions: the copy is the maker's own."""
    target.mkdir()
    for each in sorted(source.iterdir()):
        if each.name.startswith((".", "__")):
            continue
        if each.is_dir():
            _copy(each, target / each.name)
        else:
            shutil.copyfile(each, target / each.name)


def _next(folder: Path) -> list[str]:
    """Return the commands to run next, with a scenario that is really there."""
    scenarios = sorted((folder / "scenarios").glob("*.toml"))
    workshops = sorted((folder / "catalogues" / "workshops").iterdir())
    lines = [f"optimiser formulate scenarios/{each.name}" for each in scenarios[:1]]
    lines += [
        f"optimiser catalogue list --workshop {each.name}" for each in workshops[:1]
    ]
    quoted = f'"{folder}"' if " " in str(folder) else str(folder)
    return lines if folder == Path() else [f"cd {quoted}", *lines]
