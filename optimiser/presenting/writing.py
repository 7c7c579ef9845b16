"""Files written whole or not at all, and never over what something else wrote."""

from __future__ import annotations

import csv
import errno
import os
import stat
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from optimiser.errors import InputError, Problem

__all__ = [
    "OTHER_NAME",
    "TAKEN",
    "begins_alike",
    "for_a_file",
    "refuse_what_cannot_be_written",
    "refuse_what_something_else_wrote",
    "shortened",
    "write_whole",
    "written_by_draft",
]

TAKEN = "is there already and was written by something else"
# What no file may be called on Windows (Microsoft, "Naming Files, Paths, and
# Namespaces"), as recalled.
DEVICES = frozenset({"con", "prn", "aux", "nul", "conin$", "conout$"}) | {
    f"{port}{number}" for port in ("com", "lpt") for number in "123456789\xb9\xb2\xb3"
}
MOST_NAME = 80  # signs that a name is shortened to
OTHER_NAME = "give another name, or remove the file first"
LONGEST_HEAD = 1_000_000  # characters: thousands of columns
PRIVATE = 0o600
OLD = 3600.0  # seconds after which a draft is left over
_FIXES = {
    errno.ENOENT: "make that folder first, or name a file in another one",
    errno.ENOTDIR: "part of its path is a file: name a file in a folder",
    errno.EINVAL: "name a file",
    errno.EISDIR: "name a file in it",
    errno.EACCES: "name a file where you may write",
    errno.EPERM: "name a file where you may write",
    errno.EROFS: "name a file where you may write",
    errno.ENOSPC: "make room on the disk, or name a file on another one",
    errno.ENAMETOOLONG: "give a shorter name",
    errno.ENXIO: "start what reads from it first, or name a file",
    errno.ELOOP: "its links point at each other: name a plain file",
}


def _told(path: Path, error: OSError) -> InputError:
    """Return a failure to write as a message about the file that was named."""
    wrong = f"cannot be written ({error.strerror or error})"
    fix = _FIXES.get(error.errno or 0, "give another name")
    return InputError([Problem(wrong, file=str(path), fix=fix)])


def shortened(name: str) -> str:
    """Return so much of a name as a file can be called by on every disk.

    >>> len(shortened("x" * 300)), len(shortened("\N{CJK UNIFIED IDEOGRAPH-4E00}" * 90))
    (80, 66)
    """
    return name.encode()[:200].decode(errors="ignore")[:MOST_NAME]


def for_a_file(stem: str) -> str:
    """Return a name that a file can have on every system, without its ending.

    Windows keeps some for devices, whatever ends them.

    >>> for_a_file("aux"), for_a_file("Com1"), for_a_file("con.old"), for_a_file("icon")
    ('aux_', 'Com1_', 'con_.old', 'icon')
    """
    first, dot, rest = stem.partition(".")
    kept = first.strip().casefold() in DEVICES
    return f"{first}_{dot}{rest}" if kept else stem


def refuse_what_cannot_be_written(path: Path) -> None:
    """Say so, before any work is done, where a file cannot be written.

    Raises
    ------
    InputError
        If its folder is not there or may not be written to, or it is a folder.
    """
    try:
        _look(path)
    except OSError as error:
        raise _told(path, error) from error


def refuse_what_something_else_wrote(path: Path, columns: Sequence[str]) -> None:
    """Say so, before any work is done, where a file is no table of these columns.

    Parameters
    ----------
    columns : sequence of str
        The columns that each such table has, in order. The first of them is the
        table's first; between and after them there may be others.

    Raises
    ------
    InputError
        If a file is there that is neither empty nor such a table.
    """
    try:
        if path.is_file() and not _is_table(path, columns):
            raise InputError([Problem(TAKEN, file=str(path), fix=OTHER_NAME)])
    except OSError as error:
        raise _told(path, error) from error


def _is_table(path: Path, columns: Sequence[str]) -> bool:
    """Whether a file is empty or has a head with these columns."""
    with path.open(encoding="utf-8-sig", errors="replace") as file:
        first = file.readline(LONGEST_HEAD)
    if not first:
        return True
    try:
        head = next(csv.reader([first]), [])
    except csv.Error:
        return False
    rest = iter(head)
    return head[:1] == list(columns[:1]) and all(each in rest for each in columns)


