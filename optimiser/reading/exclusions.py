"""What a scenario keeps out, and what it chooses from."""

from __future__ import annotations

from collections.abc import Collection

from optimiser.domain.catalogue import fold
from optimiser.domain.material import CATEGORIES, Origin
from optimiser.domain.scenario import Exclusions
from optimiser.reading.asking import Asking

__all__ = ["exclusions_of", "only_of", "stock_only_of"]

READINGS = ("listed", "cautious")


def exclusions_of(asking: Asking) -> Exclusions:
    """Return what must stay out.

    Its ``origins`` are by key ("vegan") and by key and entry ("allergens.tree nut",
    "ingredients.jojoba_oil").
    """
    table = asking.file.exclude
    if table is None:
        return Exclusions()
    reading = table.reading or READINGS[0]
    origin = asking.origin("exclude", "reading")
    found = {
        "allergens": _allergens(asking, table.allergens),
        "ingredients": _ingredients(asking, "exclude", table.ingredients),
        "categories": _categories(asking, table.categories),
    }
    return Exclusions(
        allergens=found["allergens"],
        reading=asking.one_of("reading", READINGS, reading, origin) or READINGS[0],
        ingredients=found["ingredients"],
        categories=found["categories"],
        vegan=table.vegan,
        palm_free=table.palm_free,
        origins=_origins(asking, found),
    )


def _origins(asking: Asking, found: dict[str, tuple[str, ...]]) -> dict[str, Origin]:
    """Return where each exclusion was written, by key and by key and entry."""
    origins = {
        str(place[1]): origin
        for place, origin in asking.merged.origins.items()
        if place[0] == "exclude" and len(place) == 2
    }
    for key, entries in found.items():
        for entry in entries:
            origins[f"{key}.{entry}"] = asking.origin("exclude", key)
    return origins


def _allergens(asking: Asking, names: list[str]) -> tuple[str, ...]:
    """Return allergens as allergens.csv writes them."""
    if "allergens.csv" in asking.shaky:
        return tuple(fold(name) for name in names)
    origin, known = asking.origin("exclude", "allergens"), asking.catalogue.allergens
    found = [asking.one_of("allergen", known, name, origin) for name in names]
    return tuple(dict.fromkeys(name for name in found if name is not None))


def _categories(asking: Asking, names: list[str]) -> tuple[str, ...]:
    """Return categories, each once."""
    origin = asking.origin("exclude", "categories")
    found = [asking.one_of("category", CATEGORIES, name, origin) for name in names]
    return tuple(dict.fromkeys(name for name in found if name is not None))


def _ingredients(asking: Asking, table: str, names: list[str]) -> tuple[str, ...]:
    """Return the keys of ingredients, each once."""
    origin = asking.origin(table, "ingredients")
    found = [
        asking.ingredient(name, origin, f"[{number}]")
        for number, name in enumerate(names, start=1)
    ]
    return tuple(dict.fromkeys(key for key in found if key is not None))


def only_of(asking: Asking, base: Collection[str]) -> frozenset[str]:
    """Return the keys to choose from, the base's among them; empty means all."""
    table = asking.file.only
    if table is None:
        return frozenset()
    if not table.ingredients and asking.sound("only"):
        fix = "name what may be chosen, or take [only] out"
        asking.say(asking.origin("only"), "lists no ingredients", fix)
    return frozenset((*_ingredients(asking, "only", table.ingredients), *base))


def stock_only_of(asking: Asking) -> Origin | None:
    """Return where it is written that only the shelf may be used, or None."""
    stock = asking.file.stock
    return asking.origin("stock", "only") if stock is not None and stock.only else None
