"""Bands: the share of a category, or of a named part, in the formula."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.domain.rule import Rule
from optimiser.rules.shares import share_rules
from optimiser.rules.space import Space

__all__ = ["rules"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield two rules a band, or one where a side is open."""
    for band in space.scenario.bands:
        columns = space.members(band.what)
        yield from share_rules(space, band, columns, kind="band", name=band.what)
