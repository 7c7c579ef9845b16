"""What has set of a wax, acid or alcohol in liquid oil: the rest firms nothing."""

from __future__ import annotations

import math
from functools import lru_cache

from optimiser.domain.fats import FatData
from optimiser.units import GAS, KELVIN

__all__ = ["OIL_MASS", "USUAL", "dissolves", "set_share", "solubility"]

# Molar mass of a liquid oil, g/mol.
OIL_MASS = 880.0
# Percent of the lipids at which a straight sum takes each to be in oil: for a wax the
# most that a guard lets in, so that the sum is never too soft, and what a melting model
# finds of a blend is less. Low and high stand for half and for twice as much.
USUAL = {"wax": 30.0, "fatty alcohol": 15.0, "emulsifier": 15.0}


def dissolves(category: str) -> bool:
    """Whether what sets of a category is what does not dissolve in the oil."""
    return category in USUAL


def solubility(heat: float, melting: float, at: float) -> float:
    """Return the mole fraction at which a substance begins to set.

    Parameters
    ----------
    heat : float
        Of melting, [kJ/mol].
    melting, at : float
        [deg C].

    Notes
    -----
    Ideal solubility (Schroeder and van Laar), one where it is molten.
    """
    inverse = 1.0 / (melting + KELVIN) - 1.0 / (at + KELVIN)
    return math.exp(min(0.0, heat / GAS * inverse))


@lru_cache(maxsize=8192)
def set_share(
    ingredient: str, percent: float, at: float, data: FatData
) -> float | None:
    """Return what part of an ingredient has set in liquid oil, from 0 to 1.

    Parameters
    ----------
    percent : float
        Of the ingredient in the oil, [%].
    at : float
        [deg C].

    Returns
    -------
    float or None
        None where nothing is known of its melting.

    Notes
    -----
    The liquid is the largest L with ``oil + sum(min(z, s L)) >= L``, each part z its
    own crystal; found from above, every round nearer.
    """
    parts = data.solutes.get(ingredient)
    if parts is None:
        return None
    known = [
        (
            percent * part.percent / 100.0 / part.molar_mass,
            solubility(part.enthalpy, part.melting, at),
            part.molar_mass,
        )
        for part in parts
    ]
    oil = (100.0 - percent) / OIL_MASS
    oil += percent * (1.0 - sum(part.percent for part in parts) / 100.0) / OIL_MASS
    liquid = oil + sum(moles for moles, _, _ in known)
    for _ in range(200):
        dissolved = sum(min(moles, fraction * liquid) for moles, fraction, _ in known)
        smaller = oil + dissolved
        if liquid - smaller < 1e-12:
            break
        liquid = smaller
    solid = sum(
        max(0.0, moles - fraction * liquid) * mass for moles, fraction, mass in known
    )
    return solid / percent
