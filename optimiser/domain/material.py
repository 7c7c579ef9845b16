"""Ingredients and what is known of them: figures, contents, limits, prices, lots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

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


@dataclass(frozen=True)
class Origin:
    """Where something was written: file, and row (CSV) or key (TOML)."""

    file: str
    row: int | None = None
    field: str | None = None

    def __str__(self) -> str:
        if self.row is not None:
            return f"{self.file}, row {self.row}"
        return self.file if self.field is None else f"{self.file}: {self.field}"


@dataclass(frozen=True)
class Ingredient:
    """One purchasable material.

    ``vegan`` and ``palm`` are "yes", "no", "ask" or None (not known); ``family`` is
    the class of a fat (lauric, cocoa-type, palm-type, animal, other) or None.
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


@dataclass(frozen=True)
class Figure:
    """A published value with its spread; ``sources`` are keys of sources.csv."""

    value: float
    low: float
    high: float
    unit: str
    evidence: str
    sources: tuple[str, ...]
    origin: Origin


@dataclass(frozen=True)
class UsageLimit:
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


@dataclass(frozen=True)
class AllergenStatus:
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


@dataclass(frozen=True)
class PackPrice:
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


@dataclass(frozen=True)
class Lot:
    """One lot on the shelf; ``amount`` in kg."""

    ingredient: str
    lot: str
    amount: float
    expiry: date | None
    origin: Origin = field(compare=False)
