"""What a market limits: substances, shared shares, scent allergens, climate zones."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from optimiser.domain.material import Origin, Subject

__all__ = ["ScentAllergen", "SharedLimit", "SubstanceLimit", "Zone"]


class SubstanceLimit(Subject, frozen=True):
    """A cap on a weighted sum of substances, percent of the finished product.

    That of no market in particular ("any") is a habit of the trade and not law.

    ``factors`` maps a constituent to the weight it counts with: 0.7464 turns
    potassium sorbate into sorbic acid. ``high`` 0 means not allowed.
    ``table`` is "preservative" or "restricted".
    """

    market: str
    name: str
    table: str
    use: str
    high: float
    counted_as: str | None
    factors: Mapping[str, float]
    instrument: str
    entry: str
    source: str
    origin: Origin

    @property
    def is_law(self) -> bool:
        """Whether some market's law says so."""
        return self.market != "any"


class SharedLimit(Subject, frozen=True):
    """Several caps whose used shares may add to no more than one.

    ``caps`` maps a constituent to its own cap, percent of the finished product.
    """

    market: str
    group: str
    use: str
    caps: Mapping[str, float]
    instrument: str
    source: str
    origin: Origin


class ScentAllergen(Struct, frozen=True):
    """A name that a label carries above a threshold, percent of the product."""

    market: str
    label_name: str
    substances: tuple[str, ...]
    leave_on: float
    rinse_off: float
    source: str


class Zone(Struct, frozen=True):
    """A temperature range to plan for: a climate zone, skin, transit; deg C."""

    name: str
    kind: str
    description: str
    low: float
    high: float
    source: str
