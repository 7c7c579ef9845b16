"""What an exclusion keeps out: by allergen and reading, vegan, palm-free, by name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import UNRELATED, Subject
from optimiser.domain.scenario import Exclusions
from optimiser.domain.spoken import allergens_in

__all__ = [
    "Excluded",
    "contains",
    "is_near",
    "is_out",
    "leaving_out",
    "listed_in",
]


class Excluded(Subject, frozen=True):
    """One thing that is kept out: an entry of a list of `Exclusions`, or a wish there.

    ``kind`` is the list ("allergens", "ingredients", "categories") or the wish
    ("vegan", "palm_free"); ``entry`` the allergen, the ingredient's key or the
    category, and "" of a wish. ``name`` is how makers call it.
    """

    kind: str
    entry: str
    name: str

    @property
    def rule_id(self) -> str:
        """The id of its rule, under which a scenario eases it."""
        return f"exclude/{self.name}"

    @property
    def field(self) -> str:
        """Where a scenario says it, below ``[exclude]``."""
        return f"{self.kind}.{self.entry}" if self.entry else self.kind


def contains(
    catalogue: Catalogue,
    key: str,
    allergen: str,
    markets: Sequence[str],
    reading: str,
) -> bool | None:
    """Whether an ingredient counts as an allergen; None if nothing is known.

    Nor is it known where no row settles it, and the ingredient's name tells of it.

    The "listed" reading asks the authorities of the markets (all of them where no
    market is named, or the list of one is not known); the "cautious" one also keeps
    out botanical nuts and kernels and anything whose status is not settled.
    """
    status = catalogue.allergens.get(allergen, {}).get(key)
    if status is None:
        classified = catalogue.classified(key)
        told = allergen in allergens_in(catalogue.ingredients[key].name)
        return False if classified and not told else None
    known = markets and all(market in status.listed for market in markets)
    listed = [status.listed[market] for market in (markets if known else status.listed)]
    if any(listed):
        return True
    if reading == "cautious":
        if any(status.listed.values()) or status.flag not in UNRELATED:
            return True
        return None if all(each is None for each in listed) else False
    return None if any(each is None for each in listed) else False


def is_near(
    catalogue: Catalogue, key: str, allergen: str, markets: Sequence[str]
) -> bool:
    """Whether only the cautious reading keeps an ingredient out for an allergen.

    No list of the markets names it then, and it is not settled that it is none either:
    a nut by name or botany, a kernel, or what a list elsewhere names.
    """
    return (
        contains(catalogue, key, allergen, markets, "listed") is False
        and contains(catalogue, key, allergen, markets, "cautious") is not False
    )


def listed_in(catalogue: Catalogue, key: str, markets: Sequence[str]) -> set[str]:
    """Return the allergens that an ingredient counts as, by the lists of markets."""
    return {
        allergen
        for allergen, rows in catalogue.allergens.items()
        if key in rows and contains(catalogue, key, allergen, markets, "listed")
    }


def is_out(
    exclude: Exclusions, markets: Sequence[str], catalogue: Catalogue, key: str
) -> bool:
    """Whether an exclusion keeps an ingredient out of every formula."""
    ingredient = catalogue.ingredients[key]
    return (
        key in exclude.ingredients
        or ingredient.category in exclude.categories
        or (exclude.vegan and ingredient.vegan != "yes")
        or (exclude.palm_free and ingredient.palm != "no")
        or any(
            contains(catalogue, key, each, markets, exclude.reading) is not False
            for each in exclude.allergens
        )
    )


def leaving_out(exclude: Exclusions, catalogue: Catalogue, keys: Iterable[str]) -> str:
    """Return what to write to leave ingredients out, beside those that are already."""
    every = dict.fromkeys((*exclude.ingredients, *keys))
    names = ", ".join(f'"{catalogue.ingredients[key].name}"' for key in every)
    row = f"ingredients = [{names}]"
    if exclude.origins:
        return f"write {row} below [exclude]"
    return f"write [exclude] and, below it, {row}"
