"""Lines of text that fit a terminal: headings, wrapped items and columns."""

from __future__ import annotations

import re
import shutil
import textwrap
from collections.abc import Iterable, Sequence

from msgspec import Struct

from optimiser.presenting.words import clean

__all__ = [
    "Column",
    "heading",
    "item",
    "numbered",
    "paragraph",
    "section",
    "table",
    "width",
]

NARROWEST, WIDEST = 60, 120
NARROW = 9  # a column of words, where nothing else helps
_PERCENT = r"(?<=\d) %"  # never parted from its number
_DECIMAL = r"[+-]?\d+(\.\d+)?"


def width() -> int:
    """Return the columns that a report may use: the terminal's, 60 to 120."""
    columns = shutil.get_terminal_size((80, 24)).columns
    return min(max(columns, NARROWEST), WIDEST)


def heading(text: str) -> list[str]:
    """Return a section's heading, with an empty line before it."""
    return ["", clean(text).upper()]


def section(title: str, lines: Sequence[str]) -> list[str]:
    """Return a section with its heading; nothing if it has no lines."""
    return [*heading(title), *lines] if lines else []


def paragraph(text: str, columns: int, first: str = "", rest: str = "") -> list[str]:
    """Return text wrapped to ``columns``, each line behind its lead.

    >>> paragraph("solid fat at most 49.5 %", 23)
    ['solid fat at most', '49.5 %']
    """
    lines = textwrap.wrap(
        re.sub(_PERCENT, "\u00a0%", clean(text)),
        columns,
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0%", " %") for line in lines]


def item(text: str, columns: int, depth: int = 1) -> list[str]:
    """Return text as an indented item whose further lines hang below it."""
    lead = "  " * depth
    return paragraph(text, columns, lead, lead + "  ")


def numbered(texts: Iterable[str], columns: int) -> list[str]:
    """Return texts as a numbered list."""
    lines: list[str] = []
    for number, text in enumerate(texts, start=1):
        lead = f"{number:>3} "
        lines += paragraph(text, columns, lead, " " * len(lead))
    return lines


class Column(Struct, frozen=True):
    """One column of a table: its head, its cells, and whether they are numbers.

    A column of words is narrowed when the table would be too wide: by wrapping, or by
    shortening when ``wraps`` is False, to ``least`` characters; then heads wrap, and
    at last words are narrowed further.
    """

    head: str
    cells: Sequence[str]
    number: bool = True
    least: int = 12
    wraps: bool = True


def table(columns: Sequence[Column], most: int, rules: Sequence[int] = ()) -> list[str]:
    """Return columns side by side in at most ``most`` characters.

    Numbers stand with their decimal points below each other. ``rules`` are the
    indices of rows that a thin line is drawn above.
    """
    texts = [_aligned(c.cells) if c.number else [*map(clean, c.cells)] for c in columns]
    widths = _widths(columns, texts, most - 2)
    heads = [
        textwrap.wrap(clean(column.head), max(1, each)) or [""]
        for column, each in zip(columns, widths, strict=True)
    ]
    lines = _rows(columns, widths, heads)
    for row in range(len(texts[0])):
        if row in rules:
            lines.append("  " + "  ".join("-" * each for each in widths))
        cells = [
            _wrapped(text[row], each, column.wraps)
            for column, text, each in zip(columns, texts, widths, strict=True)
        ]
        lines += _rows(columns, widths, cells)
    return [line.rstrip() for line in lines]


def _rows(
    columns: Sequence[Column], widths: Sequence[int], cells: Sequence[Sequence[str]]
) -> list[str]:
    """Return the lines of one row, whose cells may have several each."""
    return [
        "  "
        + _row(columns, widths, [cell[at] if at < len(cell) else "" for cell in cells])
        for at in range(max(map(len, cells)))
    ]


def _aligned(cells: Sequence[str]) -> list[str]:
    """Return cells padded so that their decimal points meet."""
    after = [_tail(cell) for cell in map(clean, cells)]
    most = max(after, default=0)
    return [
        clean(cell) + " " * (most - tail) if cell else ""
        for cell, tail in zip(cells, after, strict=True)
    ]


def _tail(cell: str) -> int:
    """Return how many characters stand from the decimal point on."""
    return (
        len(cell.partition(".")[2]) + 1
        if re.fullmatch(_DECIMAL, cell) and "." in cell
        else 0
    )


def _widths(
    columns: Sequence[Column], texts: Sequence[Sequence[str]], most: int
) -> list[int]:
    """Return the width of each column, taking from the widest words first."""
    widths = [
        max(len(column.head), *map(len, text)) if text else len(column.head)
        for column, text in zip(columns, texts, strict=True)
    ]
    room = most - 2 * (len(columns) - 1)
    whole = [_longest(text) for text in texts]  # where no word need be broken
    words = [
        widths[at] if column.number else max(column.least, whole[at])
        for at, column in enumerate(columns)
    ]
    heads = [
        _narrowest(column, text, max(column.least, long))
        for column, text, long in zip(columns, texts, whole, strict=True)
    ]
    last = [
        _narrowest(column, text, min(NARROW, max(column.least, long)))
        for column, text, long in zip(columns, texts, whole, strict=True)
    ]
    for least in (words, heads, last):
        while sum(widths) > room:
            able = [at for at, each in enumerate(widths) if each > least[at]]
            if not able:
                break
            widths[max(able, key=lambda at: widths[at])] -= 1
    return widths


def _longest(text: Sequence[str]) -> int:
    """Return how wide a column must be so that its words stay whole, 16 at most."""
    words = [(cell, word) for cell in text for word in cell.split()]
    needs = (len(word) + (not cell.startswith(word)) for cell, word in words)
    return min(16, max(needs, default=0))


def _narrowest(column: Column, text: Sequence[str], least: int) -> int:
    """Return how narrow a column may be once its head wraps."""
    word = max(map(len, column.head.split()), default=0)
    if column.number:
        return max([word, *map(len, text)])
    return max(word, min(least, max(map(len, text), default=0)))


def _wrapped(text: str, columns: int, wraps: bool) -> list[str]:
    if len(text) <= columns:
        return [text]
    if not wraps:
        return [text[: columns - 2].rstrip() + ".."]
    return textwrap.wrap(text, columns, subsequent_indent=" ")


def _row(columns: Sequence[Column], widths: Sequence[int], cells: Sequence[str]) -> str:
    return "  ".join(
        cell.rjust(each) if column.number else cell.ljust(each)
        for column, each, cell in zip(columns, widths, cells, strict=True)
    )
