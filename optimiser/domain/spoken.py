"""Words that people use for allergens, markets and products, and what they mean here.

Whatever reads one of them asks here: a scenario, an option, a table.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from optimiser.domain.catalogue import fold
from optimiser.domain.products import kind_of

__all__ = [
    "LISTED_NUTS",
    "ONE_NUT",
    "RINSED",
    "TELLING",
    "allergen_named",
    "allergens_in",
    "market_named",
    "markets_in",
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
MARKETS = {
    "uk": "GB",  # ISO 3166 keeps UK for the United Kingdom, whose code is GB
    "united kingdom": "GB",
    "great britain": "GB",
    "britain": "GB",
    "england": "GB",
    "scotland": "GB",
    "wales": "GB",
    "usa": "US",
    "united states": "US",
    "united states of america": "US",
    "america": "US",
    "australia": "AU",
    "canada": "CA",
    "new zealand": "NZ",
    "european union": "EU",
    "europe": "EU",
}
# Members of the EU in 2026, whose law on cosmetics is one regulation: ISO 3166, names.
UNION = {
    "AT": "austria", "BE": "belgium", "BG": "bulgaria", "HR": "croatia",
    "CY": "cyprus", "CZ": "czechia", "DK": "denmark", "EE": "estonia",
    "FI": "finland", "FR": "france", "DE": "germany", "GR": "greece",
    "HU": "hungary", "IE": "ireland", "IT": "italy", "LV": "latvia",
    "LT": "lithuania", "LU": "luxembourg", "MT": "malta", "NL": "netherlands",
    "PL": "poland", "PT": "portugal", "RO": "romania", "SK": "slovakia",
    "SI": "slovenia", "ES": "spain", "SE": "sweden",
}  # fmt: skip
MARKETS |= dict.fromkeys(UNION.values(), "EU")
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

# Words in the name of an ingredient, one or two, that tell of a food allergen: those of
# the lists of the EU, GB, US, AU and CA, and foods that are made of them.
TELLING = {
    "peanut": ("peanut", "groundnut", "ground nut", "monkey nut", "arachis"),
    "tree nut": (
        *LISTED_NUTS, "marzipan", "praline", "nougat", "gianduja", "frangipane",
    ),
    "soy": ("soy", "soya", "soybean", "tofu", "tempeh", "miso", "edamame", "okara"),
    "milk": (
        "milk", "buttermilk", "whey", "casein", "caseinate", "yoghurt", "yogurt",
        "kefir", "lactose", "ghee", "cheese", "colostrum", "curd", "dairy cream",
    ),
    "sesame": ("sesame", "tahini", "halva", "gingelly"),
    "wheat": ("wheat", "semolina", "spelt", "durum", "farro", "couscous", "gluten"),
    "oat": ("oat", "oatmeal", "avena"),
    "egg": ("egg", "albumen", "ovalbumin", "mayonnaise", "meringue"),
    "fish": ("fish", "cod", "salmon", "anchovy", "tuna"),
    "crustacean": ("crustacean", "shrimp", "prawn", "crab", "lobster", "krill"),
    "mollusc": ("mollusc", "oyster", "mussel", "squid", "clam"),
    "mustard": ("mustard",),
    "celery": ("celery", "celeriac"),
    "lupin": ("lupin", "lupine"),
}  # fmt: skip
# Whose milk is no animal's, besides what is an allergen itself; "nut": of any nut.
PLANT_MILKS = (
    "coconut", "rice", "hemp", "pea", "plant", "vegan", "flax", "shea", "nut",
)  # fmt: skip
# Names that hold such a word and are something else, and what they are instead.
FALSE_FRIENDS = {
    "milk of magnesia": "",  # magnesium hydroxide in water
    "milk thistle": "",
    "milk vetch": "",
    "milk weed": "",
    "buck wheat": "",  # no cereal
    "crab apple": "",
    "oyster mushroom": "",
    "oyster plant": "",
    "salmon pink": "",
    "bean curd": "tofu",
}
# A nut that is not named further may be either.
ANY_NUT = frozenset(
    {"nut", "mixed", "butter", "oil", "milk", "meal", "flour", "powder"}
)
ANY_NUT_MAY_BE = ("tree nut", "peanut")

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


def allergens_in(name: str) -> tuple[str, ...]:
    """Return the food allergens that the name of an ingredient tells of.

    A doubt, never a proof: what a name does not tell of may hold some all the same.

    >>> allergens_in("Peanut butter"), allergens_in("ground almonds")
    (('peanut',), ('tree nut',))
    >>> [*map(allergens_in, ("oat milk", "goat milk", "coconut milk"))]
    [('oat',), ('milk',), ()]
    >>> allergens_in("nutmeg"), allergens_in("nut butter"), allergens_in("shea nut")
    ((), ('tree nut', 'peanut'), ())
    >>> allergens_in("milk of magnesia"), allergens_in("soy-free wax")
    ((), ())
    """
    words = re.findall(r"[^\W\d_]+", fold(name))
    one = [w.removesuffix("s") if not w.endswith("ss") else w for w in words]
    if "nut" in one and ANY_NUT.issuperset(one):
        return ANY_NUT_MAY_BE
    said = f" {' '.join(one)} "
    for friend, instead in FALSE_FRIENDS.items():
        said = said.replace(f" {friend} ", f" {instead} ")
    each = said.split()
    return _telling(" ".join(w for at, w in enumerate(each) if not _is_not(each, at)))


def _is_not(words: list[str], at: int) -> bool:
    """Whether a word tells of nothing: what it is free of, and a plant's milk."""
    word, *after = words[at : at + 3]
    if after[:1] == ["free"] and after[1:] not in (["from"], ["of"], ["range"]):
        return True
    if word != "milk":
        return False
    beside = words[at - 1 : at] if at else []
    beside += after[1:] if after[:1] == ["of"] else []
    return any(each in PLANT_MILKS or _telling(each) for each in beside)


def _telling(words: str) -> tuple[str, ...]:
    said = f" {words} "
    return tuple(
        allergen
        for allergen, telling in TELLING.items()
        if any(f" {each} " in said for each in telling)
    )


def market_named(text: str) -> str:
    """Return the code of a market by another of its names; else the text itself.

    >>> market_named("UK"), market_named("EU")
    ('GB', 'EU')
    """
    return MARKETS.get(fold(text), text)


def markets_in(text: str, known: Iterable[str]) -> list[str]:
    """Return the codes of the markets in a text: "EU, AU", "Germany and Australia".

    A member of the EU is under its law, unless its code is a market of its own.

    >>> markets_in("EU,AU", ["EU", "AU"]), markets_in("de", ["EU"])
    (['EU', 'AU'], ['EU'])
    >>> markets_in("New Zealand", []), markets_in("DE", ["EU", "DE"])
    (['NZ'], ['DE'])
    """
    own = {fold(each) for each in known}
    parts = [each.strip() for each in re.split(r"[,;/&+]|\band\b", text)]
    return [
        "EU" if each.upper() in UNION and fold(each) not in own else market_named(each)
        for each in parts or [text]
        if each
    ]


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
