"""What a workshop weighs and fills with: its scale, its moulds, what it loses."""

from __future__ import annotations

import math
from collections.abc import Mapping

from msgspec import Struct

from optimiser.domain.catalogue import Scale

__all__ = ["Bench", "FineScale", "Mould", "Scales", "to_make"]

TOLERANCE = 1e-6  # of a step


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


class Scales(Struct, frozen=True):
    """What is weighed on: steps of ``readability``, kg, and a ``fine`` scale."""

    readability: float
    fine: FineScale | None = None

    @classmethod
    def of(cls, readability: float, fine: FineScale | None) -> Scales:
        """Return both scales, or the one where the other is no finer part of it."""
        if fine is not None:
            parts = readability / fine.readability
            if round(parts) < 2 or abs(parts - round(parts)) > TOLERANCE * parts:
                fine = None
        return cls(readability, fine)

    @property
    def step(self) -> float:
        """The step that all weighings are whole numbers of, kg."""
        return self.readability if self.fine is None else self.fine.readability

    @property
    def coarse(self) -> int:
        """How many of those are one step of the usual scale."""
        return round(self.readability / self.step)

    def steps(self, kg: float) -> int:
        """Return so much in those steps, rounded up to one of the usual scale."""
        return self.coarse * math.ceil(kg / self.readability - TOLERANCE)

    def every(self, wanted: Mapping[str, float], batch: int) -> dict[str, int]:
        """Return in how many of those steps at once each line is weighed."""
        kg = {key: batch * self.step * share / 100.0 for key, share in wanted.items()}
        return {key: round(self.step_at(each) / self.step) for key, each in kg.items()}

    def step_at(self, kg: float) -> float:
        """Return the step of the scale that so much is weighed on, kg."""
        borne = self.fine is not None and kg <= self.fine.most
        return self.step if borne else self.readability


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
