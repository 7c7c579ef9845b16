"""What a maker saw of a bar: how firm it was, where it dripped, how a needle sank."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from optimiser.domain.material import Origin

__all__ = ["VERDICTS", "Trial"]

VERDICTS = ("too soft", "right", "too hard")


class Trial(Struct, frozen=True):
    """One bar at one temperature.

    ``formula`` is percent of the product by ingredient key, summing to 100, and
    ``made_from`` its file (None: written in the row). ``room`` and ``drop_point``
    are in deg C, ``penetration`` in tenths of a millimetre. None is not observed.
    """

    name: str
    formula: Mapping[str, float]
    made_from: str | None
    room: float | None
    verdict: str | None
    drop_point: float | None
    penetration: float | None
    origin: Origin
