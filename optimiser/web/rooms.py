"""What is open over one workspace: scenarios that are changed, recipes surveyed."""

from __future__ import annotations

import base64
import re
import secrets
import shutil
import tempfile
import weakref
from collections import OrderedDict
from pathlib import Path
from typing import TypeVar

from msgspec import Struct

from optimiser.errors import InputError, Problem
from optimiser.presenting.writing import for_a_file, shortened
from optimiser.reading.toml_text import read_toml
from optimiser.web.desk import Desk
from optimiser.web.surveying import SurveyDesk

__all__ = ["Rooms", "Upload", "free_name", "plans", "scenarios"]

MOST_DESKS = 24  # open at a time; the one not used for longest is closed
MOST_FILES = 200
FITTING = re.compile(r"[^\w .()-]+")
Kept = TypeVar("Kept")


class Upload(Struct, frozen=True, forbid_unknown_fields=True):
    """A file that was dropped: its name, and what it holds in base64."""

    name: str
    content: str


class Rooms:
    """What is open over a workspace; what was dropped is kept until it is closed.

    Parameters
    ----------
    large : bool
        Whether pages are set in large type, for a phone at the bench.
    """

    def __init__(self, workspace: Path, token: str, *, large: bool = False) -> None:
        self.workspace = workspace
        self.place = f"/{token}/"
        self.large = large
        self._desks: OrderedDict[str, Desk] = OrderedDict()
        self._surveys: OrderedDict[str, SurveyDesk] = OrderedDict()
        self._dropped = tempfile.mkdtemp(prefix="optimiser-")
        weakref.finalize(self, shutil.rmtree, self._dropped, ignore_errors=True)

    def open(self, file: str) -> str | None:
        """Return the name of a new desk for a scenario of the workspace."""
        known = dict(scenarios(self.workspace))
        if file not in known:
            return None
        return _kept(self._desks, Desk(self.workspace / file))

    def desk(self, name: str) -> Desk | None:
        """Return a desk that is open."""
        return _found(self._desks, name)

    def survey(self, upload: Upload) -> str:
        """Return the name of a new survey of a table of recipes.

        Raises
        ------
        InputError
            If nothing of it can be read.
        """
        return _kept(self._surveys, SurveyDesk(self.keep(upload), self.workspace))

    def survey_desk(self, name: str) -> SurveyDesk | None:
        """Return a survey that is open."""
        return _found(self._surveys, name)

    def keep(self, upload: Upload) -> Path:
        """Return where a file that was dropped is, in a folder of its own."""
        name = FITTING.sub("_", upload.name.rsplit("/", maxsplit=1)[-1]).strip(" .")
        name = shortened(name[::-1])[::-1]  # its end tells what it is
        path = Path(tempfile.mkdtemp(dir=self._dropped)) / for_a_file(name or "recipe")
        try:
            path.write_bytes(base64.b64decode(upload.content, validate=True))
        except ValueError as error:  # also of signs that base64 has none of
            wrong = "did not arrive whole"
            problem = Problem(wrong, upload.name, fix="drop it again")
            raise InputError([problem]) from error
        return path


def _kept(rooms: OrderedDict[str, Kept], room: Kept) -> str:
    name = secrets.token_urlsafe(9)
    rooms[name] = room
    while len(rooms) > MOST_DESKS:
        rooms.popitem(last=False)
    return name


def _found(rooms: OrderedDict[str, Kept], name: str) -> Kept | None:
    if name in rooms:
        rooms.move_to_end(name)
    return rooms.get(name)


def scenarios(workspace: Path) -> list[tuple[str, str]]:
    """Return the scenarios of a workspace: file, as seen from it, and title."""
    found = []
    for folder in (workspace, workspace / "scenarios"):
        for path in sorted(folder.glob("*.toml"))[:MOST_FILES]:
            content = read_toml(path, path.name, [])
            if content is None:  # opening it tells what is wrong
                content = {"title": path.stem, "base": {}}
            if {"scenarios", "batches"} & content.keys() or not {
                "title",
                "extends",
            } & content.keys():
                continue
            name = path.relative_to(workspace).as_posix()
            found.append((name, str(content.get("title") or path.stem)))
    return found


def plans(workspace: Path) -> list[str]:
    """Return the plans of a workspace, as seen from it: what lists batches is one."""
    folder = workspace / "scenarios"
    return [
        path.relative_to(workspace).as_posix()
        for place in (workspace, folder, folder / "plans")
        for path in sorted(place.glob("*.toml"))[:MOST_FILES]
        if "batches" in (read_toml(path, path.name, []) or {})
    ]


def free_name(path: Path) -> Path:
    """Return a scenario's own path, or one beside it that no file has."""
    number, found = 1, path
    while found.exists():
        number += 1
        found = path.with_name(f"{path.stem}_{number}{path.suffix}")
    return found
