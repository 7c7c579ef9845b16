"""Stock: nothing that is not on the shelf, and no more than is there."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Rule
from optimiser.domain.wording import Measured, number
from optimiser.rules.space import Space

__all__ = ["on_the_shelf", "rules", "shelf_shares"]


def on_the_shelf(catalogue: Catalogue) -> dict[str, float]:
    """Return kg on the shelf by ingredient; the reader has dropped expired lots.

    Lots are added up without rounding between: 0.2, 0.7 and 0.1 kg are 1 kg.
    """
    lots: dict[str, list[float]] = {}
    for lot in catalogue.stock:
        lots.setdefault(lot.ingredient, []).append(lot.amount)
    return {key: math.fsum(amounts) for key, amounts in lots.items()}


def shelf_shares(space: Space) -> list[float]:
    """Return what the shelf has of the batch, percent, one an ingredient."""
    shelf, batch = on_the_shelf(space.catalogue), space.scenario.batch_kg
    return [100.0 * (shelf.get(key, 0.0) / batch) for key in space.ingredients]


def rules(space: Space) -> Iterator[Rule]:
    """Yield a cap for each ingredient that could run out in this batch."""
    origin = space.scenario.stock_only
    if origin is None:
        return
    shelf = on_the_shelf(space.catalogue)
    nothing = []
    for column, share in enumerate(shelf_shares(space)):
        if share == 0.0:
            nothing.append(column)
        elif share < 100.0:
            each = space.ingredient(column)
            name, kg = each.name, shelf[each.key]
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
