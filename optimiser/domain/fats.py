"""What fats are made of: fatty acids, triglycerides, and how these melt."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from msgspec import Struct, field

from optimiser.domain.material import Origin

__all__ = [
    "CHAINS",
    "INERT",
    "OTHER",
    "AcidShare",
    "FatData",
    "Fusion",
    "Solute",
    "canonical",
]


# Code -> (carbons, double bonds).
CHAINS: Mapping[str, tuple[int, int]] = {
    "Cy": (8, 0),
    "Ca": (10, 0),
    "La": (12, 0),
    "M": (14, 0),
    "P": (16, 0),
    "S": (18, 0),
    "A": (20, 0),
    "O": (18, 1),
    "L": (18, 2),
}
# What never sets: diglycerides, free acids, unsaponifiable matter.
INERT = "inert"
# Triglycerides too small to list.
OTHER = "other"


@lru_cache(maxsize=4096)
def canonical(triglyceride: str) -> str:
    """Return the one spelling of a triglyceride and its mirror image.

    >>> canonical("S-O-P"), canonical("P-O-S")
    ('P-O-S', 'P-O-S')
    """
    order = list(CHAINS)
    first, middle, last = triglyceride.split("-")
    outer = sorted((first, last), key=order.index)
    return f"{outer[0]}-{middle}-{outer[1]}"


class AcidShare(Struct, frozen=True):
    """Share of one fatty acid of a fat, percent of its fatty acids.

    ``acid`` is written C18:1; ``variant`` separates the profiles of one fat.
    """

    acid: str
    low: float
    high: float
    variant: str
    evidence: str
    source: str
    origin: Origin

    @property
    def middle(self) -> float:
        """Middle of the range, percent."""
        return (self.low + self.high) / 2.0


class Fusion(Struct, frozen=True):
    """Melting of one triglyceride in one crystal form; None where it is not known.

    ``melting`` in deg C, ``enthalpy`` in kJ/mol.
    """

    melting: float | None
    enthalpy: float | None
    evidence: str
    source: str


class Solute(Struct, frozen=True):
    """One part of a wax, acid or alcohol, which dissolves in liquid fat.

    ``percent`` of the ingredient by weight, ``molar_mass`` in g/mol, ``melting`` in
    deg C, ``enthalpy`` of melting in kJ/mol.
    """

    part: str
    percent: float
    molar_mass: float
    melting: float
    enthalpy: float
    evidence: str
    source: str


class FatData(Struct, frozen=True, eq=False):
    """Everything known of what fats are made of; a missing entry is not known.

    ``acids`` is ingredient -> its rows; ``triglycerides`` is ingredient ->
    triglyceride ("P-O-S", chains in their order on the glycerol) -> percent by
    weight, with "inert" for what never sets; ``fusion`` is (triglyceride, form) ->
    what was published; ``correlation`` is parameter -> form -> value; ``solutes`` is
    ingredient -> its parts. ``evidence`` is ingredient -> evidence of its
    triglycerides.
    """

    acids: Mapping[str, tuple[AcidShare, ...]] = field(default_factory=dict)
    triglycerides: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    fusion: Mapping[tuple[str, str], Fusion] = field(default_factory=dict)
    correlation: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    solutes: Mapping[str, tuple[Solute, ...]] = field(default_factory=dict)
    evidence: Mapping[str, str] = field(default_factory=dict)
