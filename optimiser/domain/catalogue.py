"""Everything known about materials, markets and one workshop, in one value."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Mapping
from functools import cached_property, lru_cache

from msgspec import Struct, field

from optimiser.domain.caution import Caution
from optimiser.domain.fats import FatData
from optimiser.domain.law import (
    Duty,
    ScentAllergen,
    SharedLimit,
    SubstanceLimit,
    Zone,
)
from optimiser.domain.material import (
    OF_ITS_OIL,
    AllergenStatus,
    Figure,
    Ingredient,
    Lot,
    PackPrice,
    Supplier,
    UsageLimit,
)

CLIMATE = "climatic zone"  # the kind of those that a scenario is kept in

__all__ = ["Catalogue", "Scale", "Source", "fold"]


class Scale(Struct, frozen=True):
    """The step a scale shows and the least it should weigh, kg; None if not known."""

    readability: float | None
    smallest: float | None


@lru_cache(maxsize=1 << 14)
def fold(name: str) -> str:
    r"""Return a name as it is compared: lower case, one space, no underscores.

    Signs that look alike are one (NFKC), and those that cannot be seen are left out.

    >>> fold(" Cocoa_Butter ")
    'cocoa butter'
    >>> fold("cafe\u0301 \ufb02akes") == fold("caf\u00e9\u200b flakes")
    True
    """
    plain = name.replace("_", " ")
    if not plain.isascii():
        plain = unicodedata.normalize("NFKC", plain)
        plain = "".join(x for x in plain if unicodedata.category(x) != "Cf")
        plain = unicodedata.normalize("NFKC", plain.casefold())
    return " ".join(plain.casefold().split())


def _how_many(rows: Iterable[PackPrice | Lot]) -> str | None:
    """Return how many rows are invented: "all" or "some"; None where none is."""
    told = {each.invented for each in rows}
    return None if True not in told else "some" if False in told else "all"


def _nothing(_: str) -> None:
    """Know nothing of a name."""


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
    never zero and never "no". ``expired`` are lots past their date on the day that a
    scenario is asked; they are no stock. ``read_name`` returns the ingredient of a
    name that is none of the catalogue's but stands for one beyond doubt;
    ``name_left_open`` why another does not. ``lots`` are those of stock.csv as
    written, ``stock`` what is left of them. ``may_be`` is ingredient -> substances of
    the law whose names its own is near, of which nothing is known in it. ``uncounted``
    are the currencies of invented prices that do not count, for they are not the
    workshop's. ``fahrenheit`` says that its pages tell °F beside °C.
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
    suppliers: Mapping[str, Supplier] = field(default_factory=dict)
    duties: tuple[Duty, ...] = ()
    cautions: tuple[Caution, ...] = ()
    expired: tuple[Lot, ...] = ()
    read_name: Callable[[str], str | None] = _nothing
    name_left_open: Callable[[str], str | None] = _nothing
    lots: tuple[Lot, ...] = ()
    may_be: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    uncounted: tuple[str, ...] = ()
    fahrenheit: bool = False

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

    def exact(self, name: str) -> str | None:
        """Return the key of a key, name, alias or unshared INCI name; else None."""
        return self._keys.get(fold(name))

    def find(self, name: str) -> str | None:
        """Return the ingredient that a name stands for beyond doubt, or None.

        What is not a name of the catalogue letter by letter is read as recipes are.
        """
        return self.exact(name) or self.read_name(name)

    def zone(self, text: str) -> Zone | None:
        """Return the temperatures of a name of climate.csv, or of a kind of them."""
        zones = self.zones.values()
        named = (zone for zone in zones if fold(zone.name) == fold(text))
        of_kind = (zone for zone in zones if fold(zone.kind) == fold(text))
        return next(named, None) or next(of_kind, None)

    @property
    def climates(self) -> tuple[Zone, ...]:
        """The zones to keep a product in; all that is known where none is such."""
        found = [zone for zone in self.zones.values() if zone.kind == CLIMATE]
        return tuple(found or self.zones.values())

    def markets(self) -> frozenset[str]:
        """Return the markets of which some law is known."""
        found = {row.market for row in self.substance_limits}
        found |= {row.market for row in self.shared_limits}
        found |= {row.market for row in self.scent_allergens}
        found |= {row.market for row in self.duties}
        return frozenset(found - {"any"})

    def content(
        self, amounts: Mapping[str, float], parts: Mapping[str, float]
    ) -> float:
        """Return a weighted sum of constituents in a formula, at its high end.

        Parameters
        ----------
        amounts : mapping of ingredient key to percent
        parts : mapping of constituent to the weight it counts with

        Returns
        -------
        float
            Percent of the product, of what is known.
        """
        return sum(
            weight * amounts.get(key, 0.0) * figure.high / 100.0
            for substance, weight in parts.items()
            for key, figure in self.contents.get(substance, {}).items()
        )

    def classified(self, key: str) -> bool:
        """Whether anybody has told of an ingredient itself which allergens it is."""
        told = (rows[key] for rows in self.allergens.values() if key in rows)
        return any(each.flag != OF_ITS_OIL for each in told)

    def names(self) -> tuple[str, ...]:
        """Return every ingredient's plain name."""
        return tuple(each.name for each in self.ingredients.values())

    @property
    def invented_prices(self) -> str | None:
        """How many prices are invented: "all" or "some"; None where none is.

        "noted": none is marked so, and a remark calls some that. "uncounted": some
        are, none of which counts, for they are in another currency.
        """
        every = [pack for packs in self.prices.values() for pack in packs]
        noted = "noted" if any(pack.noted for pack in every) else None
        return _how_many(every) or noted or ("uncounted" if self.uncounted else None)

    def invented_among(self, keys: Iterable[str]) -> tuple[str, ...]:
        """Return the names of those ingredients whose prices are invented."""
        return tuple(
            self.ingredients[key].name
            for key in dict.fromkeys(keys)
            if any(pack.invented for pack in self.prices.get(key, ()))
        )

    @property
    def invented_lots(self) -> str | None:
        """How many lots on the shelf are invented, as prices are."""
        return _how_many(self.stock)

    def price_per_kg(self, ingredient: str) -> float | None:
        """Return the least landed price per kg over its packs; None if unknown."""
        packs = self.prices.get(ingredient)
        return min(pack.price_per_kg for pack in packs) if packs else None