def _look(path: Path) -> None:
    """Raise the error that writing would end with, as far as that can be seen."""
    if path.is_symlink():
        with suppress(FileNotFoundError):  # what it points at may be made
            path.stat()
    if path.is_dir():
        raise IsADirectoryError(errno.EISDIR, "it is a folder")
    folder = Path(os.path.realpath(path)).parent
    if not folder.exists():
        where = folder if path.is_symlink() else path.parent
        raise FileNotFoundError(errno.ENOENT, f"there is no folder {where}")
    if not folder.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, f"{path.parent} is no folder")
    may = path if path.exists() and not path.is_file() else folder
    if not os.access(may, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))


def write_whole(
    path: Path,
    text: str | Iterable[str],
    encoding: str = "utf-8-sig",
    over: bool = False,
    columns: Sequence[str] | None = None,
) -> None:
    """Write a file so that it is there whole or, if that fails, as it was before.

    The text goes to a new file beside it, which then takes its place. The default
    encoding marks the file as UTF-8, which spreadsheets look for.

    Parameters
    ----------
    text : str or iterable of str
        A long one is best given in parts, which can be gone through again.
    over : bool
        Replace whatever is there. Otherwise a file is replaced only if it is empty
        or begins with the line that the new text begins with, so that a command can
        be run again and nothing else is lost.
    columns : sequence of str, optional
        For a table whose further columns depend on what was found: one with these
        (see `refuse_what_something_else_wrote`) is replaced instead.

    Raises
    ------
    InputError
        If something else is there, or it cannot be written.
    """
    refuse_what_cannot_be_written(path)
    try:
        if path.exists() and not path.is_file():  # a pipe or a device
            _poured(path, "".join(_parts(text)).encode(encoding))
            return
        if columns is not None and not over:
            refuse_what_something_else_wrote(path, columns)
        elif not over and not begins_alike(path, text):
            raise InputError([Problem(TAKEN, file=str(path), fix=OTHER_NAME)])
    except OSError as error:
        raise _told(path, error) from error
    with written_by_draft(path) as draft:
        _write(draft, text, encoding)


def _write(path: Path, text: str | Iterable[str], encoding: str) -> None:
    with path.open("w", encoding=encoding, newline="") as file:
        file.writelines(_parts(text))


def _parts(text: str | Iterable[str]) -> Iterable[str]:
    return (text,) if isinstance(text, str) else text


def _poured(path: Path, content: bytes) -> None:
    """Write to a pipe or a device; nobody waits for somebody to read from it."""
    soon = getattr(os, "O_NONBLOCK", 0)
    try:
        number = os.open(path, os.O_WRONLY | soon)
    except OSError as error:
        if error.errno == errno.ENXIO:
            raise OSError(errno.ENXIO, "nobody reads from this pipe") from error
        raise
    if sys.platform != "win32":
        os.set_blocking(number, True)  # who reads may take the time
    with os.fdopen(number, "wb") as file:
        file.write(content)


def begins_alike(path: Path, text: str | Iterable[str]) -> bool:
    """Whether a file is not there, empty, or begins as the new text does."""
    if not path.exists():
        return True
    first = next(iter(_parts(text)), "").partition("\n")[0]
    with path.open(encoding="utf-8-sig", errors="replace") as file:
        found = file.readline(len(first) + 2)
    return not found or found.rstrip("\n") == first


def _remove_old_drafts(folder: Path) -> None:
    """Remove drafts that nobody is writing any more."""
    for each in folder.glob(f".{'[0-9a-f]' * 12}.part"):
        with suppress(OSError):
            if time.time() - each.stat().st_mtime > OLD:
                each.unlink()


@contextmanager
def written_by_draft(path: Path) -> Iterator[Path]:
    """Give a new file beside ``path`` to write to; it takes its place at the end.

    It keeps the permissions of the file that it replaces. Drafts that a killed run
    left in the folder are removed once they are old.
    """
    place = Path(os.path.realpath(path))
    draft = place.with_name(f".{os.urandom(6).hex()}.part")
    try:
        if place.exists() and not place.is_file():
            raise OSError(errno.EINVAL, "it is a pipe or a device")
        mode = stat.S_IMODE(place.stat().st_mode) if place.exists() else None
        if mode is not None:
            draft.touch(PRIVATE)
        yield draft
        if mode is not None:
            draft.chmod(mode)
        draft.replace(place)
        _remove_old_drafts(place.parent)
    except OSError as error:
        raise _told(path, error) from error
    finally:
        with suppress(OSError):  # elsewhere what may only be read cannot be removed
            draft.unlink(missing_ok=True)
