"""Words that people use for allergens, markets and products, and what they mean here.

Whatever reads one of them asks here: a scenario, an option, a table.
"""

from __future__ import annotations

from collections.abc import Iterable

from optimiser.domain.catalogue import fold
from optimiser.domain.products import kind_of

__all__ = ["RINSED", "allergen_named", "market_named", "unclear_allergen", "use_of"]

# Another word for the same, as everyday speech has it; the plural is tried without.
ALLERGENS = {
    "treenut": "tree nut",
    "ground nut": "peanut",
    "groundnut": "peanut",
    "soya": "soy",
    "soybean": "soy",
    "soya bean": "soy",
    "soy bean": "soy",
    "dairy": "milk",
}
MARKETS = {"uk": "GB"}  # ISO 3166 keeps UK for the United Kingdom, whose code is GB
NUTS = (
    "may mean tree nuts (almond, hazelnut, walnut, ...) or peanuts, which are a pulse;"
    " one does not keep out the other"
)
NUTS_FIX = 'write "tree nut", or "peanut", or both'
UNCLEAR = {"nut": (NUTS, NUTS_FIX)}

# Words in the name of a product that tell whether it is rinsed off or stays on.
RINSED = ("scrub", "shampoo", "conditioner", "soap", "bath", "wash", "shower", "cleans")
STAYS = (
    "balm", "butter", "lotion", "lip", "massage", "cream", "salve", "ointment", "serum",
    "body oil", "face oil", "deodorant", "perfume", "pomade", "leave-on", "leave on",
    "leave-in", "leave in", "no-rinse", "no rinse",
)  # fmt: skip


def allergen_named(text: str, known: Iterable[str]) -> str | None:
    """Return the allergen that a word stands for, of those known; else None.

    >>> allergen_named("Tree nuts", ["tree nut", "peanut"])
    'tree nut'
    >>> allergen_named("nuts", ["tree nut", "peanut"]) is None
    True
    """
    by_name = {fold(each): each for each in known}
    name = fold(text)
    one = name.removesuffix("s")
    for each in (name, ALLERGENS.get(name), one, ALLERGENS.get(one)):
        if each in by_name:
            return by_name[each]
    return None


def unclear_allergen(text: str) -> tuple[str, str] | None:
    """Return what is unclear about a word for allergens, and how to write it; or None.

    >>> unclear_allergen("walnut") is None
    True
    """
    return UNCLEAR.get(fold(text).removesuffix("s"))


def market_named(text: str) -> str:
    """Return the code of a market by another of its names; else the text itself.

    >>> market_named("UK"), market_named("EU")
    ('GB', 'EU')
    """
    return MARKETS.get(fold(text), text)


def use_of(product: str) -> str | None:
    """Return leave-on or rinse-off where a product's name tells it, else None.

    >>> use_of("lip balm"), use_of("foot scrub bar"), use_of("bar")
    ('leave-on', 'rinse-off', None)
    >>> use_of("leave-in conditioner bar") is None  # so that it is asked
    True
    >>> use_of("cleansing balm") is None
    True
    """
    name = fold(product)
    rinsed = any(word in name for word in RINSED)
    stays = any(word in name for word in STAYS)
    if rinsed == stays:
        kind = None if rinsed else kind_of(product)
        return None if kind is None else kind.use
    return "rinse-off" if rinsed else "leave-on"
