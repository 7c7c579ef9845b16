"""A plan: batches of several products, to be made with one shelf and one purchase."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.scenario import Scenario

__all__ = ["Batch", "Plan", "Product"]


class Batch(Struct, frozen=True):
    """So many kg of a product, mixed on one day.

    ``units`` of ``net_kg`` each come of it, where the maker counts in units.
    """

    kg: float
    day: date
    units: int | None = None
    net_kg: float | None = None
    origin: Origin | None = None


class Product(Struct, frozen=True):
    """One scenario of a plan, and the batches that its one formula is made in.

    ``moves``: the formula may be another one than the scenario's own answer, at most
    ``within`` points by ingredient away from it (None: anywhere inside its rules).
    ``path`` is its file.
    """

    scenario: Scenario
    batches: Sequence[Batch]
    moves: bool = False
    within: float | None = None
    path: str = ""

    @property
    def units(self) -> int | None:
        """What its batches make in units; None where one is not counted so."""
        units = [batch.units for batch in self.batches]
        return None if None in units else sum(each or 0 for each in units)

    @property
    def kg(self) -> float:
        """What is mixed of it in all its batches, kg."""
        return sum(batch.kg for batch in self.batches)

    def kg_from(self, day: date) -> float:
        """Return what is mixed of it on a day or later, kg."""
        return sum(batch.kg for batch in self.batches if batch.day >= day)


class Plan(Struct, frozen=True, eq=False):
    """Products to be made from one workshop's shelf and packs.

    ``day`` is when packs are bought. ``catalogue`` holds lots that are good then.
    """

    title: str
    file: str
    day: date
    products: tuple[Product, ...]
    catalogue: Catalogue

    @property
    def days(self) -> tuple[date, ...]:
        """The days on which something is mixed, in order."""
        return tuple(sorted({b.day for p in self.products for b in p.batches}))
