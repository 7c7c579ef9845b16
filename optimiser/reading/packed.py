"""What a spreadsheet holds once unpacked, bounded before its library reads it.

A small file can name a cell a million rows down, or unpack to far more than it says,
or hold one long text in every cell; the library would find room for all of that at
once. So it is given what was looked through here, and nothing else.
"""

from __future__ import annotations

import io
import lzma
import re
import zipfile
import zlib
from pathlib import Path
from typing import NoReturn
from xml.parsers import expat

from optimiser.errors import InputError, Problem

__all__ = ["broken", "unpacked"]

GREATEST_BYTES = 200_000_000  # unpacked, and of the texts in all cells
MOST_CELLS = 5_000_000  # of all sheets, each from A1 to the last that is filled
MOST_PARTS = 5_000
LAST_ROW, LAST_COLUMN = 1 << 20, 1 << 14
PARTS = (".xml", ".rels")
BOOK, STRINGS = "xl/workbook.xml", "xl/sharedstrings.xml"
STEP = 1 << 20
SAVE_AGAIN = "open it in a spreadsheet and save it as .xlsx once more, without password"


def broken(shown: str) -> Problem:
    """Return the problem of a file that is no spreadsheet."""
    return Problem("is no spreadsheet that can be read", shown, fix=SAVE_AGAIN)


def unpacked(path: Path, shown: str) -> io.BytesIO:
    """Return a spreadsheet with the parts that tables need, not packed any more.

    Parameters
    ----------
    shown : str
        The file's name in messages.

    Raises
    ------
    InputError
        If it is none, or any of its sheets is too large or reaches too far.
    OSError
        If the file cannot be read.
    """
    try:
        with zipfile.ZipFile(path) as packed:
            parts = _parts(packed, shown)
        if BOOK not in parts:
            raise InputError([broken(shown)])
        lengths: list[int] = []
        left = MOST_CELLS
        for name in sorted(parts, key=lambda name: name.casefold() != STRINGS):
            left -= _Look(shown, lengths, left).through(parts[name])
    except (
        zipfile.BadZipFile,
        zlib.error,
        lzma.LZMAError,
        EOFError,
        RuntimeError,  # a password is asked for, or an unknown way of packing
        ValueError,
        expat.ExpatError,
    ) as error:
        raise InputError([broken(shown)]) from error
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as plain:
        for name, content in parts.items():
            plain.writestr(name, content)
    out.seek(0)
    return out


def _too_much(shown: str) -> InputError:
    wrong = f"holds more than {GREATEST_BYTES / 1e6:.0f} MB"
    return InputError([Problem(wrong, shown, fix="keep only the rows that are used")])


def _parts(packed: zipfile.ZipFile, shown: str) -> dict[str, bytes]:
    """Return the parts that are text, by name, whatever sizes are told of them."""
    found: dict[str, bytes] = {}
    left = GREATEST_BYTES
    wanted = [x for x in packed.infolist() if x.filename.casefold().endswith(PARTS)]
    if sum(each.file_size for each in wanted) > left:
        raise _too_much(shown)
    if len(wanted) > MOST_PARTS:
        raise InputError([broken(shown)])
    for each in wanted:
        pieces = []
        with packed.open(each) as part:
            while piece := part.read(STEP):
                pieces.append(piece)
                left -= len(piece)
                if left < 0:
                    raise _too_much(shown)
        found[each.filename.replace("\\", "/")] = b"".join(pieces)
    return found


class _Look:
    """A look through a part: how far its cells reach, and how long their texts are.

    ``lengths`` of the shared texts are gained from the part that holds them.
    """

    def __init__(self, shown: str, lengths: list[int], most: int) -> None:
        self._shown, self._lengths, self._most = shown, lengths, most
        self._total = 0
        self._row = self._column = 0  # where the cell is
        self._last_row = self._last_column = 0  # how far those filled reach
        self._shared = False
        self._text: list[str] = []
        self._reader = expat.ParserCreate("utf-8")
        self._reader.StartElementHandler = self._begun
        self._reader.EndElementHandler = self._ended
        self._reader.StartDoctypeDeclHandler = self._refuse

    def through(self, part: bytes) -> int:
        """Return how many cells a part has, from the first to the last filled.

        Raises
        ------
        InputError
            If it holds too much.
        ExpatError
            If it is no proper XML.
        """
        self._reader.Parse(part, True)
        return self._last_row * self._last_column

    def _refuse(self, *_: object) -> NoReturn:
        raise InputError([broken(self._shown)])

    def _begun(self, name: str, has: dict[str, str]) -> None:
        name = name.rpartition(":")[2]
        if name == "c":
            self._column += 1
            if (place := has.get("r")) is not None:
                self._go_to(place)
            self._shared = has.get("t") == "s"
        elif name in {"v", "f", "is"}:
            self._filled()
            if name == "v" and self._shared:
                self._reader.CharacterDataHandler = self._text.append
        elif name == "row":
            self._row, self._column = self._row + 1, 0
            if (place := has.get("r")) is not None:
                self._go_to(f"A{place}")
                self._column = 0
        elif name == "si":
            self._lengths.append(0)
            self._reader.CharacterDataHandler = self._longer

    def _ended(self, name: str) -> None:
        if self._reader.CharacterDataHandler is None:
            return
        name = name.rpartition(":")[2]
        if name == "v":
            self._reader.CharacterDataHandler = None
            place = "".join(self._text)
            self._text.clear()
            if re.fullmatch(r"[0-9]{1,9}", place) and int(place) < len(self._lengths):
                self._total += self._lengths[int(place)]
            if self._total > GREATEST_BYTES:
                raise _too_much(self._shown)
        elif name == "si":
            self._reader.CharacterDataHandler = None

    def _longer(self, text: str) -> None:
        self._lengths[-1] += len(text)

    def _go_to(self, place: str) -> None:
        """Be at a cell that is named, as in B7."""
        found = re.fullmatch(r"([A-Z]{1,3})([0-9]{1,7})", place, re.ASCII | re.I)
        if found is None:
            self._refuse()
        column = 0
        for letter in found[1].upper():
            column = 26 * column + ord(letter) - ord("A") + 1
        self._row, self._column = int(found[2]), column
        if not 0 < self._row <= LAST_ROW or column > LAST_COLUMN:
            self._refuse()

    def _filled(self) -> None:
        """Know of something in the cell."""
        self._last_row = max(self._last_row, self._row)
        self._last_column = max(self._last_column, self._column)
        if self._last_row * self._last_column > self._most:
            wrong = f"has sheets of more than {MOST_CELLS / 1e6:.0f} million cells"
            fix = "keep only the rows that are used, and clear the cells far from them"
            raise InputError([Problem(wrong, self._shown, fix=fix)])
