"""A page as lines of text that fit a terminal: headings, wrapped items and columns."""

from __future__ import annotations

import math
import os
import re
import textwrap
from collections.abc import Sequence

from optimiser.presenting.degrees import as_shown
from optimiser.presenting.page import (
    BandLine,
    Bands,
    Block,
    Cell,
    Item,
    Number,
    Numbered,
    Page,
    Paragraph,
    Plot,
    Series,
    Table,
    TableColumn,
)
from optimiser.presenting.words import clean, decimals, short

__all__ = ["as_text", "width"]

NARROWEST, USUAL, WIDEST = 40, 80, 120
LEAST_PLOT = 24
NARROW = 9  # a column of words, where nothing else helps
_PERCENT = r"(?<=\d) %"  # never parted from its number
_DECIMAL = r"[+-]?\d+(\.\d+)?"
_MARKS = "o|x*"  # of the curves of a figure, in order


def width() -> int:
    """Return the columns that a report may use: the terminal's, 40 to 120."""
    return min(max(_asked_for() or _of_terminal() or USUAL, NARROWEST), WIDEST)


def _asked_for() -> int:
    """Return the columns that the environment names, as a shell does; 0 if none.

    (``shutil`` asks the same, and loads three ways to compress files first.)
    """
    try:
        return max(0, int(os.environ.get("COLUMNS", "0")))
    except ValueError:
        return 0


def _of_terminal() -> int:
    """Return the columns of the terminal that is printed to; 0 if it is none."""
    try:
        return os.get_terminal_size().columns
    except OSError:
        return 0


def as_text(page: Page, columns: int | None = None) -> str:
    """Return a page as text.

    Parameters
    ----------
    columns : int, optional
        Width to fit; by default the terminal's, at most 120.
    """
    page, wide = as_shown(page), columns or width()
    lines = _wrapped(page.title, wide)
    if page.about:
        lines += _wrapped("; ".join(page.about), wide)
    for place, section in enumerate(page.sections):
        if (section.title or place) and not section.close:
            lines.append("")
        if section.title:
            lines += _wrapped(section.title.upper(), wide)
        for before, block in zip((None, *section.blocks), section.blocks, strict=False):
            if _apart(before, block):
                lines.append("")
            lines += _block(block, wide)
    return "\n".join(lines) + "\n"


def _apart(before: Block | None, block: Block) -> bool:
    """Whether an empty line parts a block from the one before: about tables."""
    if isinstance(block, Table):
        return isinstance(before, Table | Paragraph)
    return isinstance(before, Table)


def _block(block: Block, columns: int) -> list[str]:
    match block:
        case Paragraph():
            return _wrapped(block.whole, columns)
        case Item():
            under = (_wrapped(text, columns, " " * 6, " " * 8) for text in block.under)
            own = _wrapped(block.whole, columns, "  ", "    ")
            return [*own, *(line for lines in under for line in lines)]
        case Numbered():
            lines = []
            for number, text in enumerate(block.written, start=1):
                lead = f"{number:>3} "
                lines += _wrapped(text, columns, lead, " " * len(lead))
            return lines
        case Table():
            return _table(block, columns)
        case Plot():
            return _figure(block, columns)
        case Bands():
            return _bands(block, columns)


