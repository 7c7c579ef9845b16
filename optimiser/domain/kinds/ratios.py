"""Ratios: so much of one thing for each part of another."""

from __future__ import annotations

from optimiser.domain.material import Origin, Subject

__all__ = ["MOST_RATIO", "Ratio"]

MOST_RATIO = 1e4


class Ratio(Subject, frozen=True):
    """Amount of ``first`` per amount of ``second``; each a set of ingredient keys."""

    name: str
    first: frozenset[str]
    second: frozenset[str]
    low: float | None
    high: float | None
    why: str | None
    origin: Origin
