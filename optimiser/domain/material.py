"""Ingredients and what is known of them: figures, contents, limits, prices, lots."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date

from msgspec import Struct

__all__ = [
    "ALLERGEN_FLAGS",
    "CATEGORIES",
    "DISSOLVES",
    "EVIDENCE",
    "KINDS",
    "MINOR",
    "NONE_IN_IT",
    "OF_ITS_OIL",
    "PARTS",
    "READY_MADE",
    "UNKNOWN",
    "UNRELATED",
    "AllergenStatus",
    "Figure",
    "Ingredient",
    "Lot",
    "Origin",
    "PackPrice",
    "Subject",
    "Supplier",
    "UsageLimit",
    "rest_of",
]

CATEGORIES = (
    "hard butter",
    "soft butter",
    "wax",
    "liquid oil",
    "fatty alcohol",
    "emulsifier",
    "exfoliant",
    "powder",
    "humectant",
    "water",
    "preservative",
    "antioxidant",
    "scent",
    "colour",
    "surfactant",
    "unknown",
)
# The last one: nobody has told what it is. It may belong to any part of a formula, so
# no figure of a part is judged beside it (`domain/unknown.py`).
UNKNOWN = "unknown"

READY_MADE = "ready-made wax"  # emulsifiers that set as waxes do
# What is like what inside a category: one stands in for another of its kind. Trade
# groupings; the rules they follow stand with the source makers_kinds.
KINDS: Mapping[str, tuple[str, ...]] = {
    "hard butter": ("cocoa-type", "stearin", "lauric", "hydrogenated"),
    "soft butter": ("shea-type", "lauric", "animal", "palm", "blended", "mineral"),
    "wax": ("low-melting", "medium-melting", "high-melting"),
    "liquid oil": (
        "light",
        "rich",
        "drying",
        "viscous",
        "wax ester",
        "olein",
        "ester",
        "hydrocarbon",
        "silicone",
    ),
    "fatty alcohol": ("alcohol", "acid"),
    "emulsifier": (
        READY_MADE,
        "solid oil-loving",
        "solid water-loving",
        "liquid oil-loving",
        "liquid water-loving",
        "cationic",
        "anionic",
        "lecithin",
    ),
    "exfoliant": (
        "sugar",
        "salt",
        "shell or stone",
        "mineral grain",
        "seed",
        "meal",
        "grits",
        "bead",
        "fibre",
    ),
    "powder": (
        "clay",
        "starch",
        "mineral powder",
        "oxide",
        "milk",
        "acid",
        "alkali",
        "plant powder",
        "gum",
    ),
    "humectant": ("polyol", "honey", "vitamin", "lactate", "moisturising factor"),
    "water": ("plain", "hydrosol", "plant juice"),
    "preservative": ("broad", "aromatic alcohol", "organic acid", "paraben", "helper"),
    "antioxidant": (
        "tocopherol",
        "tocopheryl ester",
        "ascorbyl ester",
        "plant extract",
    ),
    "scent": (
        "citrus",
        "floral",
        "herbal",
        "mint",
        "wood",
        "spice",
        "resin",
        "flavour",
    ),
    "colour": ("mineral pigment", "white pigment", "pearl", "dye"),
    "surfactant": (
        "anionic powder",
        "anionic liquid",
        "amphoteric liquid",
        "non-ionic liquid",
    ),
}

# Whether something dissolves in water; blank is not known.
DISSOLVES = ("yes", "no", "ask")

# Categories that are in a formula for what they do in small doses. They fill nothing
# up: what nobody speaks of stays as it is in the base.
MINOR = ("preservative", "antioxidant", "scent", "colour")

# Named parts of a formula that a window, a limit or a band may be "over" or "of".
# Any category is a part too, and a scenario may name its own.
PARTS: Mapping[str, tuple[str, ...]] = {
    "product": CATEGORIES,
    "butters": ("hard butter", "soft butter"),
    "fats": ("hard butter", "soft butter", "liquid oil"),
    "fats and waxes": (
        "hard butter",
        "soft butter",
        "wax",
        "liquid oil",
        "fatty alcohol",
    ),
    # Everything oily: what sets, and what softens that.
    "lipids": (
        "hard butter",
        "soft butter",
        "wax",
        "liquid oil",
        "fatty alcohol",
        "emulsifier",
        "antioxidant",
        "scent",
    ),
    "oil phase": (
        "hard butter",
        "soft butter",
        "wax",
        "liquid oil",
        "fatty alcohol",
        "emulsifier",
    ),
    "water phase": ("water", "humectant"),
    "solids": ("exfoliant", "powder"),
}

# How well a figure is known, best first.
EVIDENCE = (
    "defined",
    "measured",
    "review",
    "compilation",
    "retrieved",
    "supplier",
    "mixed",
    "estimated",
    "memory",
    "memory_low",
    "assumed",
    "invented",
)


class Origin(Struct, frozen=True):
    """Where something was written: file, and row (CSV) or key (TOML)."""

    file: str
    row: int | None = None
    field: str | None = None

    def __str__(self) -> str:
        if self.row is not None:
            return f"{self.file}, row {self.row}"
        return self.file if self.field is None else f"{self.file}: {self.field}"


class Subject(Struct, frozen=True):
    """What a rule can be about: a value that somebody asked for or laid down.

    Each kind of rule has one of its own, or shares one.
    """


class Ingredient(Struct, frozen=True):
    """One purchasable material.

    ``vegan`` and ``palm`` are "yes", "no", "ask" or None (not known); ``family`` is
    the class of a fat (lauric, cocoa-type, palm-type, animal, other) or None.
    ``inci_evidence`` is how well the INCI name is known, or None (not told).
    ``kind`` is one of the `KINDS` of its category, or None where that cannot be told:
    then it is like nothing else. ``dissolves``, in water, is one of `DISSOLVES`, or
    None (not known). ``made_in`` is the key of the oil or butter that an infusion is
    made in, None for what is no infusion.
    """

    key: str
    name: str
    inci: str | None
    category: str
    origin: Origin
    family: str | None = None
    aliases: tuple[str, ...] = ()
    vegan: str | None = None
    palm: str | None = None
    stage: str | None = None
    cautions: tuple[str, ...] = ()
    inci_evidence: str | None = None
    kind: str | None = None
    dissolves: str | None = None
    made_in: str | None = None

    def group(self, by: str) -> str:
        """Return what it belongs to "by" ingredient, kind or category.

        Kinds of different categories are different, whatever they are called.
        """
        if by == "category":
            return self.category
        if by == "kind" and self.kind is not None:
            return f"{self.category}, {self.kind}"
        return self.key


class Figure(Struct, frozen=True):
    """A published value with its spread; ``sources`` are keys of sources.csv.

    ``calibrated`` if it is the workshop's own, from its trials.
    """

    value: float
    low: float
    high: float
    unit: str
    evidence: str
    sources: tuple[str, ...]
    origin: Origin
    calibrated: bool = False


class UsageLimit(Subject, frozen=True):
    """What a supplier, common practice or an opinion says of an ingredient, in percent.

    ``written_for`` is the product that it was written for, where that is a narrow one:
    such a limit is told of others and never enforced. ``market`` is where a committee
    gave its opinion, which no law has taken up: elsewhere it is told.
    """

    ingredient: str
    whose: str
    use: str
    low: float | None
    high: float | None
    of: str
    evidence: str
    source: str
    origin: Origin
    written_for: str | None = None
    market: str | None = None


# The finer readings that allergens.csv may tell of an ingredient and an allergen.
ALLERGEN_FLAGS = (
    "no_nut_relation",
    "unrelated",
    "botanical_nut_or_kernel_not_listed",
    "delisted_us_2025",
    "listed_tree_nut",
    "peanut",
    "other_listed",
    "unknown",
)
# Two more that nobody writes: what an infusion has of its oil, while nobody has told of
# what is in it; and "no" for every list, which a supplier or a measurement vouches for.
OF_ITS_OIL, NONE_IN_IT = "of_its_oil_alone", "none_in_it"
# Those that settle that there is none in it; of all others a maker is to ask.
UNRELATED = frozenset({"no_nut_relation", "unrelated", NONE_IN_IT})


class AllergenStatus(Struct, frozen=True):
    """Whether each authority lists an ingredient under an allergen.

    ``listed`` maps an authority (EU, GB, US, AU, CA) to True, False or None
    (not known); ``flag`` is the finer reading, one of ``ALLERGEN_FLAGS`` or of the
    two that nobody writes.
    """

    ingredient: str
    allergen: str
    listed: Mapping[str, bool | None]
    flag: str | None
    source: str
    origin: Origin


class PackPrice(Struct, frozen=True):
    """One pack on offer. ``price_per_kg`` is landed: the pack's freight is in it.

    ``volume`` is what it holds as written, as in "50 ml", where it is sold so, and else
    blank; ``pounds`` the same of one sold in lb or oz; ``invented`` says that it is no
    maker's own, ``noted`` that a remark alone calls it invented, in a table without the
    column that would say so.
    ``supplier`` is blank where none is named; ``keeps_months`` is how long a pack
    keeps from the day it is bought, None where that is not known.
    """

    ingredient: str
    pack_kg: float
    price: float
    freight: float
    currency: str
    day: date | None
    origin: Origin
    volume: str = ""
    invented: bool = False
    noted: bool = False
    supplier: str = ""
    keeps_months: float | None = None
    pounds: str = ""

    @property
    def by_volume(self) -> bool:
        """Whether it is sold by volume."""
        return bool(self.volume)

    @property
    def paid(self) -> float:
        """What one pack costs with its freight, in the currency."""
        return self.price + self.freight

    @property
    def price_per_kg(self) -> float:
        """Landed price, currency per kg."""
        return self.paid / self.pack_kg


class Supplier(Struct, frozen=True):
    """Who sells packs: money for each order, beside what each pack costs.

    ``freight`` is asked once an order, unless its packs come to ``free_from`` or more
    (None: always); below ``minimum`` there is no order.
    """

    name: str
    freight: float
    free_from: float | None
    minimum: float
    origin: Origin


class Lot(Struct, frozen=True):
    """One lot; ``amount`` in kg, as it was when it was ``counted`` (None: when bought).

    Batches made after that day have taken from it. ``invented``: no maker's own.
    """

    ingredient: str
    lot: str
    amount: float
    expiry: date | None
    origin: Origin
    counted: date | None = None
    invented: bool = False


def rest_of(
    part: Collection[str],
    aside: Collection[str],
    ingredients: Mapping[str, Ingredient],
) -> tuple[str, ...]:
    """Return what is left of a part, by categories and keys, without some ingredients.

    Of a category that one of them is of only the others are named, each by its key. The
    unknown may be in any category: of a part that has one, without some of the unknown,
    all is named by its key.
    """
    opened = {ingredients[key].category for key in aside}
    if UNKNOWN in opened and not {*CATEGORIES}.isdisjoint(part):
        opened = {*CATEGORIES}
        part = {*part, UNKNOWN}
    others = (
        key
        for key, each in ingredients.items()
        if each.category in opened and each.category in part
    )
    whole = (each for each in part if each not in opened)
    return tuple(x for x in dict.fromkeys((*whole, *others)) if x not in aside)
