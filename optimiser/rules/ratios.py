"""Ratios: so much of one thing for each part of another."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from optimiser.domain.rule import Rule
from optimiser.rules.shares import with_reason
from optimiser.rules.space import Space, number

__all__ = ["rules"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield ``first >= limit * second`` and ``first <= limit * second``."""
    for ratio in space.scenario.ratios:
        first = [i for i, key in enumerate(space.ingredients) if key in ratio.first]
        second = [i for i, key in enumerate(space.ingredients) if key in ratio.second]
        for side, limit in (("min", ratio.low), ("max", ratio.high)):
            if limit is None:
                continue
            word = "at least" if side == "min" else "at most"
            sentence = f"{ratio.name}: {word} {number(limit)} to 1"
            yield Rule(
                id=f"ratio/{ratio.name}/{side}",
                sentence=with_reason(sentence, ratio.why),
                kind="ratio",
                side=side,
                limit=limit,
                unit="to 1",
                amounts=space.sum_of(first),
                per=space.sum_of(second),
                owner="wish",
                origin=replace(ratio.origin, field=f"{ratio.origin.field}.{side}"),
            )
