"""What a workshop weighs and fills with: its scale, its moulds, what it loses."""

from __future__ import annotations

from msgspec import Struct

from optimiser.domain.catalogue import Scale

__all__ = ["Bench", "FineScale", "Mould"]


class Mould(Struct, frozen=True):
    """A mould; of ``volume`` (of a cavity, m^3) and ``net`` (in it, kg) one is known.

    Where both are, the net weight counts, for the maker has weighed it.
    """

    name: str
    cavities: int
    volume: float | None = None
    net: float | None = None


class FineScale(Struct, frozen=True):
    """A second scale for small lines: its step, the least and the most, kg.

    ``smallest`` None is not known.
    """

    readability: float
    smallest: float | None
    most: float


class Bench(Struct, frozen=True):
    """A workshop's scale and moulds; ``loss`` and ``overfill`` in percent.

    The loss is what stays in the pot, of what is weighed in; overfill is what a unit
    gets above its net weight. None is not known.
    """

    scale: Scale
    moulds: tuple[Mould, ...] = ()
    loss: float | None = None
    overfill: float | None = None
    fine: FineScale | None = None
