"""Words that people use for allergens, markets and products, and what they mean here.

Whatever reads one of them asks here: a scenario, an option, a table.
"""

from __future__ import annotations

from collections.abc import Iterable

from optimiser.domain.catalogue import fold
from optimiser.domain.products import kind_of

__all__ = [
    "RINSED",
    "allergen_named",
    "market_named",
    "one_nut",
    "unclear_allergen",
    "use_of",
]

# Another word for the same, as everyday speech has it; the plural is tried without.
ALLERGENS = {
    "treenut": "tree nut",
    "nut, tree": "tree nut",
    "ground nut": "peanut",
    "groundnut": "peanut",
    "monkey nut": "peanut",
    "earthnut": "peanut",
    "arachis": "peanut",
    "soya": "soy",
    "soybean": "soy",
    "soya bean": "soy",
    "soy bean": "soy",
    "dairy": "milk",
    "milk protein": "milk",
    "oat flake": "oat",
    "sesame seed": "sesame",
}
MARKETS = {"uk": "GB"}  # ISO 3166 keeps UK for the United Kingdom, whose code is GB
NUTS = (
    "may mean tree nuts (almond, hazelnut, walnut, ...) or peanuts, which are a pulse;"
    " one does not keep out the other"
)
NUTS_FIX = 'write "tree nut", or "peanut", or both'
CEREALS = (
    "may mean wheat, which every list names, or oats too, which the US list does not"
)
CEREALS_FIX = 'write "wheat", or "oat", or both'
SEEDS = (
    "may mean sesame, the one seed on the lists, or any seed: poppy, sunflower, grape"
)
SEEDS_FIX = 'write "sesame", or name the others under ingredients, as in "poppy seed"'
UNCLEAR = {
    "nut": (NUTS, NUTS_FIX),
    "cereal": (CEREALS, CEREALS_FIX),
    "grain": (CEREALS, CEREALS_FIX),
    "gluten": (CEREALS, CEREALS_FIX),
    "seed": (SEEDS, SEEDS_FIX),
}
# Words beside it that say no more.
FILLERS = frozenset({"any", "all", "no", "free", "from", "of", "mixed", "every"})
# One nut by its name: lists and formulas count the listed ones together.
LISTED_NUTS = (
    "almond", "hazelnut", "cobnut", "filbert", "walnut", "cashew", "pecan",
    "brazil nut", "brazil", "pistachio", "macadamia", "macadamia nut", "pine nut",
)  # fmt: skip
ONE_NUT = (
    "is one tree nut, and allergen lists count all tree nuts together: who is allergic"
    " to one is usually told to avoid all"
)
ONE_NUT_FIX = (
    'write "tree nut" for all of them, or keep this one out by its ingredients under'
    " [exclude] ingredients"
)
# What some call a nut, and no list names today.
UNLISTED_NUTS = (
    "coconut", "shea", "shea nut", "argan", "kukui", "chestnut", "palm nut",
)  # fmt: skip
UNLISTED = (
    "is no tree nut on any list here today; the US list named some of the kind"
    " (coconut, shea, chestnut, palm nut) until January 2025"
)
UNLISTED_FIX = (
    'write "tree nut" with reading = "cautious" to keep all of the kind out, or name'
    " this one under [exclude] ingredients"
)

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
    name = fold(text.replace("-", " "))
    one = name.removesuffix("s")
    for each in (name, ALLERGENS.get(name), one, ALLERGENS.get(one)):
        if each in by_name:
            return by_name[each]
    return None


def unclear_allergen(text: str) -> tuple[str, str] | None:
    """Return what is unclear about a word for allergens, and how to write it; or None.

    >>> unclear_allergen("any nuts") == unclear_allergen("nut-free")
    True
    >>> unclear_allergen("walnut") is None, unclear_allergen("poppy seeds") is None
    (True, True)
    """
    words = fold(text.replace("-", " ")).split()
    meant = [each.removesuffix("s") for each in words if each not in FILLERS]
    return UNCLEAR.get(" ".join(meant))


def one_nut(text: str) -> tuple[str, str] | None:
    """Return what one nut's name means among allergens, and how to write it; or None.

    >>> one_nut("walnuts")[0][:16]
    'is one tree nut,'
    >>> one_nut("celery") is None
    True
    """
    one = fold(text).removesuffix("s")
    if one in LISTED_NUTS:
        return ONE_NUT, ONE_NUT_FIX
    return (UNLISTED, UNLISTED_FIX) if one in UNLISTED_NUTS else None


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
