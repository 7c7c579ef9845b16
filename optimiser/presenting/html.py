"""A page as HTML: headings, lists, tables with bars, and plots as inline SVG.

One document needs nothing from a network. Whatever came from a file is escaped, every
picture has a text alternative, and marks differ by more than colour.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from html import escape
from importlib import resources
from itertools import count, groupby, zip_longest

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
    Section,
    Series,
    Table,
    TableColumn,
)
from optimiser.presenting.words import clean, decimals, short

__all__ = [
    "WRITTEN",
    "as_html",
    "bar",
    "blocks_html",
    "points_below",
    "section_html",
    "style",
    "text",
]

# The first line of each document, by which one written before is known.
WRITTEN = "<!doctype html><!-- a report of optimiser -->"
# Nothing is fetched and nothing runs, whatever a browser finds in it.
POLICY = "default-src 'none'; style-src 'unsafe-inline'"
WIDE, HIGH = 640.0, 300.0  # of a plot, in its own units
LEFT, RIGHT, TOP, BOTTOM = 46.0, 12.0, 22.0, 42.0
DASHES = ("", "9 5", "2 4", "12 4 2 4")  # of the curves of a plot, in order
TICKS = 6
_FIGURE = r"[+-]?\d+(\.\d+)?"


def as_html(pages: Sequence[Page], language: str = "en") -> str:
    """Return pages as one document, which holds all that it shows.

    The first gives it its title; each of the others is a chapter.
    """
    pages = tuple(map(as_shown, pages))
    first = pages[0]
    body = "\n".join(_page(page, chapter=bool(at)) for at, page in enumerate(pages))
    return f"""{WRITTEN}
