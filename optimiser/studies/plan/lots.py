"""Which lot goes into which batch: the first to expire first, none past its date."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from msgspec import Struct

from optimiser.domain.plan import Plan
from optimiser.studies.plan.packs import SLIVER, Bought, good_until

__all__ = ["Left", "Taken", "shared_out"]


class Taken(Struct, frozen=True):
    """What one batch takes of one lot, or of what is bought, kg.

    ``product`` is its number in the plan, ``batch`` the batch's in the product; ``lot``
    is None for what is bought.
    """

    product: int
    batch: int
    day: date
    ingredient: str
    lot: str | None
    expiry: date | None
    kg: float


class Left(Struct, frozen=True):
    """What the plan leaves of a lot, or of what is bought (``lot`` None), kg."""

    ingredient: str
    lot: str | None
    expiry: date | None
    kg: float


class _Supply:
    """A lot or a pack being emptied."""

    def __init__(
        self, ingredient: str, lot: str | None, expiry: date | None, kg: float
    ) -> None:
        self.ingredient, self.lot, self.expiry, self.kg = ingredient, lot, expiry, kg

    @property
    def order(self) -> tuple[date, bool, str]:
        """The first to expire first; what has no date last, and the shelf first."""
        return (self.expiry or date.max, self.lot is None, self.lot or "")


def shared_out(
    plan: Plan, formulas: Sequence[Mapping[str, float]], bought: Sequence[Bought]
) -> tuple[tuple[Taken, ...], tuple[Left, ...]]:
    """Return what each batch takes from where, and what is left.

    Batches are mixed in the order of their days; each takes what expires first of
    what is good on its day. No other order serves more: what an early batch leaves is
    what keeps longest, which is all that a later one can use.

    Parameters
    ----------
    formulas : sequence of mappings of ingredient key to percent, one a product
    """
    used = {key for formula in formulas for key in formula}
    supplies = _supplies(plan, used, bought)
    batches = [
        (batch.day, number, place, batch.kg)
        for number, product in enumerate(plan.products)
        for place, batch in enumerate(product.batches)
    ]
    taken: list[Taken] = []
    for day, number, place, kg in sorted(batches):
        for key, percent in formulas[number].items():
            need = kg * percent / 100.0
            for each in supplies.get(key, ()):
                past = each.expiry is not None and each.expiry < day
                if need <= SLIVER or past or each.kg <= 0.0:
                    continue
                # A speck that would be left is taken too.
                gone = each.kg if each.kg - need <= SLIVER else need
                taken.append(
                    Taken(number, place, day, key, each.lot, each.expiry, gone)
                )
                need, each.kg = need - gone, each.kg - gone
    left = tuple(
        Left(x.ingredient, x.lot, x.expiry, x.kg)
        for x in sorted((x for own in supplies.values() for x in own), key=_by_date)
        if x.kg > SLIVER
    )
    return tuple(taken), left


def _by_date(supply: _Supply) -> tuple[tuple[date, bool, str], str]:
    return supply.order, supply.ingredient


def _supplies(
    plan: Plan, used: set[str], bought: Sequence[Bought]
) -> dict[str, list[_Supply]]:
    found: dict[str, list[_Supply]] = {}
    for lot in plan.catalogue.stock:
        if lot.ingredient in used:
            own = _Supply(lot.ingredient, lot.lot, lot.expiry, lot.amount)
            found.setdefault(lot.ingredient, []).append(own)
    for each in bought:
        key, until = each.pack.ingredient, good_until(each.pack, plan.day)
        found.setdefault(key, []).append(_Supply(key, None, until, each.kg))
    for supplies in found.values():
        supplies.sort(key=lambda each: each.order)
    return found
