"""Closeness: at most so many points from the base."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.domain.rule import Rule
from optimiser.domain.wording import Measured
from optimiser.rules.space import Space

__all__ = ["rules"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield a cap on the change by ingredient, kind or category."""
    for bound in space.scenario.closeness:
        if bound.high is None:
            continue
        yield Rule(
            id=f"closeness/by {bound.what}",
            wording=Measured(f"change from the base by {bound.what}", "points"),
            kind="closeness",
            side="max",
            limit=bound.high,
            unit="points",
            amounts=space.distance(bound.what),
            per_constant=1.0,
            owner="wish",
            origin=bound.origin,
            about=bound,
            ends=(0.0, 100.0),
            why=bound.why,
        )
