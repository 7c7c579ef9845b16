"""What a scenario was read as, kept for later runs while all it rests on is the same.

Python keeps the bytecode of a module in the same way. A value is used only if every
question that its reading asked of the disk has the answer that it had: each file its
bytes, and what was looked for and not there is still not there.
"""

from __future__ import annotations

import os
import pickle
import re
import stat
import sys
from collections.abc import Iterator
from contextlib import suppress
from functools import partial
from pathlib import Path
from time import time, time_ns
from typing import TYPE_CHECKING

from msgspec.structs import replace

import optimiser
from optimiser.errors import InputError, Problem
from optimiser.reading import disk

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.scenario import Scenario

__all__ = ["kept_scenario"]

OFF = "OPTIMISER_NO_CACHE"  # set in the environment, to whatever: nothing is kept
NAME = "formulation-optimiser"
MOST_FILES, MOST_BYTES, GREATEST = 40, 40_000_000, 20_000_000
UNFINISHED = 3600.0  # seconds after which nobody writes a file any more
OURS = re.compile(r"[0-9a-f]{32}(\.\d+)?")  # a kept value, or one that is written
ALONE, LAYERS = ("errors.py", "units.py"), ("domain", "science", "reading")
LIBRARIES = {"site-packages", "dist-packages"}
NOT_OTHERS = stat.S_IWGRP | stat.S_IWOTH


def kept_scenario(
    path: Path, *, calibrated: bool = True, shelf: list[Problem] | None = None
) -> tuple[Scenario, Catalogue]:
    """Return what ``read_scenario`` returns, from an earlier run where it can be.

    Parameters are those of :func:`optimiser.reading.read_scenario`. Only what was read
    without any problem is kept; where nothing can be, everything is read.
    """
    place = _place(path, calibrated)
    found = None if place is None else _recalled(place)
    if found is not None:
        return found
    from optimiser.reading import read_scenario  # noqa: PLC0415 - slow, and not needed

    with disk.noted() as notes:
        read = read_scenario(path, calibrated=calibrated, shelf=shelf)
        keeps = place is not None and not shelf and _with_fats(read[1])
    if place is not None and keeps and notes.steady:
        _keep(place, notes, *read)
    return read


def _with_fats(catalogue: Catalogue) -> bool:
    """Read what fats are made of as well; return whether that went well."""
    try:
        return catalogue.fats is not None
    except InputError:  # told to whoever asks for them
        return False


def _program() -> Iterator[object]:
    """Yield what tells the code that reads from any other: an edit, a new library.

    A library that is installed, or taken away, changes the folder that it lies in.
    """
    package = Path(optimiser.__file__).parent
    for name in ALONE:
        yield _written(name, (package / name).stat())
    folders = [str(package / name) for name in LAYERS]
    for folder in folders:
        with os.scandir(folder) as entries:
            for each in sorted(entries, key=lambda entry: entry.name):
                if not each.is_dir():
                    yield _written(each.path, each.stat())
                elif each.name != "__pycache__":
                    folders.append(each.path)
    for path in map(Path, sys.path):
        if path.name in LIBRARIES:
            yield _written(str(path), path.stat())


def _written(path: str, found: os.stat_result) -> tuple[object, ...]:
    """Return what is another as soon as a file was written, or put in its place."""
    return path, found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino


def _stamp() -> bytes | None:
    """Return a digest of the program; None where its files cannot be looked at."""
    try:
        return disk.digest(repr((sys.version, *_program())).encode())
    except OSError:
        return None


# As it was when this process began: what it reads with is no newer.
PROGRAM = _stamp()


def _base() -> Path | None:
    """Return the folder where this user's programs keep what they can do without."""
    given, home = os.environ.get("XDG_CACHE_HOME", ""), os.environ.get("HOME", "")
    if sys.platform == "win32":
        given, home = os.environ.get("LOCALAPPDATA", ""), ""
    if given and Path(given).is_absolute():
        return Path(given)
    if not home or not Path(home).is_absolute():
        return None
    below = "Library/Caches" if sys.platform == "darwin" else ".cache"
    return Path(home) / below


