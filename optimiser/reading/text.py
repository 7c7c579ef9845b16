"""Text of a file, or the problem that keeps it from being read."""

from __future__ import annotations

import codecs
import os
import stat
from pathlib import Path

from optimiser.errors import Problem, alike
from optimiser.reading import disk

__all__ = [
    "absent",
    "nearest_file",
    "read_text",
    "seen_from",
]

SCENARIOS = "scenarios"  # a folder that workspaces have
GREATEST_BYTES = 100_000_000
_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_AS_TEXT = {
    ".csv": "save it as 'CSV UTF-8', which spreadsheets offer under Save as",
    ".toml": "save it as UTF-8 text in a plain text editor",
}


# Letters, fractions and signs of recipes that stand alone among plain ones in Latin-1
# (and Windows-1252); the same bytes in another encoding spell no word this way.
_LATIN = set(
    "\xe9\xe8\xea\xeb\xe1\xe0\xe2\xe4\xf6\xfc\xdf\xf1\xe7\xed\xf4\xee\xef\xe5\xe6\xf8"
)
_SIGNS = set("\xbd\xbc\xbe\xb0\xd7\xae")


def read_text(
    path: Path,
    shown: str,
    problems: list[Problem],
    *,
    foreign: bool = False,
    most: int = GREATEST_BYTES,
) -> str | None:
    """Return the text of a UTF-8 file, without its byte-order mark.

    Parameters
    ----------
    path : Path
        File to read.
    shown : str
        Name of the file in messages.
    problems : list of Problem
        Gains one entry when the file cannot be read; nothing is raised.
    foreign : bool
        Read UTF-16 with its mark, and Latin-1 where its letters leave no doubt; the
        latter is told as a problem though the text is returned.
    most : int
        Bytes above which a file is not read.

    Returns
    -------
    str or None
        The text, or None when it cannot be read.
    """
    content = _read_bytes(path, shown, problems, most)
    if content is None:
        return None
    if foreign and (text := _other_text(content)) is not None:
        if not content.startswith(_UTF16):
            wrong = "is not UTF-8 text; read as Latin-1, which its letters fit"
            problems.append(Problem(wrong, shown, fix=_fix(path)))
        return text
    alien = _foreign(content)
    if alien is not None:
        problems.append(Problem(alien, shown, fix=_fix(path)))
        return None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        problems.append(_not_utf8(content, error.start, path, shown))
        return None


def _other_text(content: bytes) -> str | None:
    """Return text in UTF-16, or in Latin-1 where that is certain; else None."""
    if content.startswith(_UTF16):
        try:
            text = content.decode("utf-16")
        except UnicodeDecodeError:
            return None
        return None if "\0" in text else text
    try:
        content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    else:
        return None
    fits = "\0" not in text and all(
        _fits(text[at - 1 : at], each, text[at + 1 : at + 2])
        for at, each in enumerate(text)
        if each >= "\x80"
    )
    return text if fits else None


def _fits(before: str, letter: str, after: str) -> bool:
    """Whether a letter of Latin-1 stands as it does in words, or is a usual sign."""
    if letter in _SIGNS:
        return not before.isalpha() and not after.isalpha()
    beside = (before + after).strip(" ,;\t\r\n")
    return letter in _LATIN and beside.isascii() and beside.islower()


def nearest_file(path: Path) -> str:
    """Return the file of the same folder whose name is most like, as words.

    Returns
    -------
    str
        A sentence for a fix, such as "the nearest file there is bar.toml".
    """
    folder = path.parent
    below = folder / SCENARIOS / path.name
    if disk.is_file(below):
        return f"the nearest file is {below.as_posix()}"
    try:
        names = disk.files_in(folder)
    except OSError:
        return "check the folder: it is not there, or may not be read"
    stems = {Path(each).stem: each for each in names}  # all end alike
    close = alike(path.stem, stems, most=1, least=50)
    if close:
        return f"correct the name; the nearest file there is {stems[close[0]]}"
    return "correct the name; no file there has a name like it"


