"""What the law of a market asks of the net content of packs that are sold as alike."""

from __future__ import annotations

import math

from msgspec import Struct

__all__ = ["Heights", "NetContent", "Sampling", "Tolerance"]


class Tolerance(Struct, frozen=True):
    """What one pack may lack, for nominal contents over ``over`` up to ``up_to`` (g).

    Either a percentage of the nominal content, rounded up to a tenth of a gram, or a
    figure in grams.
    """

    over: float
    up_to: float
    percent: float | None
    grams: float | None

    def of(self, nominal: float) -> float:
        """Return what a pack of a nominal content may lack, g.

        >>> Tolerance(5, 50, 9.0, None).of(33)
        3.0
        """
        if self.grams is not None:
            return self.grams
        part = (self.percent or 0.0) / 100.0 * nominal
        return math.ceil(round(part * 10.0, 6)) / 10.0


class Sampling(Struct, frozen=True):
    """How many packs of a batch of ``over`` to ``up_to`` packs are looked at.

    ``sample`` None is every pack, or ``share`` percent of them but at least ten;
    ``accept`` is how many of them may lack more than the tolerance, None where another
    row says so. With ``second``, as many again are looked at where there are more, and
    ``accept_both`` counts for both. ``factor`` times the standard deviation is what the
    mean may be short by.
    """

    over: int
    up_to: float
    sample: int | None
    share: float | None = None
    accept: int | None = None
    factor: float | None = None
    second: int | None = None
    accept_both: int | None = None


class Heights(Struct, frozen=True):
    """How high the figures of the net content must be, mm, by ``of`` (its own unit)."""

    over: float
    up_to: float
    millimetres: float


class NetContent(Struct, frozen=True):
    """The rules of one market.

    Attributes
    ----------
    tolerances : tuple of Tolerance
    samplings : tuple of Sampling
    factors : mapping of packs looked at to factor
        Where the factor goes by how many are looked at.
    defects : tuple of (over, up to, accepted)
        Packs that may lack more than the tolerance, by how many are looked at.
    short_share : float or None
        Percent of all packs that may lack more than the tolerance.
    beyond, beyond_accepted : float, int
        Times the tolerance that no more packs than accepted may lack more than.
    heights : tuple of Heights
    instruments, reads : tuples of str
        What was read and how well: retrieved, secondary, memory.
    """

    market: str
    tolerances: tuple[Tolerance, ...]
    samplings: tuple[Sampling, ...]
    factors: dict[int, float]
    defects: tuple[tuple[int, float, int], ...]
    short_share: float | None
    beyond: float | None
    beyond_accepted: int
    heights: tuple[Heights, ...]
    instruments: tuple[str, ...]
    reads: tuple[str, ...]

    def tolerance(self, nominal: float) -> float | None:
        """Return what one pack may lack, g; None where no rule covers the content.

        A content on the border of two rows takes the lower one; they agree there.
        """
        for each in self.tolerances:
            if each.over <= nominal <= each.up_to:
                return each.of(nominal)
        return None

    def sampling(self, packs: int) -> Sampling | None:
        """Return how a batch is looked at; None where no rule covers its size."""
        for each in self.samplings:
            if each.over <= packs <= each.up_to:
                return each
        return None
