"""What catalogues do not know: unknown is never zero, so it leaves things out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from optimiser.domain.material import PARTS, Ingredient
from optimiser.presenting.page import Item, items
from optimiser.presenting.words import listed, plural

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue

__all__ = ["gap_items", "gaps"]

MOST = 8
_NOUNS = {
    "fats_without_solid_fat": ("fat without solid fat", "fats without solid fat"),
    "waxes_without_firmness": ("wax without firmness", "waxes without firmness"),
    "without_kind": ("ingredient without a kind", "ingredients without a kind"),
    "without_density": ("ingredient without density", "ingredients without density"),
    "without_allergen_row": (
        "ingredient without any allergen row",
        "ingredients without any allergen row",
    ),
}


def gaps(catalogues: Mapping[str | None, Catalogue]) -> dict[str, Any]:
    """Return the names of ingredients that lack something, by what they lack.

    Parameters
    ----------
    catalogues : mapping of workshop to Catalogue
        What was read, with each workshop; facts are taken from the first, prices
        from each.
    """
    first = next(iter(catalogues.values()))
    every = first.ingredients.values()
    told = {key for rows in first.allergens.values() for key in rows}

    def lacking(figure: str, categories: Iterable[str] = ()) -> list[str]:
        known = first.figures.get(figure, {})
        asked = (e for e in every if not categories or e.category in categories)
        return _names(each for each in asked if each.key not in known)

    return {
        "fats_without_solid_fat": lacking("solid fat", PARTS["fats"]),
        "waxes_without_firmness": lacking("wax firmness", ("wax",)),
        "without_kind": _names(each for each in every if each.kind is None),
        "without_density": lacking("density"),
        "without_allergen_row": _names(e for e in every if e.key not in told),
        "without_price": {
            workshop: _names(
                each
                for each in catalogue.ingredients.values()
                if catalogue.price_per_kg(each.key) is None
            )
            for workshop, catalogue in catalogues.items()
            if workshop is not None
        },
    }


def _names(ingredients: Iterable[Ingredient]) -> list[str]:
    return [each.name for each in ingredients]


def gap_items(found: Mapping[str, Any]) -> tuple[Item, ...]:
    """Return what is not known: how many, and the first names."""
    return items(list(_told(found)))


def _told(found: Mapping[str, Any]) -> Iterator[str]:
    for kind, (one, many) in _NOUNS.items():
        if found[kind]:
            yield f"{plural(len(found[kind]), one, many)}: {listed(found[kind], MOST)}"
    for workshop, names in found["without_price"].items():
        if names:
            count = plural(len(names), "ingredient")
            where = f"without a price in workshop '{workshop}'"
            yield f"{count} {where}: {listed(names, MOST)}"
