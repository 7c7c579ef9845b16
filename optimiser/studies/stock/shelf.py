"""The shelf: how much there is, which lot goes first, how far each ingredient lasts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Lot
from optimiser.domain.scenario import Scenario

__all__ = ["BaseBatch", "Take", "base_batch", "on_the_shelf", "reaches", "takes"]

# What is left of a sum that is rounded, kg: nothing is taken for it.
DUST = 1e-9


class BaseBatch(Struct, frozen=True):
    """What the base makes as it is written: kg, units, and what stops it.

    ``missing`` are ingredients of the base of which nothing is on the shelf.
    """

    kg: float
    units: int | None
    first_out: str | None
    missing: tuple[str, ...]


class Take(Struct, frozen=True):
    """What is taken from one lot and what is left in it, kg."""

    ingredient: str
    name: str
    lot: str
    expiry: date | None
    kg: float
    left_kg: float


def on_the_shelf(catalogue: Catalogue) -> dict[str, float]:
    """Return kg on the shelf by ingredient; expired lots were not read."""
    sums: dict[str, float] = {}
    for lot in catalogue.stock:
        sums[lot.ingredient] = sums.get(lot.ingredient, 0.0) + lot.amount
    return sums


def base_batch(
    scenario: Scenario,
    catalogue: Catalogue,
    shelf: Mapping[str, float],
    unit_kg: float | None,
    keeps: float,
) -> BaseBatch | None:
    """Return what the base makes as written; None without a base."""
    if not scenario.base:
        return None
    names = {key: catalogue.ingredients[key].name for key in scenario.base}
    missing = tuple(names[key] for key in scenario.base if not shelf.get(key))
    found = reaches(scenario.base, shelf, catalogue)
    kg = 0.0 if missing or not found else found[0][1]
    units = None if unit_kg is None else math.floor(kg * keeps / unit_kg + 1e-9)
    return BaseBatch(kg, units, found[0][0] if found else None, missing)


def reaches(
    amounts: Mapping[str, float], shelf: Mapping[str, float], catalogue: Catalogue
) -> tuple[tuple[str, float], ...]:
    """Return the kg of product that each ingredient's stock reaches for."""
    found = [
        (catalogue.ingredients[key].name, 100.0 * shelf.get(key, 0.0) / percent)
        for key, percent in amounts.items()
        if percent > 0
    ]
    return tuple(sorted(found, key=lambda each: each[1]))


def _oldest_first(lots: list[Lot]) -> list[Lot]:
    return sorted(lots, key=lambda lot: (lot.expiry or date.max, lot.lot))


def takes(
    amounts: Mapping[str, float], batch: float, catalogue: Catalogue
) -> tuple[Take, ...]:
    """Return what is taken from which lot: the first to expire goes first."""
    takes = []
    for key, percent in amounts.items():
        need = percent / 100.0 * batch
        lots = _oldest_first([lot for lot in catalogue.stock if lot.ingredient == key])
        for lot in lots:
            kg = min(need, lot.amount) if need > DUST else 0.0
            need -= kg
            left = lot.amount - kg
            name = catalogue.ingredients[key].name
            takes.append(
                Take(key, name, lot.lot, lot.expiry, kg, left if left > DUST else 0.0)
            )
    return tuple(takes)
