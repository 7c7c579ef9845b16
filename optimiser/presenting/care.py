"""Cautions and notes: all of them, or the few that a short page has room for."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.presenting.page import (
    Item,
    Numbered,
    Paragraph,
    Section,
    items,
    section,
)
from optimiser.presenting.words import listed, plural

__all__ = ["briefly", "cautions", "first_sentence", "more", "notes"]

MOST = 3


def cautions(said: Sequence[str], *, full: bool) -> tuple[Section, ...]:
    """Return cautions: all, or the beginnings of the three that come first."""
    if full:
        return section("Cautions", [Numbered(tuple(said))] if said else [])
    return section("Take care", items(briefly(said)))


def briefly(said: Sequence[str], most: int = MOST) -> list[str]:
    """Return the beginnings of the cautions that come first."""
    return [first_sentence(each) for each in said[:most]]


def more(
    what: Sequence[str], cautions: Sequence[str] = (), most: int = MOST
) -> tuple[Section, ...]:
    """Return the line that ends a short page: what the full one has besides.

    ``most`` is how many of the cautions stood on the short page.
    """
    rest = len(cautions) - most
    told = [*what, plural(rest, "more caution")] if rest > 0 else [*what]
    return section("", [Paragraph(f"With --full: {listed(told)}.")] if told else [])


def notes(said: Sequence[str], *, full: bool) -> tuple[Section, ...]:
    """Return notes as a list on a full page, and none of them on a short one."""
    return section("Notes", [Item(each) for each in said] if full else [])


def first_sentence(text: str) -> str:
    """Return a text up to its first full stop.

    >>> first_sentence("Wear a mask. Powders hang in the air.")
    'Wear a mask.'
    """
    head, stop, _ = text.partition(". ")
    return f"{head}." if stop else text
