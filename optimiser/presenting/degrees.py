"""Temperatures of a page in °F too, for workshops whose thermometers show that.

A page tells °C; what a maker in the US reads off a thermometer stands beside it. That
is decided once for a run, as the width of the terminal is, and no builder of pages
knows of it. Data (JSON, CSV) stays in °C.
"""

from __future__ import annotations

import re
from contextvars import ContextVar
from functools import cache

from msgspec.structs import replace

from optimiser.presenting.page import (
    Bands,
    Block,
    Item,
    Number,
    Numbered,
    Page,
    Paragraph,
    Plot,
    Section,
    Table,
    TableColumn,
)

__all__ = ["as_shown", "fahrenheit", "in_both"]

fahrenheit: ContextVar[bool] = ContextVar("fahrenheit", default=False)

_NUMBER = r"-?\d+(?:\.\d+)?"


@cache
def _figure() -> re.Pattern[str]:
    return re.compile(rf"(?<![\d.]){_NUMBER}")


@cache
def _degrees() -> re.Pattern[str]:
    """Return what finds temperatures: "25 °C", "40 to 25 °C", "20, 25 and 30 °C"."""
    before = rf"(?:(?:{_NUMBER}, )*{_NUMBER}(?: to | and | or |-))?"
    return re.compile(rf"(?<![\w.])({before}{_NUMBER}) °C")


@cache
def _differences() -> re.Pattern[str]:
    return re.compile(rf"(?<![\w.-])({_NUMBER}) degrees\b")


def in_both(text: str) -> str:
    """Return a text with its temperatures in °F beside those in °C.

    >>> in_both("pour between 60 and 50 °C, never above 74.5 °C")
    'pour between 60 and 50 °C (140 and 122 °F), never above 74.5 °C (166 °F)'
    >>> in_both("good to 3 degrees either way")
    'good to 3 degrees (5 °F) either way'
    """

    def both(found: re.Match[str]) -> str:
        return f"{found[0]} ({_figure().sub(_as_fahrenheit, found[1])} °F)"

    def by(found: re.Match[str]) -> str:
        return f"{found[0]} ({float(found[1]) * 9.0 / 5.0:.0f} °F)"

    return _differences().sub(by, _degrees().sub(both, text))


def _as_fahrenheit(found: re.Match[str]) -> str:
    return f"{float(found[0]) * 9.0 / 5.0 + 32.0:.0f}"


def as_shown(page: Page) -> Page:
    """Return a page as this run shows it: with °F too, where a workshop asks for it."""
    if not fahrenheit.get():
        return page
    return Page(
        in_both(page.title),
        tuple(map(in_both, page.about)),
        tuple(
            Section(in_both(x.title), tuple(map(_block, x.blocks)), x.close)
            for x in page.sections
        ),
    )


def _block(block: Block) -> Block:
    match block:
        case Paragraph():
            return replace(block, text=in_both(block.text))
        case Item():
            under = tuple(map(in_both, block.under))
            return replace(block, text=in_both(block.text), under=under)
        case Numbered():
            return replace(block, texts=tuple(map(in_both, block.texts)))
        case Table():
            return replace(block, columns=tuple(map(_column, block.columns)))
        case Plot() | Bands():  # one axis is enough
            return replace(block, caption=in_both(block.caption))


def _column(column: TableColumn) -> TableColumn:
    """Return a column with °F in its cells; of plain figures in °C, beside each."""
    head = in_both(column.head)
    plain = head == column.head and "°C" in head
    cells = tuple(_cell(each, plain=plain) for each in column.cells)
    return replace(column, head=head, cells=cells)


def _cell(cell: Number | str, *, plain: bool) -> Number | str:
    text = cell if isinstance(cell, str) else cell.text
    if not plain:
        return in_both(cell) if isinstance(cell, str) else cell
    if not _figure().search(text):
        return cell
    told = f"{text} ({_figure().sub(_as_fahrenheit, text)} °F)"
    return told if isinstance(cell, str) else replace(cell, text=told)
