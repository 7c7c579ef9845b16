"""Ingredients and what is known of them: figures, contents, limits, prices, lots."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from msgspec import Struct

__all__ = [
    "CATEGORIES",
    "EVIDENCE",
    "PARTS",
    "AllergenStatus",
    "Figure",
    "Ingredient",
    "Lot",
    "Origin",
    "PackPrice",
    "UsageLimit",
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
)

# Named parts of a formula that a window, a limit or a band may be "over" or "of".
# Any category is a part too, and a scenario may name its own.
PARTS: Mapping[str, tuple[str, ...]] = {
    "product": CATEGORIES,
    "butters": ("hard butter", "soft butter"),
    "fats": ("hard butter", "soft butter", "liquid oil"),
    "lipids": ("hard butter", "soft butter", "wax", "liquid oil", "fatty alcohol"),
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


class Ingredient(Struct, frozen=True):
    """One purchasable material.

    ``vegan`` and ``palm`` are "yes", "no", "ask" or None (not known); ``family`` is
    the class of a fat (lauric, cocoa-type, palm-type, animal, other) or None.
    ``inci_evidence`` is how well the INCI name is known, or None (not told).
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


class UsageLimit(Struct, frozen=True):
    """What a supplier or common practice says of one ingredient, in percent."""

    ingredient: str
    whose: str
    use: str
    low: float | None
    high: float | None
    of: str
    evidence: str
    source: str
    origin: Origin


class AllergenStatus(Struct, frozen=True):
    """Whether each authority lists an ingredient under an allergen.

    ``listed`` maps an authority (EU, GB, US, AU, CA) to True, False or None
    (not known); ``flag`` is the finer reading, such as
    ``botanical_nut_or_kernel_not_listed``.
    """

    ingredient: str
    allergen: str
    listed: Mapping[str, bool | None]
    flag: str | None
    source: str
    origin: Origin


class PackPrice(Struct, frozen=True):
    """One pack on offer. ``price_per_kg`` is landed: freight is in it."""

    ingredient: str
    pack_kg: float
    price: float
    freight: float
    currency: str
    day: date | None
    origin: Origin

    @property
    def price_per_kg(self) -> float:
        """Landed price, currency per kg."""
        return (self.price + self.freight) / self.pack_kg


class Lot(Struct, frozen=True):
    """One lot on the shelf; ``amount`` in kg."""

    ingredient: str
    lot: str
    amount: float
    expiry: date | None
    origin: Origin
