"""A label as it is printed: its lines, whether they fit, and a page to print.

Widths are those of a plain sans-serif (Adobe core metrics of Helvetica, thousandths of
the letter size). Its small x is 0.52 of the letter size and 0.5 is set, so that a
little room is left for others of the kind.
"""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Sequence
from datetime import timedelta

from msgspec import Struct

from optimiser.domain.catalogue import fold
from optimiser.presenting.words import clean, listed, short
from optimiser.workshop.label import Label

__all__ = [
    "Fitted",
    "LabelLine",
    "LabelSize",
    "fit",
    "label_html",
    "label_lines",
    "month_words",
]

# Widths of the signs from space to ~.
_WIDTHS = (
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278,
    556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556,
    1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778,
    667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556,
    333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556,
    556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
)  # fmt: skip
_OTHER = 800  # any other sign, on the wide side
BOLD = 1.06  # times as wide
X_HEIGHT = 0.5  # of the letter size, as it is set
DIGIT_HEIGHT = 0.66  # of the letter size: 1.32 times a small x, or a little more
LEADING, MARGIN = 1.2, 2.0  # of the letter size; mm
# By its first line such a file is known, so that no other page is written over.
FIRST = "<!DOCTYPE html><!-- labels of a formula -->"
MOST = 1.8  # mm: letters grow up to here where there is room


class LabelSize(Struct, frozen=True):
    """Width and height of a label, mm."""

    wide: float
    high: float

    @property
    def area(self) -> float:
        """Area, cm2."""
        return self.wide * self.high / 100.0


class LabelLine(Struct, frozen=True):
    """Words that stand together on a label: what they are, and the text.

    ``open`` says that something in them has still to be filled in.
    """

    what: str
    text: str
    open: bool = False


class Fitted(Struct, frozen=True):
    """Whether a label's words fit, and with letters of which height, mm.

    ``least`` is the smallest height there may be, ``letters`` the one that is set;
    ``needs`` how high the label must be, mm, of the same width.
    """

    least: float
    letters: float
    fits: bool
    needs: float


def month_words(label: Label) -> str:
    """Return the best-before date: the month where it is its last day."""
    day = label.best_before
    if day is None:
        return ""
    if label.rules.dates_in_figures:
        return day.isoformat()
    if (day + timedelta(days=1)).day == 1:
        return f"the end of {day:%m/%Y}"
    return f"{day.day} {day:%b %Y}"


def label_lines(label: Label, name: str, function: str | None) -> tuple[LabelLine, ...]:
    """Return what a label says, in the order it stands there."""
    found = [LabelLine("name", clean(name))]
    if function and fold(function) != fold(name):
        found.append(LabelLine("function", clean(function)))
    if label.net is not None:
        found.append(LabelLine("content", label.net))
    unknown = any(not each.known or each.unsure for each in label.entries)
    heads = label.rules.heads
    ingredients = f"{clean(heads['ingredients'])}: {clean(label.ingredients)}"
    found.append(LabelLine("ingredients", ingredients, unknown))
    if label.warnings:
        found.append(LabelLine("warning", clean(" ".join(label.warnings))))
    if label.contains:
        by: dict[str, list[str]] = {}
        for each in label.contains:
            by.setdefault(each.allergen, []).append(each.name)
        told = "; ".join(f"{what} ({listed(names)})" for what, names in by.items())
        found.append(LabelLine("contains", f"{clean(heads['contains'])}: {told}"))
    if label.best_before is not None:
        until = month_words(label)
        found.append(LabelLine("date", f"{clean(heads['date'])} {until}"))
    elif not label.after_opening and not label.date_asked:
        found.append(LabelLine("made", f"{clean(heads['made'])} {label.made}"))
    if label.after_opening:
        found.append(LabelLine("opening", f"{label.after_opening}M"))
    if label.lot is not None:
        found.append(LabelLine("batch", f"{clean(heads['batch'])} {clean(label.lot)}"))
    found += [LabelLine(what, clean(text)) for what, text in label.by_maker]
    found += [
        LabelLine(what, f"[{clean(text)}]", open=True)
        for what, text in label.to_fill_in
        if what not in {"INCI name", "share"}
    ]
    return tuple(found)


def _width(text: str) -> float:
    """Return the width of a text, letter sizes."""
    units = sum(
        _WIDTHS[ord(sign) - 32] if 32 <= ord(sign) < 127 else _OTHER for sign in text
    )
    return units / 1000.0


