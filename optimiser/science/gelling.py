"""The temperature at which a cooling melt holds particles up: its gel point."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats

__all__ = [
    "DOUBT",
    "GEL_SOLIDS",
    "HOTTEST",
    "GelPoint",
    "SolidsAt",
    "gel_point",
    "reached",
]

# Temperatures in deg C to percent of solids, one for one.
SolidsAt = Callable[[Floats], Floats]
# Beeswax gels stand with 1.2 to 2.3 % of solids (Gels 10:214, 2024, abstract), and
# beeswax, candelilla and sunflower wax gel strongly below 2 % of wax (Doan et al.,
# JAOCS 92, 2015, abstract).
GEL_SOLIDS = (1.0, 2.0)
# Kelvin either way: mostly melting points and heats of wax; setting lags besides.
DOUBT = 3.0
COLDEST, HOTTEST, STEP = 10.0, 95.0, 0.5


class GelPoint(Struct, frozen=True):
    """Where a cooling melt thickens (1 % solids) and holds particles (2 %), deg C."""

    thickens: float
    holds: float

    @property
    def middle(self) -> float:
        """The gel point as one number, [deg C], good to `DOUBT`."""
        return (self.thickens + self.holds) / 2.0


def reached(solids_at: SolidsAt, level: float) -> float | None:
    """Return the highest temperature with as much solids, [deg C].

    Parameters
    ----------
    solids_at : function of an array of deg C, shape (n,), to percent, shape (n,)
        Solids of the melt at equilibrium; falls on warming.
    level : float
        Solids to find, [%].

    Returns
    -------
    float or None
        Good to 0.01 K; None if less is solid even at 10 deg C. 95 deg C means
        "there or above".

    >>> reached(lambda t: 40.0 - t, 2.0)
    38.0
    """
    grid = np.arange(COLDEST, HOTTEST + STEP / 2.0, STEP)
    above = np.flatnonzero(np.asarray(solids_at(grid)) >= level)
    if above.size == 0:
        return None
    last = int(above[-1])
    if last == grid.size - 1:
        return HOTTEST
    fine = np.linspace(grid[last], grid[last + 1], 11)
    solids = np.asarray(solids_at(fine))
    at = int(np.flatnonzero(solids >= level)[-1])
    if at == fine.size - 1:
        return float(fine[-1])
    share = (solids[at] - level) / (solids[at] - solids[at + 1])
    return float(fine[at] + share * (fine[at + 1] - fine[at]))


def gel_point(solids_at: SolidsAt) -> GelPoint | None:
    """Return where a cooling melt thickens and holds; None if it never does.

    Parameters
    ----------
    solids_at : function of an array of deg C to percent of solids
    """
    low, high = GEL_SOLIDS
    thickens, holds = reached(solids_at, low), reached(solids_at, high)
    return None if thickens is None or holds is None else GelPoint(thickens, holds)
