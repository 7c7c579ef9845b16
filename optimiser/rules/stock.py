"""Stock: nothing that is not on the shelf, and no more than is there."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.domain.rule import Rule
from optimiser.domain.wording import Measured, number
from optimiser.rules.space import Space

__all__ = ["on_the_shelf", "rules"]


def on_the_shelf(space: Space) -> dict[str, float]:
    """Return kg on the shelf by ingredient; the reader has dropped expired lots."""
    sums: dict[str, float] = {}
    for lot in space.catalogue.stock:
        sums[lot.ingredient] = sums.get(lot.ingredient, 0.0) + lot.amount
    return sums


def rules(space: Space) -> Iterator[Rule]:
    """Yield a cap for each ingredient that could run out in this batch."""
    origin = space.scenario.stock_only
    if origin is None:
        return
    shelf = on_the_shelf(space)
    nothing = []
    for column, key in enumerate(space.ingredients):
        kg = shelf.get(key, 0.0)
        share = 100.0 * kg / space.scenario.batch_kg
        if kg == 0.0:
            nothing.append(column)
        elif share < 100.0:
            name = space.catalogue.ingredients[key].name
            yield Rule(
                id=f"stock/{name}",
                wording=Measured(name),
                kind="stock",
                side="max",
                limit=share,
                unit="%",
                amounts=space.sum_of([column]),
                per_constant=1.0,
                owner="wish",
                origin=origin,
                provisos=(f"for {number(kg)} kg is on the shelf",),
            )
    yield Rule(
        id="stock/nothing bought",
        wording=Measured(
            "what is not on the shelf", none="nothing that is not on the shelf"
        ),
        kind="stock",
        side="max",
        limit=0.0,
        unit="%",
        amounts=space.sum_of(nothing),
        per_constant=1.0,
        owner="wish",
        origin=origin,
        all_or_nothing=True,
    )