def seen_from(folder: Path, path: Path) -> str:
    """Return a path as seen from a folder, with forward slashes; whole from a drive.

    On Windows a file of another drive cannot be seen from a folder.
    """
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:
        return path.as_posix()


def absent(path: Path) -> tuple[str, str] | None:
    """Return what is wrong with a path that names no file, and the fix; else None."""
    try:
        found = disk.kind(path)
    except (OSError, ValueError) as error:
        return f"cannot be read ({_words(error)})", "check the name of the file"
    return _no_file(found) if found else _not_there(path)


def _not_there(path: Path) -> tuple[str, str]:
    """Return what is wrong with a path at which nothing stands, and the fix."""
    if disk.is_link(path):
        wrong = "is a link to a file that is not there"
        return wrong, "put the file there, or name another"
    return "is not there", nearest_file(path)


def _no_file(mode: int) -> tuple[str, str] | None:
    """Return what is wrong with a folder or a device, and the fix; else None."""
    if stat.S_ISDIR(mode):
        return "is a folder, not a file", "name a file in it"
    if stat.S_ISCHR(mode) or stat.S_ISBLK(mode):
        return "is a device, not a file", "name a file"
    if not stat.S_ISREG(mode):
        return "is a pipe, not a file", "write it to a file, and name that"
    return None


def _words(error: Exception) -> str:
    """Return what the system says of a path."""
    return str(getattr(error, "strerror", None) or error).lower()


def _read_bytes(
    path: Path, shown: str, problems: list[Problem], most: int
) -> bytes | None:
    """Return the bytes of a file, or None after adding a problem."""
    try:
        size = disk.size(path)
        if said := _no_file(disk.kind(path)):
            problem = Problem(said[0], shown, fix=said[1])
        elif size > most:
            larger = f"is larger than {most // 1_000_000} MB"
            kept = "the rows that are" if path.suffix == ".csv" else "what is"
            problem = Problem(larger, shown, fix=f"keep only {kept} used")
        else:
            return disk.content(path)
    except FileNotFoundError:
        wrong, fix = _not_there(path)
        problem = Problem(wrong, shown, fix=fix)
    except PermissionError:
        fix = "allow your user to read it"
        problem = Problem("may not be read by your user", shown, fix=fix)
    except (OSError, ValueError) as error:
        fix = "check the name of the file"
        problem = Problem(f"cannot be read ({_words(error)})", shown, fix=fix)
    problems.append(problem)
    return None


def _foreign(content: bytes) -> str | None:
    """Return what a file is when it is no text in UTF-8 or a Windows encoding."""
    if content.startswith(b"PK\x03\x04"):
        return "is a spreadsheet or another packed file, not plain text"
    if content.startswith(_UTF16):
        return "is text in UTF-16, not in UTF-8"
    return "is not a text file" if b"\0" in content else None


def _not_utf8(content: bytes, start: int, path: Path, shown: str) -> Problem:
    """Return the problem of a byte at ``start`` that is not UTF-8."""
    left = max(content.rfind(mark, 0, start) for mark in (b"\n", b",", b";", b"\r"))
    right = min(
        (
            at
            for mark in (b"\n", b",", b";", b"\r")
            if (at := content.find(mark, start)) > 0
        ),
        default=len(content),
    )
    word = content[left + 1 : right].decode("cp1252", errors="replace").strip()
    line = content.count(b"\n", 0, start) + 1
    wrong = "is not UTF-8 text; it looks like Windows-1252 or Latin-1"
    if path.suffix != ".csv":
        wrong = f"in line {line} {wrong}"
        return Problem(wrong, shown, found=word[:60], fix=_fix(path))
    return Problem(wrong, shown, row=line, found=word[:60], fix=_fix(path))


def _fix(path: Path) -> str:
    """Return how to save a file of this kind as UTF-8."""
    return _AS_TEXT.get(path.suffix.casefold(), "save it as UTF-8 text")
