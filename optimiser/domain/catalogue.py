"""Everything known about materials, markets and one workshop, in one value."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property, lru_cache

from msgspec import Struct

from optimiser.domain.fats import FatData
from optimiser.domain.law import ScentAllergen, SharedLimit, SubstanceLimit, Zone
from optimiser.domain.material import (
    AllergenStatus,
    Figure,
    Ingredient,
    Lot,
    PackPrice,
    UsageLimit,
)

__all__ = ["Catalogue", "Scale", "Source", "fold"]


class Scale(Struct, frozen=True):
    """The step a scale shows and the least it should weigh, kg; None if not known."""

    readability: float | None
    smallest: float | None


@lru_cache(maxsize=1 << 14)
def fold(name: str) -> str:
    """Return a name as it is compared: lower case, one space, no underscores.

    >>> fold(" Cocoa_Butter ")
    'cocoa butter'
    """
    return " ".join(name.replace("_", " ").casefold().split())


class Source(Struct, frozen=True):
    """Where figures were read."""

    key: str
    reference: str
    licence: str | None
    read: str | None


class Catalogue(Struct, frozen=True, dict=True):
    """Facts about materials, law, and the maker's own prices and stock.

    ``figures`` is property -> ingredient -> at (deg C, or None) -> Figure;
    ``contents`` is constituent -> ingredient -> Figure in percent of the ingredient.
    ``allergens`` is allergen -> ingredient -> status. A missing entry is unknown,
    never zero and never "no".
    """

    ingredients: Mapping[str, Ingredient]
    figures: Mapping[str, Mapping[str, Mapping[float | None, Figure]]]
    contents: Mapping[str, Mapping[str, Figure]]
    limits: tuple[UsageLimit, ...]
    allergens: Mapping[str, Mapping[str, AllergenStatus]]
    substance_limits: tuple[SubstanceLimit, ...]
    shared_limits: tuple[SharedLimit, ...]
    scent_allergens: tuple[ScentAllergen, ...]
    zones: Mapping[str, Zone]
    prices: Mapping[str, tuple[PackPrice, ...]]
    stock: tuple[Lot, ...]
    currency: str
    sources: Mapping[str, Source]
    load_fats: Callable[[], FatData] = FatData

    @cached_property
    def fats(self) -> FatData:
        """What fats are made of; read when it is first asked for."""
        return self.load_fats()

    @cached_property
    def _keys(self) -> Mapping[str, str]:
        names: dict[str, str] = {}
        for each in self.ingredients.values():
            for name in (each.key, each.name, *each.aliases):
                names.setdefault(fold(name), each.key)
        shared: dict[str, list[str]] = {}
        for each in self.ingredients.values():
            if each.inci:
                shared.setdefault(fold(each.inci), []).append(each.key)
        for inci, keys in shared.items():
            if len(keys) == 1:
                names.setdefault(inci, keys[0])
        return names

    def find(self, name: str) -> str | None:
        """Return the key of a key, name, alias or unshared INCI name; else None."""
        return self._keys.get(fold(name))

    def names(self) -> tuple[str, ...]:
        """Return every ingredient's plain name."""
        return tuple(each.name for each in self.ingredients.values())

    def price_per_kg(self, ingredient: str) -> float | None:
        """Return the least landed price per kg over its packs; None if unknown."""
        packs = self.prices.get(ingredient)
        return min(pack.price_per_kg for pack in packs) if packs else None