<html lang="{escape(language)}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{text(first.title)}</title>
<style>
{style()}</style>
</head>
<body>
<main>
{body}
</main>
</body>
</html>
"""


@cache
def style() -> str:
    """Return the stylesheet of every page."""
    folder = resources.files("optimiser.presenting")
    return (folder / "page.css").read_text(encoding="utf-8")


def text(told: object) -> str:
    r"""Return text as HTML shows it, with each percent sign beside its number.

    >>> text("<b> 4 %")
    '&lt;b&gt; 4\xa0%'
    """
    return re.sub(r"(?<=\d) %", "\u00a0%", escape(clean(told)))


def _page(page: Page, *, chapter: bool) -> str:
    level = 2 if chapter else 1
    parts = [f"<h{level}>{text(page.title)}</h{level}>"]
    if page.about:
        parts.append(f'<p class="about">{text("; ".join(page.about))}</p>')
    parts += (section_html(each, level + 1) for each in page.sections)
    kind = ' class="chapter"' if chapter else ""
    return f"<article{kind}>\n" + "\n".join(parts) + "\n</article>"


def section_html(section: Section, level: int) -> str:
    """Return a section, under a heading of a level where it has a title."""
    head = f"<h{level}>{text(section.title)}</h{level}>\n" if section.title else ""
    return f"<section>\n{head}{blocks_html(section.blocks)}\n</section>"


def blocks_html(blocks: Iterable[Block]) -> str:
    """Return blocks below each other; items that follow each other are one list."""
    parts = []
    for kind, group in groupby(blocks, type):
        if kind is Item:
            rows = "\n".join(_item(each) for each in group if isinstance(each, Item))
            parts.append(f"<ul>\n{rows}\n</ul>")
        else:
            parts += [_block(each) for each in group]
    return "\n".join(parts)


def _item(item: Item) -> str:
    under = "".join(f"<li>{text(each)}</li>" for each in item.under)
    below = f"<ul>{under}</ul>" if under else ""
    return f"<li>{text(item.whole)}{below}</li>"


def _block(block: Block) -> str:
    match block:
        case Paragraph():
            return f"<p>{text(block.whole)}</p>"
        case Item():
            return f"<ul>{_item(block)}</ul>"
        case Numbered():
            rows = "".join(f"<li>{text(each)}</li>" for each in block.texts)
            return f"<ol>{rows}</ol>"
        case Table():
            return _table(block)
        case Plot():
            return _plot(block)
        case Bands():
            return _bands(block)


# -- tables --------------------------------------------------------------------------


def _table(table: Table) -> str:
    """Return a table; one that is too wide for its column scrolls by itself."""
    drawn = _bars(table)
    heads = [_head(column) for column in table.columns]
    if drawn:
        heads.append(f'<th scope="col" class="bars">{_key(table)}</th>')
    texts = [_texts(column) for column in table.columns]
    rows = []
    for at in range(len(texts[0]) if texts else 0):
        cells = [
            _cell(column, own[at], first=number == 0)
            for number, (column, own) in enumerate(
                zip(table.columns, texts, strict=True)
            )
        ]
        if drawn:
            cells.append(f'<td class="bars">{drawn[at]}</td>')
        ruled = ' class="line"' if at in table.lines else ""
        rows.append(f"<tr{ruled}>{''.join(cells)}</tr>")
    head = ""
    if any(column.head for column in table.columns):
        head = f"<thead><tr>{''.join(heads)}</tr></thead>\n"
    body = "\n".join(rows)
    kind = "" if drawn else " plain"
    return (
        f'<div class="wide{kind}" tabindex="0" role="group"><table>\n'
        f"{head}<tbody>\n{body}\n</tbody></table></div>"
    )


def _head(column: TableColumn) -> str:
    kind = "" if column.words else ' class="n"'
    if not column.head:
        return f"<td{kind}></td>"
    return f'<th scope="col"{kind}>{text(column.head)}</th>'


def _cell(column: TableColumn, shown: str, *, first: bool) -> str:
    if column.words and first:
        return f'<th scope="row">{shown}</th>'
    return f"<td>{shown}</td>" if column.words else f'<td class="n">{shown}</td>'


def _texts(column: TableColumn) -> list[str]:
    shown = [text(_shown(cell)) for cell in column.cells]
    return shown if column.words else points_below(shown)


def points_below(shown: Sequence[str]) -> list[str]:
    """Return figures with room behind them, so that their points are in one line.

    >>> points_below(["38.0", "0.50"]) == ["38.0" + "\u2007", "0.50"]
    True
    """
    tails = [_tail(each) for each in shown]
    most = max(tails, default=0)
    return [
        f"{each}{_room(most - tail, has_point=tail > 0)}" if each else ""
        for each, tail in zip(shown, tails, strict=True)
    ]


def _room(characters: int, *, has_point: bool) -> str:
    """Return so much room: spaces as wide as a point, and as figures."""
    if characters == 0:
        return ""
    return (
        "\u2007" * characters if has_point else "\u2008" + "\u2007" * (characters - 1)
    )


def _shown(cell: Cell) -> str:
    return cell.text if isinstance(cell, Number) else cell


def _tail(cell: str) -> int:
    if not re.fullmatch(_FIGURE, cell) or "." not in cell:
        return 0
    return len(cell.partition(".")[2]) + 1


def _bars(table: Table) -> list[str]:
    """Return what is drawn beside each row; nothing where no column is drawn.

    Rows from the first line on are totals, which would dwarf the rest.
    """
    columns = [column for column in table.columns if column.bar]
    rows = len(columns[0].cells) if columns else 0
    last = min(table.lines, default=rows)
    drawn = [[_value(column.cells[at]) for column in columns] for at in range(rows)]
    most = max((value for row in drawn[:last] for value in row), default=0.0)
    if most <= 0.0:
        return []
    return [
        bar(row[0], row[1] if len(row) > 1 else None, most) if at < last else ""
        for at, row in enumerate(drawn)
    ]


def _value(cell: Cell) -> float:
    return (cell.value or 0.0) if isinstance(cell, Number) else 0.0


def bar(value: float, beside: float | None, most: float) -> str:
    """Return a bar, and below it the hollow one of what it is held against.

    ``most`` is as long as there is room. The figures stand in the same row, so that
    nobody has to see it.
    """
    one = 100.0 * min(value / most, 1.0)
    drawn = f'<rect class="own" x="0" y="1" width="{one:.2f}%" height="8"/>'
    if beside is not None:
        other = 100.0 * min(beside / most, 1.0)
        drawn += f'<rect class="was" x="0" y="11" width="{other:.2f}%" height="3"/>'
    return f'<svg class="bar" aria-hidden="true" focusable="false">{drawn}</svg>'


def _key(table: Table) -> str:
    """Return which bar is which, by the heads of their columns."""
    marks = (
        '<rect class="own" y="1" width="100%" height="8"/>',
        '<rect class="was" y="4" width="100%" height="3"/>',
    )
    heads = [column.head for column in table.columns if column.bar]
    return " ".join(
        f'<svg class="mark" aria-hidden="true">{mark}</svg> {text(head)}'
        for mark, head in zip(marks, heads, strict=False)
    )


# -- plots ---------------------------------------------------------------------------

_numbers = count(1)  # of pictures, which name their own alternatives


def _plot(plot: Plot) -> str:
    """Return curves with their doubt as a band, and the message below."""
    told = f"<figcaption>{_legend(plot)}<p>{text(plot.caption)}</p></figcaption>"
    places = [at for series in plot.series for at in series.at]
    values = [v for s in plot.series for v in (*s.values, *_edges(s)) if v is not None]
    if not places or not values:
        return f"<figure>{told}</figure>"
    low = min(values)
    if plot.zero:  # doubt may reach below nothing, which no figure does
        low = min(0.0, *(v for s in plot.series for v in s.values if v is not None))
    ends = min(places), max(places)
    across = _Axis(ends, LEFT, WIDE - RIGHT, whole=False)
    up = _Axis((low, max(values)), HIGH - BOTTOM, TOP, whole=True)
    number = next(_numbers)
    drawn = [_grid(plot, across, up)]
    for dash, series in zip(DASHES, plot.series, strict=False):
        drawn += [*_band(series, across, up), *_curve(series, dash, across, up)]
    return (
        f'<figure><svg class="plot" viewBox="0 0 {WIDE:g} {HIGH:g}" role="img"'
        f' aria-labelledby="plot{number} told{number}">'
        f'<title id="plot{number}">{text(plot.caption)}</title>'
        f'<desc id="told{number}">{text(_alternative(plot))}</desc>'
        f"{''.join(drawn)}</svg>{told}</figure>"
    )


class _Axis:
    """A scale from ``low`` to ``high``, drawn between two places.

    It ends where its values do, or at ``whole`` steps about them.
    """

    def __init__(
        self, ends: tuple[float, float], first: float, last: float, *, whole: bool
    ) -> None:
        self.low, self.high = ends
        self.step = _step((self.high - self.low) or 1.0)
        if whole or self.high <= self.low:
            self.low = math.floor(self.low / self.step + 1e-9) * self.step
            most = math.ceil(self.high / self.step - 1e-9) * self.step
            self.high = max(most, self.low + self.step)
        self.first, self.last = first, last

    def __call__(self, value: float) -> float:
        share = (min(max(value, self.low), self.high) - self.low) / (
            self.high - self.low
        )
        return self.first + share * (self.last - self.first)

    def ticks(self) -> list[float]:
        first = math.ceil(self.low / self.step - 1e-9)
        last = math.floor(self.high / self.step + 1e-9)
        return [at * self.step for at in range(first, last + 1)]


def _step(span: float) -> float:
    """Return a round step that makes some six of a span.

    >>> _step(35.0), _step(0.8)
    (10.0, 0.2)
    """
    power = 10.0 ** math.floor(math.log10(span / TICKS))
    return next(
        power * each for each in (1.0, 2.0, 5.0, 10.0) if span / (power * each) <= TICKS
    )


def _grid(plot: Plot, across: _Axis, up: _Axis) -> str:
    parts = []
    for value in up.ticks():
        y = up(value)
        parts.append(f'<path class="grid" d="M{LEFT:g} {y:.1f}H{WIDE - RIGHT:g}"/>')
        told = text(short(value))
        parts.append(
            f'<text x="{LEFT - 6:g}" y="{y + 4:.1f}" text-anchor="end">{told}</text>'
        )
    for value in across.ticks():
        x, y = across(value), HIGH - BOTTOM
        parts.append(f'<path class="tick" d="M{x:.1f} {y:g}v5"/>')
        told = text(short(value))
        parts.append(
            f'<text x="{x:.1f}" y="{y + 18:g}" text-anchor="middle">{told}</text>'
        )
    parts.append(
        f'<text x="{WIDE - RIGHT:g}" y="{HIGH - 6:g}" text-anchor="end">'
        f"{text(plot.across)}</text>"
    )
    parts.append(f'<text x="2" y="12">{text(plot.up)}</text>')
    return "".join(parts)


def _edges(series: Series) -> Iterator[float]:
    for ends in series.band():
        yield from ends or ()


def _band(series: Series, across: _Axis, up: _Axis) -> Iterator[str]:
    """Yield the band of doubt about a curve, broken where it is not known."""
    rows = zip(series.at, series.band(), strict=False)
    for known, part in groupby(rows, lambda row: row[1] is not None):
        points = [(at, *ends) for at, ends in part if ends is not None]
        if known and len(points) > 1:
            edge = [f"{across(at):.1f},{up(high):.1f}" for at, _, high in points]
            edge += [f"{across(at):.1f},{up(low):.1f}" for at, low, _ in points[::-1]]
            yield f'<polygon class="doubt" points="{" ".join(edge)}"/>'


def _curve(series: Series, dash: str, across: _Axis, up: _Axis) -> Iterator[str]:
    rows = zip(series.at, series.values, strict=True)
    for known, part in groupby(rows, lambda row: row[1] is not None):
        points = [f"{across(at):.1f},{up(value or 0.0):.1f}" for at, value in part]
        if known and len(series.at) > 1:
            yield (
                f'<polyline class="curve" stroke-dasharray="{dash}"'
                f' points="{" ".join(points)}"/>'
            )
        elif known:
            x, y = points[0].split(",")
            yield f'<circle class="ring" cx="{x}" cy="{y}" r="5"/>'


NAMED, ROW, HEAD = 210.0, 26.0, 8.0  # of bands: their names, and how high one is
OPEN = 1.2  # times the greatest figure, where a band has no upper end


def _bands(figure: Bands) -> str:
    """Return bands on one scale from zero, with the message below."""
    told = f"<figcaption>{_bands_key(figure)}<p>{text(figure.caption)}</p></figcaption>"
    ends = [end for each in figure.spans for end in _ends(each)]
    if not ends:
        return f"<figure>{told}</figure>"
    high = HEAD + ROW * len(figure.spans) + BOTTOM
    open_ = any(x.high is None and x.low is not None for x in figure.spans)
    most = max(*ends, 1e-9) * (OPEN if open_ else 1.0)
    across = _Axis((0.0, most), NAMED, WIDE - RIGHT, whole=True)
    number = next(_numbers)
    drawn = []
    for value in across.ticks():
        x = f"{across(value):.1f}"
        drawn.append(f'<path class="grid" d="M{x} {HEAD:g}V{high - BOTTOM:g}"/>')
        y = high - BOTTOM + 18
        at = f'x="{x}" y="{y:g}" text-anchor="middle"'
        drawn.append(f"<text {at}>{text(short(value))}</text>")
    end = f'x="{WIDE - RIGHT:g}" y="{high - 4:g}" text-anchor="end"'
    drawn.append(f"<text {end}>{text(figure.unit)}</text>")
    for place, each in enumerate(figure.spans):
        drawn.append(_band_line(each, HEAD + ROW * (place + 0.5), across))
    return (
        f'<figure><svg class="plot" viewBox="0 0 {WIDE:g} {high:g}" role="img"'
        f' aria-labelledby="plot{number} told{number}">'
        f'<title id="plot{number}">{text(figure.caption)}</title>'
        f'<desc id="told{number}">{text(_bands_told(figure))}</desc>'
        f"{''.join(drawn)}</svg>{told}</figure>"
    )


def _ends(span: BandLine) -> Iterator[float]:
    yield from span.dots
    yield from (x for x in (span.low, span.high, span.value) if x is not None)


def _band_line(span: BandLine, y: float, across: _Axis) -> str:
    """Return one band: a box, hollow rings for others, and a bar for its value."""
    at = f'x="{NAMED - 10:g}" y="{y + 4:.1f}" text-anchor="end"'
    parts = [f'<text class="name" {at}>{text(span.name)}</text>']
    if span.low is not None or span.high is not None:
        first = across(span.low or 0.0)
        last = across(across.high if span.high is None else span.high)
        box = f'x="{first:.1f}" y="{y - 8:.1f}" width="{max(last - first, 1):.1f}"'
        parts.append(f'<rect class="band" {box} height="16"/>')
    for dot in span.dots:
        ring = f'cx="{across(dot):.1f}" cy="{y:.1f}" r="4"'
        parts.append(f'<circle class="ring" {ring}/>')
    if span.value is not None:
        x = across(span.value)
        parts.append(f'<path class="at" d="M{x:.1f} {y - 11:.1f}v22"/>')
    return "".join(parts)


def _bands_key(figure: Bands) -> str:
    marks = [('<path class="at" d="M18 1v12"/>', figure.mark)]
    if figure.dots:
        marks.append(('<circle class="ring" cx="18" cy="7" r="4"/>', figure.dots))
    marks.append(('<rect class="band" x="2" y="2" width="32" height="10"/>', "band"))
    keys = "".join(
        f'<li><svg class="key" aria-hidden="true">{mark}</svg> {text(name)}</li>'
        for mark, name in marks
    )
    return f'<ul class="keys">{keys}</ul>'


def _bands_told(figure: Bands) -> str:
    """Return the bands in figures: "wax (%): 4 to 12, this formula 11"."""
    told = []
    for each in figure.spans:
        parts = []
        if each.low is not None and each.high is not None:
            parts.append(f"{short(each.low)} to {short(each.high)}")
        elif each.low is not None or each.high is not None:
            side = "at least" if each.high is None else "at most"
            parts.append(f"{side} {short(each.low or each.high or 0.0)}")
        if each.value is not None:
            parts.append(f"{figure.mark} {short(each.value)}")
        if each.dots:
            parts.append(f"{figure.dots} {', '.join(short(x) for x in each.dots)}")
        told.append(f"{each.name} ({figure.unit}): {', '.join(parts)}")
    return ". ".join(told)


def _legend(plot: Plot) -> str:
    keys = "".join(
        f'<li><svg class="key" aria-hidden="true">{_mark(series, dash)}</svg>'
        f" {text(series.name)}</li>"
        for dash, series in zip(DASHES, plot.series, strict=False)
    )
    return f'<ul class="keys">{keys}</ul>'


def _mark(series: Series, dash: str) -> str:
    """Return how a curve is drawn; a single point is a ring."""
    if len(series.at) == 1:
        return '<circle class="ring" cx="18" cy="7" r="5"/>'
    return f'<path class="curve" stroke-dasharray="{dash}" d="M0 7H36"/>'


def _alternative(plot: Plot) -> str:
    """Return what the curves show in figures: "wax (%; °C): 10: 4, 20: 3"."""

    def show(value: float) -> str:
        return short(value, 3) if plot.places is None else decimals(value, plot.places)

    told = []
    for series in plot.series:
        points = []
        rows = zip_longest(series.at, series.values, series.span)
        for at, value, span in rows:
            if value is not None:
                ends = f" ({show(span[0])} to {show(span[1])})" if span else ""
                points.append(f"{short(at)}: {show(value)}{ends}")
        told.append(f"{series.name} ({plot.up}; {plot.across}): {', '.join(points)}")
    return ". ".join(told)
