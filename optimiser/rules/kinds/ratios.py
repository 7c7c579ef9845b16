"""Ratios: so much of one thing for each part of another."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.domain.kinds.ratios import MOST_RATIO, Ratio
from optimiser.domain.rule import Rule
from optimiser.domain.wording import Measured
from optimiser.rules.shares import at_side, sides
from optimiser.rules.space import Space

__all__ = ["rules"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield ``first >= limit * second`` and ``first <= limit * second``."""
    for ratio in space.scenario.asked_for(Ratio):
        first = [i for i, key in enumerate(space.ingredients) if key in ratio.first]
        second = [i for i, key in enumerate(space.ingredients) if key in ratio.second]
        for side, limit in sides(ratio.low, ratio.high):
            yield Rule(
                id=f"ratio/{ratio.name}/{side}",
                wording=Measured(f"{ratio.name}:", "to 1"),
                kind="ratio",
                side=side,
                limit=limit,
                unit="to 1",
                amounts=space.sum_of(first),
                per=space.sum_of(second),
                owner="wish",
                origin=at_side(ratio.origin, side),
                about=ratio,
                ends=(0.0, max(MOST_RATIO, limit)),
                why=ratio.why,
            )