def _wrapped(text: str, columns: int, first: str = "", rest: str = "") -> list[str]:
    """Return text wrapped to ``columns``, each line behind its lead.

    >>> _wrapped("solid fat at most 49.5 %", 23)
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


# -- tables --------------------------------------------------------------------------


def _table(table: Table, most: int) -> list[str]:
    """Return columns side by side in at most ``most`` characters.

    Numbers stand with their decimal points below each other. What is too wide goes on
    below, with the first column again.
    """
    texts = [_texts(column) for column in table.columns]
    lines: list[str] = []
    for part in _parts(table.columns, texts, most - 2):
        lines += [""] if lines else []
        lines += _beside(
            [table.columns[at] for at in part],
            [texts[at] for at in part],
            most,
            table.lines,
        )
    return lines


def _parts(
    columns: Sequence[TableColumn], texts: Sequence[Sequence[str]], room: int
) -> list[list[int]]:
    """Return which columns stand beside each other, by number."""
    whole = list(range(len(columns)))
    if sum(_widths(columns, texts, room)) + 2 * (len(columns) - 1) <= room:
        return [whole]
    least = [
        _narrowest(column, text, max(column.least, _longest(text)))
        for column, text in zip(columns, texts, strict=True)
    ]
    parts: list[list[int]] = [[0]]
    for at in whole[1:]:
        wide = sum(least[each] + 2 for each in parts[-1]) + least[at]
        if wide > room and len(parts[-1]) > 1:
            parts.append([0])
        parts[-1].append(at)
    return parts


def _beside(
    columns: Sequence[TableColumn],
    texts: Sequence[Sequence[str]],
    most: int,
    ruled: Sequence[int],
) -> list[str]:
    """Return columns side by side, with a line above some rows."""
    widths = _widths(columns, texts, most - 2)
    heads = [
        textwrap.wrap(clean(column.head), max(1, each)) or [""]
        for column, each in zip(columns, widths, strict=True)
    ]
    lines = _rows(columns, widths, heads) if any(c.head for c in columns) else []
    for row in range(len(texts[0])):
        if row in ruled:
            lines.append("  " + "  ".join("-" * each for each in widths))
        cells = [
            _cell(text[row], each, column.wraps)
            for column, text, each in zip(columns, texts, widths, strict=True)
        ]
        lines += _rows(columns, widths, cells)
    return [line.rstrip() for line in lines]


def _texts(column: TableColumn) -> list[str]:
    """Return the cells as text, those of numbers with their points below each other."""
    shown = [clean(_shown(cell)) for cell in column.cells]
    if column.words:
        return shown
    after = [_tail(cell) for cell in shown]
    most = max(after, default=0)
    return [
        cell + " " * (most - tail) if cell else ""
        for cell, tail in zip(shown, after, strict=True)
    ]


def _shown(cell: Cell) -> str:
    return cell.text if isinstance(cell, Number) else cell


def _tail(cell: str) -> int:
    """Return how many characters stand from the decimal point on."""
    if not re.fullmatch(_DECIMAL, cell) or "." not in cell:
        return 0
    return len(cell.partition(".")[2]) + 1


def _rows(
    columns: Sequence[TableColumn],
    widths: Sequence[int],
    cells: Sequence[Sequence[str]],
) -> list[str]:
    """Return the lines of one row, whose cells may have several each."""
    return [
        "  "
        + "  ".join(
            text.ljust(each) if column.words else text.rjust(each)
            for column, each, text in zip(
                columns,
                widths,
                [cell[at] if at < len(cell) else "" for cell in cells],
                strict=True,
            )
        )
        for at in range(max(map(len, cells)))
    ]


def _widths(
    columns: Sequence[TableColumn], texts: Sequence[Sequence[str]], most: int
) -> list[int]:
    """Return the width of each column, taking from the widest words first."""
    widths = [
        max([len(column.head), *map(len, text)])
        for column, text in zip(columns, texts, strict=True)
    ]
    room = most - 2 * (len(columns) - 1)
    whole = [_longest(text) for text in texts]  # where no word need be broken
    words = [
        max(column.least, whole[at]) if column.words else widths[at]
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


def _narrowest(column: TableColumn, text: Sequence[str], least: int) -> int:
    """Return how narrow a column may be once its head wraps."""
    word = max(map(len, column.head.split()), default=0)
    if not column.words:
        return max([word, *map(len, text)])
    return max(word, min(least, max(map(len, text), default=0)))


def _cell(text: str, columns: int, wraps: bool) -> list[str]:
    if len(text) <= columns:
        return [text]
    if not wraps:
        return [text[: columns - 2].rstrip() + ".."]
    return textwrap.wrap(text, columns, subsequent_indent=" ")


# -- figures -------------------------------------------------------------------------


def _figure(figure: Plot, columns: int) -> list[str]:
    """Return curves drawn sideways: a line a place, each curve with a mark of its own.

    Doubt is a band of dashes about its curve. Values stand before the curves where
    the figure tells them and there is room.
    """
    places = sorted({at for series in figure.series for at in series.at})
    values = [v for s in figure.series for v in s.values if v is not None]
    if not places or not values:
        return _wrapped(figure.caption, columns, "  ", "  ")
    ends = min(0.0, *values) if figure.zero else min(values), max(values)
    marked = tuple(zip(_MARKS, figure.series, strict=False))
    leads = [_right(figure.across, [short(at) for at in places])]
    if figure.places is not None:
        told = [_right(mark, _told(s, places, figure.places)) for mark, s in marked]
        if columns - _breadth(leads + told) >= LEAST_PLOT:
            leads += told
    room = columns - _breadth(leads) - 2
    low, high = (decimals(end, figure.places or 0) for end in ends)
    plot = [f"{low}{high.rjust(room - len(low))}"]
    plot += [_line(marked, at, ends, room) for at in places]
    lines = [
        f"  {'  '.join(cells)}  {drawn}".rstrip()
        for *cells, drawn in zip(*leads, plot, strict=True)
    ]
    keys = ", ".join(f"{mark} {series.name}" for mark, series in marked)
    return [*lines, *_wrapped(f"{keys}. {figure.caption}", columns, "  ", "  ")]


def _bands(figure: Bands, columns: int) -> list[str]:
    """Return bands drawn sideways on one scale from zero, a line each.

    A band is of dashes, what others have a point, what is told of an "o".
    """
    most = max((_most(each) for each in figure.spans), default=0.0) or 1.0
    names = [clean(each.name)[: columns // 3] for each in figure.spans]
    wide = max(map(len, names), default=0)
    room = columns - wide - 4
    scale = short(most)
    lines = [f"  {' ' * wide}  0{scale.rjust(room - 1)}"]
    for name, each in zip(names, figure.spans, strict=True):
        drawn = [" "] * room

        def place(value: float) -> int:
            return math.floor(min(value / most, 1.0) * (room - 1) + 0.5)

        if each.low is not None or each.high is not None:
            first = place(each.low or 0.0)
            last = place(most if each.high is None else each.high)
            drawn[first : last + 1] = "-" * (last + 1 - first)
        for dot in each.dots:
            drawn[place(dot)] = "."
        if each.value is not None:
            drawn[place(each.value)] = "o"
        lines.append(f"  {name.ljust(wide)}  {''.join(drawn)}".rstrip())
    keys = f"o {figure.mark}" + (f", . {figure.dots}" if figure.dots else "")
    told = f"{keys} ({figure.unit}). {figure.caption}"
    return [*lines, *_wrapped(told, columns, "  ", "  ")]


def _most(span: BandLine) -> float:
    """Return the greatest figure of a band."""
    ends = (span.low, span.high, span.value)
    return max((*span.dots, *(end for end in ends if end is not None)), default=0.0)


def _right(head: str, cells: Sequence[str]) -> list[str]:
    """Return a column of cells below its head, all as wide as each other."""
    wide = max(map(len, (head, *cells)))
    return [each.rjust(wide) for each in (head, *cells)]


def _breadth(columns: Sequence[Sequence[str]]) -> int:
    """Return how many characters some columns take, with the space about them."""
    return 2 + sum(2 + len(column[0]) for column in columns)


def _told(series: Series, places: Sequence[float], digits: int) -> list[str]:
    """Return a curve's values with their doubt, "-" where there is none."""
    cells = []
    for at in places:
        value = _at(series.at, series.values, at)
        doubt = _at(series.at, series.doubt, at) if series.doubt else None
        cell = "-" if value is None else decimals(value, digits)
        given = value is not None and doubt is not None
        cells.append(f"{cell} +-{decimals(doubt or 0.0, digits)}" if given else cell)
    return cells


def _line(
    marked: Sequence[tuple[str, Series]],
    at: float,
    ends: tuple[float, float],
    room: int,
) -> str:
    """Return what a plot of ``room`` characters shows at a place."""
    low, high = ends
    drawn = [" "] * room

    def place(value: float) -> int:
        share = (min(max(value, low), high) - low) / ((high - low) or 1.0)
        return math.floor(share * (room - 1) + 0.5)

    for _, series in marked:
        value = _at(series.at, series.values, at)
        doubt = _at(series.at, series.doubt, at) if series.doubt else None
        if value is not None and doubt is not None:
            first, last = place(value - doubt), place(value + doubt)
            drawn[first : last + 1] = "-" * (last + 1 - first)
    for mark, series in reversed(marked):
        value = _at(series.at, series.values, at)
        if value is not None:
            drawn[place(value)] = mark
    return "".join(drawn)


def _at(
    places: Sequence[float], values: Sequence[float | None], at: float
) -> float | None:
    return values[places.index(at)] if at in places else None
