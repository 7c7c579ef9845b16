"""The files of a survey in their folder: all that can be written, or none."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from msgspec import Struct

from optimiser.errors import Problem
from optimiser.presenting.writing import TAKEN, begins_alike, write_whole

__all__ = ["SurveyFile", "refused", "write_files"]

ELSEWHERE = "name another folder with --to"
REMOVE = f"{ELSEWHERE}, or remove it first"


class SurveyFile(Struct, frozen=True):
    """A file to write; ``over`` says that it may take the place of anything."""

    path: Path
    text: str
    encoding: str = "utf-8-sig"
    over: bool = False


def refused(files: Iterable[SurveyFile], read: Iterable[Path]) -> list[Problem]:
    """Return why files cannot be written, before any of them is.

    Parameters
    ----------
    files : iterable of SurveyFile
        Their folders need not be there yet.
    read : iterable of Path
        Files that the same command reads, which are never written over.
    """
    files, read = list(files), list(read)
    folders = dict.fromkeys(each.path.parent for each in files)
    try:
        asked = (_folder_refused(each, each.parent in folders) for each in folders)
        found = [each for each in asked if each is not None][:1]
        if not found:
            found = [each for file in files for each in _file_refused(file, read)]
    except OSError as error:
        return [_told(error, next(iter(folders)))]
    return found


def write_files(files: Iterable[SurveyFile], folders: Iterable[Path]) -> list[Problem]:
    """Write files into folders that are made where they are missing.

    Raises
    ------
    InputError
        If a file cannot be written after all.
    """
    for folder in folders:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            return [_told(error, folder)]
    for each in files:
        write_whole(each.path, each.text, encoding=each.encoding, over=each.over)
    return []


def _told(error: OSError, folder: Path) -> Problem:
    wrong = f"cannot be written to ({error.strerror or error}); nothing was written"
    return Problem(wrong, str(error.filename or folder), fix=ELSEWHERE)


def _folder_refused(folder: Path, inner: bool) -> Problem | None:
    """Return why files cannot be written to a folder, there already or not."""
    place = folder
    while not os.path.lexists(place) and place != place.parent:
        place = place.parent
    if not place.is_dir():
        wrong = "is there already and is no folder; nothing was written"
        return Problem(wrong, str(place), fix=REMOVE)
    if inner and folder.is_symlink():
        wrong = "is a link to another folder; nothing was written"
        return Problem(wrong, str(folder), fix=REMOVE)
    if not os.access(place, os.W_OK | os.X_OK):
        wrong = "is a folder that you may not write to; nothing was written"
        return Problem(wrong, str(place), fix=ELSEWHERE)
    return None


def _file_refused(file: SurveyFile, read: list[Path]) -> Iterator[Problem]:
    """Yield why a file cannot be written."""
    path = file.path
    if any(os.path.realpath(path) == os.path.realpath(each) for each in read):
        wrong = "is read by this command, and would be written over"
        yield Problem(f"{wrong}; nothing was written", str(path), fix=ELSEWHERE)
    elif path.is_symlink():
        wrong = "is a link to another file; nothing was written"
        yield Problem(wrong, str(path), fix=REMOVE)
    elif path.exists() and not path.is_file():
        wrong = "is there already and is no file; nothing was written"
        yield Problem(wrong, str(path), fix=REMOVE)
    elif not file.over and not begins_alike(path, file.text):
        yield Problem(f"{TAKEN}; nothing was written", str(path), fix=REMOVE)
