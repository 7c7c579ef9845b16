"""The percentages add up to 100."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.domain.material import Origin
from optimiser.domain.rule import Rule
from optimiser.domain.wording import Fixed
from optimiser.rules.space import Space

__all__ = ["rules"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield the one rule that every formula keeps."""
    yield Rule(
        id="total",
        wording=Fixed("the percentages add up to 100 %"),
        kind="total",
        side="exact",
        limit=100.0,
        unit="%",
        amounts=space.sum_of(range(len(space.ingredients))),
        per_constant=1.0,
        owner="arithmetic",
        origin=Origin(space.scenario.file),
    )
