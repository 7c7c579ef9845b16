"""The catalogue as plain data for JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from optimiser.domain.material import Figure, Ingredient
from optimiser.presenting.catalogue.makeup import makeup_data
from optimiser.presenting.catalogue.page import law_on, nut_status

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue

__all__ = ["catalogue_data", "ingredient_data"]

Data = dict[str, Any]


def catalogue_data(catalogue: Catalogue, ingredients: Sequence[Ingredient]) -> Data:
    """Return a list of ingredients as data; null is not known."""
    solid = catalogue.figures.get("solid fat", {})
    return {
        "status": "answered",
        "currency": catalogue.currency or None,
        "ingredients": [
            {
                "ingredient": each.key,
                "name": each.name,
                "inci": each.inci,
                "inci_evidence": each.inci_evidence,
                "category": each.category,
                "kind": each.kind,
                "dissolves": each.dissolves,
                "price_per_kg": catalogue.price_per_kg(each.key),
                "solid_fat_30_degC": _value(solid.get(each.key, {}).get(30.0)),
                "nuts": nut_status(catalogue, each.key),
            }
            for each in ingredients
        ],
    }


def _value(figure: Figure | None) -> float | None:
    return None if figure is None else figure.value


def ingredient_data(catalogue: Catalogue, ingredient: Ingredient) -> Data:
    """Return everything known of one ingredient as data."""
    key = ingredient.key
    return {
        "status": "answered",
        "ingredient": ingredient,
        "currency": catalogue.currency or None,
        "price_per_kg": catalogue.price_per_kg(key),
        "figures": [
            {
                "property": name,
                "at": None if at is None else f"{at:g} degC",
                "is": figure,
            }
            for name, rows in catalogue.figures.items()
            for at, figure in rows.get(key, {}).items()
        ],
        "made_of": makeup_data(catalogue, key),
        "contents": {
            name: rows[key] for name, rows in catalogue.contents.items() if key in rows
        },
        "limits": [each for each in catalogue.limits if each.ingredient == key],
        "law": law_on(catalogue, key),
        "allergens": {
            name: rows[key] for name, rows in catalogue.allergens.items() if key in rows
        },
        "prices": catalogue.prices.get(key, ()),
        "stock": [lot for lot in catalogue.stock if lot.ingredient == key],
    }