def _place(path: Path, calibrated: bool) -> Path | None:
    """Return where the value of a scenario is kept; None if nothing is to be kept."""
    base = None if OFF in os.environ or PROGRAM is None else _base()
    if base is None:
        return None
    asked = (str(path), str(Path.cwd()), calibrated, sys.path, sys.version)
    return base / NAME / disk.digest(repr(asked).encode())[:16].hex()


def _is_mine(found: os.stat_result) -> bool:
    """Whether a file or folder is this user's, and nobody else may write to it.

    What is kept is unpacked by running what it says.
    """
    if sys.platform == "win32":
        return True  # the folder is the user's by its access list
    return found.st_uid == os.geteuid() and not found.st_mode & NOT_OTHERS


def _recalled(place: Path) -> tuple[Scenario, Catalogue] | None:
    """Return a kept value; None where there is none that holds."""
    try:
        sealed = _bytes_of(place) or b""
        seal, told = sealed[: disk.DIGEST], sealed[disk.DIGEST :]
        if seal != disk.digest(told):
            return None
        program, answers, value = pickle.loads(told)
        if program != PROGRAM or not disk.same(answers):
            return None
        found: tuple[Scenario, Catalogue] = pickle.loads(value)
    except Exception:
        return None
    return found


def _bytes_of(place: Path) -> bytes | None:
    """Return what a file of the user's own folder holds; None if it is not his."""
    folder = place.parent.lstat()
    if not stat.S_ISDIR(folder.st_mode) or not _is_mine(folder):
        return None
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    with open(os.open(place, flags), "rb") as file:  # noqa: PTH123 - by its number
        found = os.fstat(file.fileno())
        if not stat.S_ISREG(found.st_mode) or not _is_mine(found):
            return None
        return None if found.st_size > GREATEST else file.read()


def _keep(
    place: Path, notes: disk.Notes, scenario: Scenario, catalogue: Catalogue
) -> None:
    """Write a value, whole or not at all; where that cannot be, none is kept."""
    fats = pickle.dumps(catalogue.fats, pickle.HIGHEST_PROTOCOL)
    later = replace(catalogue, load_fats=partial(pickle.loads, fats))
    value = pickle.dumps((scenario, later), pickle.HIGHEST_PROTOCOL)
    told = pickle.dumps((PROGRAM, notes.answers, value), pickle.HIGHEST_PROTOCOL)
    if len(told) > GREATEST:
        return
    with suppress(OSError):
        if not _made(place.parent):
            return
        _make_room(place.parent, len(told))
        part = place.with_name(f"{place.name}.{os.getpid()}{time_ns()}")
        try:
            flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL
            with open(os.open(part, flags, 0o600), "wb") as file:  # noqa: PTH123
                file.write(disk.digest(told) + told)
            part.replace(place)
        finally:
            part.unlink(missing_ok=True)


def _made(folder: Path) -> bool:
    """Make the folder of kept values; return whether it is the user's own.

    None is made in a folder of somebody else, such as the home of who asked for root.
    """
    base = folder.parent
    with suppress(FileExistsError):
        if _is_mine(base.parent.stat()):
            base.mkdir(mode=0o700)
    with suppress(FileExistsError):
        if _is_mine(base.stat()):
            folder.mkdir(mode=0o700)
    found = folder.lstat()
    return stat.S_ISDIR(found.st_mode) and _is_mine(found)


def _make_room(folder: Path, size: int) -> None:
    """Take the oldest values away until another one has room."""
    found = [(x, x.stat()) for x in folder.iterdir() if OURS.fullmatch(x.name)]
    found.sort(key=lambda each: each[1].st_mtime, reverse=True)
    count, total = 1, size
    for path, told in found:
        if "." in path.name:
            gone = time() - told.st_mtime > UNFINISHED
        else:
            count, total = count + 1, total + told.st_size
            gone = count > MOST_FILES or total > MOST_BYTES
        if gone:
            path.unlink(missing_ok=True)
