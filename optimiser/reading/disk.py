"""What reading asks of the disk and of the calendar, in one place.

Whatever is read goes through here, what is looked for and not there as well, so that
all that a reading rests on can be noted, and asked again in a later run.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from datetime import date
from pathlib import Path

try:  # hashlib loads a library of ciphers for the same function
    from _blake2 import blake2b
except ImportError:  # pragma: no cover - where Python was built without it
    from hashlib import blake2b

__all__ = [
    "Notes",
    "content",
    "digest",
    "exists",
    "files_in",
    "folders_in",
    "is_file",
    "is_folder",
    "is_link",
    "kind",
    "noted",
    "real_path",
    "same",
    "size",
    "stands",
    "today",
    "watch",
]

DIGEST = 32
Answer = str | int | bytes | tuple[str, ...]
Asked = tuple[str, str]  # the question, and the path that it is about


class Notes:
    """Questions and their answers; not ``steady`` where one had two answers."""

    def __init__(self) -> None:
        self.answers: dict[Asked, Answer] = {}
        self.steady = True

    def add(self, asked: Asked, answer: Answer) -> None:
        """Note an answer; what changes while it is read rests on nothing."""
        self.steady &= self.answers.setdefault(asked, answer) == answer


_notes: ContextVar[Notes | None] = ContextVar("notes", default=None)


@contextmanager
def noted() -> Iterator[Notes]:
    """Note all that is asked from here on."""
    notes = Notes()
    before = _notes.set(notes)
    try:
        yield notes
    finally:
        _notes.reset(before)


def same(answers: Mapping[Asked, Answer]) -> bool:
    """Return whether every question has the answer that it had."""
    return all(_again(*asked, answer) for asked, answer in answers.items())


def digest(content: bytes) -> bytes:
    """Return bytes that no other content has."""
    return blake2b(content, digest_size=DIGEST).digest()


def _kind(path: str) -> int:
    """Return the type of a file as ``stat`` has it; 0 where there is none."""
    try:
        return stat.S_IFMT(os.stat(path).st_mode)  # noqa: PTH116 - text is quicker
    except (FileNotFoundError, NotADirectoryError):
        return 0


def _real(path: str) -> str:
    """Return a path without links in it; as it is where they lead in a circle."""
    try:
        return str(Path(path).resolve())
    except (OSError, RuntimeError, ValueError):
        return str(Path(path).absolute())


def _inside(path: str, of: Callable[[str], bool]) -> tuple[str, ...]:
    """Return the names in a folder that stand for a file, or a folder, in order."""
    names = sorted(os.listdir(path))  # noqa: PTH208 - names are asked for
    return tuple(name for name in names if of(os.path.join(path, name)))  # noqa: PTH118


def _bytes(path: str) -> bytes:
    """Return what a file holds; no pipe is waited for."""
    if not stat.S_ISREG(os.stat(path).st_mode):  # noqa: PTH116
        raise OSError(errno.EINVAL, os.strerror(errno.EINVAL), path)
    return Path(path).read_bytes()


QUESTIONS: Mapping[str, Callable[[str], Answer]] = {
    "kind": _kind,
    "size": lambda path: os.stat(path).st_size,  # noqa: PTH116
    "link": os.path.islink,
    "real": _real,
    "files": lambda path: _inside(path, os.path.isfile),
    "folders": lambda path: _inside(path, os.path.isdir),
    "content": lambda path: digest(_bytes(path)),
    "day": lambda _: date.today().isoformat(),
}


def _failed(error: OSError | ValueError) -> Answer:
    """Return a failure as an answer, which is noted like any other."""
    return f"{type(error).__name__} {getattr(error, 'errno', None)}"


def _again(question: str, path: str, answer: Answer) -> bool:
    """Return whether a question has this answer now."""
    try:
        return QUESTIONS[question](path) == answer
    except (OSError, ValueError) as error:
        return _failed(error) == answer


def _ask(question: str, path: Path | str) -> Answer:
    """Return the answer to a question, which is noted; so is its failure."""
    notes, text = _notes.get(), os.fspath(path)
    try:
        found = QUESTIONS[question](text)
    except (OSError, ValueError) as error:
        if notes is not None:
            notes.add((question, text), _failed(error))
        raise
    if notes is not None:
        notes.add((question, text), found)
    return found


def content(path: Path) -> bytes:
    """Return the bytes of a file.

    Raises
    ------
    OSError, ValueError
        If it cannot be read.
    """
    notes, asked = _notes.get(), ("content", os.fspath(path))
    try:
        found = _bytes(os.fspath(path))
    except (OSError, ValueError) as error:
        if notes is not None:
            notes.add(asked, _failed(error))
        raise
    if notes is not None:
        notes.add(asked, digest(found))
    return found


def watch(path: Path) -> None:
    """Note what a file holds that is read by a library; asked before it and after."""
    if _notes.get() is not None:
        with suppress(OSError, ValueError):  # whoever reads it tells of that
            _ask("content", path)


def kind(path: Path) -> int:
    """Return what stands at a path, as ``stat.S_IFMT`` does; 0 if nothing does.

    Raises
    ------
    OSError, ValueError
        If that may not be known, or no path can be called that.
    """
    found = _ask("kind", path)
    assert isinstance(found, int)
    return found


def size(path: Path) -> int:
    """Return the bytes of a file.

    Raises
    ------
    OSError, ValueError
        If nothing is there, or that may not be known.
    """
    found = _ask("size", path)
    assert isinstance(found, int)
    return found


def exists(path: Path) -> bool:
    """Return whether anything stands at a path.

    Raises
    ------
    OSError
        If that may not be known.
    """
    try:
        return kind(path) != 0
    except ValueError:
        return False
    except OSError as error:
        if error.errno == errno.ELOOP:  # a link that leads in a circle
            return False
        raise


def stands(path: Path) -> bool:
    """Return whether anything is called so: a pipe, a folder, a link to nothing too.

    Where that may not be known, reading it tells why.
    """
    try:
        return kind(path) != 0 or is_link(path)
    except ValueError:
        return False
    except OSError:
        return True


def is_file(path: Path) -> bool:
    """Return whether a path is a file; not so where that may not be known."""
    try:
        return kind(path) == stat.S_IFREG
    except (OSError, ValueError):
        return False


def is_folder(path: Path) -> bool:
    """Return whether a path is a folder; not so where that may not be known."""
    try:
        return kind(path) == stat.S_IFDIR
    except (OSError, ValueError):
        return False


def is_link(path: Path) -> bool:
    """Return whether a path is a link, also one that leads nowhere."""
    return bool(_ask("link", path))


def real_path(path: Path) -> Path:
    """Return a path without links in it; as it is where they lead in a circle."""
    return Path(str(_ask("real", path)))


def files_in(folder: Path) -> tuple[str, ...]:
    """Return the names of the files in a folder, in order; links are followed.

    Raises
    ------
    OSError
        If it cannot be looked into.
    """
    found = _ask("files", folder)
    assert isinstance(found, tuple)
    return found


def folders_in(folder: Path) -> tuple[str, ...]:
    """Return the names of the folders in a folder, as `files_in` does."""
    found = _ask("folders", folder)
    assert isinstance(found, tuple)
    return found


def today() -> date:
    """Return the day that it is."""
    return date.fromisoformat(str(_ask("day", "")))
