"""Cautions: what is to be minded, and what calls for it."""

from __future__ import annotations

from msgspec import Struct

from optimiser.domain.material import Origin

__all__ = [
    "FEET",
    "FREE_FROM",
    "KNOWN",
    "POURING",
    "WHAT",
    "WHEN",
    "WHO",
    "Caution",
    "CautionLine",
]

# In a caution's text: the names of the ingredients that call for it.
WHAT = "{what}"
# After "no preservative", or its like: that something is unknown and may be one.
KNOWN = "{known}"
# Whom a caution is for: who makes the product, or who uses it.
WHO = ("maker", "user")
# What a scenario may ask for that calls for a caution.
FREE_FROM = "allergens excluded"
# What a product's name tells that calls for one.
FEET = "for feet"
# What is being done that calls for one.
POURING = "pouring"
WHEN = (FREE_FROM, POURING, FEET)


class Caution(Struct, frozen=True):
    """One caution, and what calls for it.

    It speaks of a product of one of the kinds ``products`` (empty: of any) and of a
    ``use`` ("any" too), that holds more than ``over`` percent of what it is about: the
    ingredients with one of its tags, categories, kinds or keys, or else its
    ``constituents``, at the high end. About nothing, it goes with every such product.
    One with a category of ``without`` in it needs no such caution. ``weight``, 0 to
    100, says how near to the top it is told. Several rows of one ``key`` are
    variants: the first that applies is told. ``label`` is what a label says of it,
    blank where nothing; of one ``danger`` it says that of the highest ``strictness``.
    """

    key: str
    weight: float
    text: str
    reason: str
    origin: Origin
    products: tuple[str, ...] = ()
    use: str = "any"
    who: str = "user"
    when: str | None = None
    tags: tuple[str, ...] = ()
    categories: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    ingredients: tuple[str, ...] = ()
    constituents: tuple[str, ...] = ()
    over: float = 0.0
    without: tuple[str, ...] = ()
    evidence: str = ""
    source: str = ""
    label: str = ""
    danger: str = ""
    strictness: float = 0.0

    @property
    def about_ingredients(self) -> bool:
        """Whether some ingredients call for it."""
        return bool(
            self.tags
            or self.categories
            or self.kinds
            or self.ingredients
            or self.constituents
        )


class CautionLine(Struct, frozen=True):
    """A caution that a product calls for, as it is told.

    ``names`` are the ingredients that call for it, the largest share first;
    ``reference`` is where its reason was read, in full; ``label`` what a label says.
    ``without`` are categories that would spare it, and that the product has not, or
    not to anybody's knowledge: ``unsure`` names what is unknown and may be of one.
    """

    key: str
    weight: float
    text: str
    reason: str = ""
    who: str = "user"
    names: tuple[str, ...] = ()
    evidence: str = ""
    source: str = ""
    reference: str = ""
    label: str = ""
    danger: str = ""
    strictness: float = 0.0
    without: tuple[str, ...] = ()
    unsure: tuple[str, ...] = ()
