"""Catalogues that tests read again unchanged: read once, and held for the next test."""

import hashlib
import os
import shutil
from pathlib import Path

from optimiser.reading import catalogue as reading

__all__ = ["ReadOnce"]

HELD = 16  # catalogues; a test and those beside it ask for few different ones
gathered = reading.gather_catalogue


class ReadOnce:
    """Stands in place of ``gather_catalogue``: where every byte is the same, so is it.

    A catalogue reads some of its files when they are first asked for. So it is read
    from a copy, which stays as it is whatever a test does to its own.
    """

    def __init__(self, copies):
        self.copies, self.number, self.held, self.kept = copies, 0, {}, {}

    def __call__(self, folder, workshop, problems, asked=None, **how):
        """Return what ``gather_catalogue`` returns; what has problems is read anew."""
        content = None if how.get("book") else digest(folder)
        if content is not None:
            shelf = how.get("shelf") is not None
            plainly = how.get("calibrated", True)
            key = (content, folder.name, workshop, plainly, shelf)
            if key in self.kept:
                self.held[key] = self.kept[key]
            if key not in self.held:
                self.held[key] = self._read(folder, workshop, plainly, shelf)
                self._forget()
            found = self.held[key] = self.held.pop(key)  # now the last to be forgotten
            if found[0] is not None:
                return found[0]
        return gathered(folder, workshop, problems, asked, **how)

    def _read(self, folder, workshop, calibrated, shelf):
        """Return the catalogue of a copy, None if it has any problem, and the copy."""
        self.number += 1
        copy = self.copies / str(self.number) / (folder.name or "catalogues")
        shutil.copytree(folder, copy)
        problems, put_off = [], [] if shelf else None
        found = gathered(copy, workshop, problems, calibrated=calibrated, shelf=put_off)
        return None if problems or put_off else found, copy.parent

    def keep(self):
        """Never let go of what was read so far: modules that were imported have it."""
        self.kept.update(self.held)

    def _forget(self):
        """Let go of what was asked for least lately."""
        while len(self.held) > HELD:
            key = next(iter(self.held))
            _, copy = self.held.pop(key)
            if key not in self.kept:
                shutil.rmtree(copy)


def digest(folder):
    """Return what is alike where all files are; None where there are other things."""
    told = hashlib.blake2b()
    waiting = [Path(folder)]
    try:
        for each in waiting:
            with os.scandir(each) as entries:
                inside = sorted(entries, key=lambda entry: entry.name)
            told.update(f"{len(inside)} in {each.relative_to(folder)}\n".encode())
            for entry in inside:
                path = Path(entry.path)
                if entry.is_symlink():
                    return None
                if entry.is_dir():
                    waiting.append(path)
                elif entry.is_file():
                    content = path.read_bytes()
                    told.update(f"{entry.name!r} {len(content)}\n".encode())
                    told.update(content)
                else:
                    return None
    except (OSError, UnicodeError):
        return None
    return told.digest()