def _rows(text: str, room: float) -> int:
    """Return how many rows a text takes in a width given in letter sizes."""
    rows, at = 1, 0.0
    space = _width(" ")
    for word in text.split():
        wide = _width(word)
        if at and at + space + wide > room:
            rows, at = rows + 1, 0.0
        if wide > room:  # broken where it must be
            more = math.ceil(wide / room) - 1
            rows, at = rows + more, wide - more * room
            continue
        at = at + (space if at else 0.0) + wide
    return rows


def _sized(
    line: LabelLine, letters: float, digits: float | None
) -> tuple[float, float]:
    """Return the size of a line's letters, mm, and what bold widens it by."""
    size = letters / X_HEIGHT
    if line.what == "content" and digits is not None:
        return max(size, digits / DIGIT_HEIGHT), BOLD
    return size, BOLD if line.what in {"name", "content", "warning"} else 1.0


def _needs(
    lines: Iterable[LabelLine], letters: float, digits: float | None, wide: float
) -> float:
    """Return how high a label must be, mm."""
    high = 2 * MARGIN
    for line in lines:
        size, bold = _sized(line, letters, digits)
        rows = _rows(line.text, (wide - 2 * MARGIN) / (size * bold))
        high += rows * size * LEADING
    return high


def fit(lines: Sequence[LabelLine], label: Label, size: LabelSize) -> Fitted:
    """Return whether lines fit on a label, with letters as large as there is room."""
    least = label.rules.letters.on(size.area)
    needs = _needs(lines, least, label.digits, size.wide)
    if needs > size.high:
        return Fitted(least, least, False, math.ceil(needs))
    letters = least
    while letters + 0.05 <= max(MOST, least):
        if _needs(lines, letters + 0.05, label.digits, size.wide) > size.high:
            break
        letters = round(letters + 0.05, 2)
    return Fitted(least, letters, True, math.ceil(needs))


_STYLE = """\
@page {{ size: {wide}mm {page}mm; margin: 0 }}
* {{ box-sizing: border-box }}
body {{ margin: 0; color: #000; background: #fff;
  font-family: Arial, Helvetica, "Liberation Sans", sans-serif }}
.label {{ width: {wide}mm; min-height: {high}mm; padding: {margin}mm;
  line-height: {leading}; overflow-wrap: anywhere; font-size-adjust: {x};
  break-after: page }}
.label:last-of-type {{ break-after: auto }}
.label p {{ margin: 0 }}
.name, .content, .warning {{ font-weight: bold }}
.open {{ font-style: italic }}
svg {{ height: 1em; width: 1em; vertical-align: -0.1em }}
.note {{ font: 14px/1.4 sans-serif; max-width: 40em; margin: 1.5em; color: #333 }}
@media screen {{ .label {{ margin: 1.5em; outline: 1px dashed #888 }} }}
@media print {{ .note {{ display: none }} }}
"""
# The open jar of a period after opening, drawn here: no other file is needed.
_JAR = (
    '<svg viewBox="0 0 20 20" role="img" aria-label="period after opening">'
    '<path d="M3 9h14v9H3z M2 6l15-4" fill="none" stroke="#000" stroke-width="1.6"/>'
    "</svg>"
)


def label_html(
    title: str,
    labels: Sequence[tuple[Label, Sequence[LabelLine], Fitted]],
    size: LabelSize,
    note: str,
) -> str:
    """Return labels as a page that prints each at its size; it needs no other file.

    Every text is escaped. A label whose words do not fit grows instead of losing some.
    """
    style = _STYLE.format(
        wide=short(size.wide),
        high=short(size.high),
        page=short(max(size.high, *(fits.needs for _, _, fits in labels))),
        margin=short(MARGIN),
        leading=LEADING,
        x=X_HEIGHT,
    )
    parts = [
        FIRST,
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        f"<title>{html.escape(clean(title))}</title>",
        f"<style>\n{style}</style>",
        "</head>",
        "<body>",
    ]
    for label, lines, fits in labels:
        told = f"{label.market}: {note}"
        if not fits.fits:
            told += f" These words do NOT fit: the label grew to {fits.needs:g} mm."
        parts += [
            f'<p class="note">{html.escape(told)}</p>',
            f'<section class="label" data-market="{html.escape(label.market)}">',
            *(_paragraph(line, fits.letters, label.digits) for line in lines),
            "</section>",
        ]
    return "\n".join((*parts, "</body>", "</html>", ""))


def _paragraph(line: LabelLine, letters: float, digits: float | None) -> str:
    size, _ = _sized(line, letters, digits)
    kinds = f"{line.what.replace(' ', '-')}{' open' if line.open else ''}"
    sign = f"{_JAR} " if line.what == "opening" else ""
    text = html.escape(line.text)
    return (
        f'<p class="{html.escape(kinds)}" style="font-size:{size:.2f}mm">'
        f"{sign}{text}</p>"
    )
