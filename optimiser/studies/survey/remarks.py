"""Remarks of a survey that hold figures, as values: presenting gives them words."""

from __future__ import annotations

from msgspec import Struct

__all__ = [
    "InMixture",
    "LeftOver",
    "NoPreservative",
    "OffTheMiddle",
    "Remark",
    "Rescaled",
    "Strength",
]


class Rescaled(Struct, frozen=True, tag=True):
    """What a recipe adds up to, in "%" or "g", where it was brought to 100.

    ``ranged`` where only the middles of its ranges miss 100.
    """

    total: float
    unit: str
    ranged: bool = False


class LeftOver(Struct, frozen=True, tag=True):
    """What other lines leave to 100 for the one that fills, in "%", "g" or "parts"."""

    left: float
    unit: str


class InMixture(Struct, frozen=True, tag=True):
    """How a measure was weighed that goes into so much of a mixture, [g]."""

    how: str
    grams: float


class Strength(Struct, frozen=True, tag=True):
    """How much active matter a material as supplied has, percent.

    ``divided`` where the recipe gave active matter, which was turned into the material.
    """

    percent: float
    divided: bool


class OffTheMiddle(Struct, frozen=True, tag=True):
    """A category's share of a base, and what the middle half of its users hold, %."""

    category: str
    share: float
    low: float
    high: float


class NoPreservative(Struct, frozen=True, tag=True):
    """That a base holds water and no preservative; ``unread`` names may be one."""

    unread: int = 0


Remark = (
    str | Rescaled | LeftOver | InMixture | Strength | OffTheMiddle | NoPreservative
)
