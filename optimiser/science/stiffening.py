"""How much stiffer grains make a bar than its lipids alone."""

from __future__ import annotations

from collections.abc import Mapping

from optimiser.domain.catalogue import Catalogue
from optimiser.science.mixing import is_solid
from optimiser.science.properties import figure

__all__ = ["LIPID_DENSITY", "guth_gold", "stiffening"]

LIPID_DENSITY = 910.0  # kg/m^3; set fats are 900 to 960
# Of a grain whose density is not known: sugar, salt and stone are 1500 to 2700 and
# starches about 1500 kg/m^3, so this makes a bar rather too stiff.
GRAIN_DENSITY = 1500.0


def guth_gold(share: float) -> float:
    """Return how many times stiffer a filled bar is than an unfilled one.

    Parameters
    ----------
    share : float
        Of the volume that grains take, from 0 to about 0.3.

    Notes
    -----
    Guth and Gold 1938, quoted from memory: round grains in an elastic body; long or
    clumped grains stiffen more.

    >>> round(guth_gold(0.22), 1)
    2.2
    """
    return 1.0 + 2.5 * share + 14.1 * share**2


def stiffening(formula: Mapping[str, float], catalogue: Catalogue) -> float:
    """Return how many times stiffer a finished bar is than its lipids.

    Parameters
    ----------
    formula : mapping of ingredient key to percent

    Notes
    -----
    What dissolves in water and lies in it is counted as a grain; 1 without grains.
    """
    grains = liquid = 0.0
    for key, percent in formula.items():
        if is_solid(catalogue, key):
            found = figure(catalogue, "density", key, 20.0)
            grains += percent / (GRAIN_DENSITY if found is None else found.value)
        else:
            liquid += percent / LIPID_DENSITY
    whole = grains + liquid
    return guth_gold(grains / whole) if whole > 0.0 else 1.0
