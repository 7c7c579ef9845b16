"""What a workshop weighs and fills with: its scale, its moulds, what it loses."""

from __future__ import annotations

from msgspec import Struct

from optimiser.domain.catalogue import Scale

__all__ = ["Bench", "FineScale", "Mould", "to_make"]


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
    gets above its net weight, by habit; ``spread`` how much fills vary (standard
    deviation, kg). None is not known. ``invented`` says that it is no maker's own.
    """

    scale: Scale
    moulds: tuple[Mould, ...] = ()
    loss: float | None = None
    overfill: float | None = None
    fine: FineScale | None = None
    spread: float | None = None
    invented: bool = False


def to_make(units: int, net_kg: float, *, loss: float, overfill: float) -> float:
    """Return how much to weigh in for so many units, [kg]; ``loss`` in percent.

    >>> round(to_make(24, 0.060, loss=3.0, overfill=2.0), 5)
    1.51423
    """
    return units * net_kg * (1.0 + overfill / 100.0) / (1.0 - loss / 100.0)
