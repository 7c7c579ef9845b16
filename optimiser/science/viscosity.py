"""Viscosity of molten fat: each fat's own figure, warmed or cooled, then mixed."""

from __future__ import annotations

import math
from collections.abc import Mapping

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Figure
from optimiser.domain.properties import MELTS
from optimiser.units import GAS, KELVIN

__all__ = ["MeltViscosity", "at_temperature", "melt_viscosity"]

VISCOSITY, ENERGY = "viscosity", "viscosity activation energy"


class _Typical(Struct, frozen=True):
    """What a fat without a figure of its own is taken to be: mPa s at deg C, kJ/mol."""

    low: float
    value: float
    high: float
    at: float
    energy: float


# Vegetable oils: 29.6 (walnut) to 39.8 (rice bran) mPa s at 38 deg C, 21-30 kJ/mol
# (Diamante and Lan, J. Food Process. 2014:234583).
OIL = _Typical(29.6, 35.0, 39.8, 38.0, 25.0)
# Butters: from cocoa butter (about 45, from memory) to shea (74-96; SpringerPlus
# 4:667, 2015, Table 1), mPa s at 40 deg C.
BUTTER = _Typical(45.0, 60.0, 96.0, 40.0, 40.0)


class MeltViscosity(Struct, frozen=True):
    """Viscosity of the clear melt, mPa s, and whose figures were typical ones."""

    low: float
    value: float
    high: float
    typical: tuple[str, ...]


def at_temperature(viscosity: float, at: float, energy: float, to: float) -> float:
    """Return a viscosity at another temperature, in its own unit.

    Parameters
    ----------
    viscosity, at : float
        Known viscosity, and the temperature it was measured at, [deg C].
    energy : float
        Activation energy, [kJ/mol].
    to : float
        Temperature wanted, [deg C].

    Notes
    -----
    Source: Andrade's (Arrhenius) law, ``ln mu = E / R T + constant``; shea butter
    follows it from 35 to 65 deg C with 47-50 kJ/mol (SpringerPlus 4:667, 2015).

    >>> round(at_temperature(45.0, 40.0, 30.0, 38.0), 1)
    48.5
    """
    warmer = 1.0 / (to + KELVIN) - 1.0 / (at + KELVIN)
    return viscosity * math.exp(energy / GAS * warmer)


def melt_viscosity(
    amounts: Mapping[str, float], at: float, catalogue: Catalogue
) -> MeltViscosity | None:
    """Return the viscosity of a formula's fats when molten; None without fats.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent
        A formula; what is no fat is left out.
    at : float
        Temperature of the melt, [deg C].

    Notes
    -----
    Logarithms add by weight (Arrhenius' rule for mixtures).
    """
    total = 0.0
    logs = [0.0, 0.0, 0.0]
    typical = []
    for key, percent in amounts.items():
        ingredient = catalogue.ingredients[key]
        if ingredient.category not in MELTS or percent <= 0.0:
            continue
        found = _own(catalogue, key, at)
        if found is None:
            typical.append(ingredient.name)
            found = _typical(ingredient.category, at)
        total += percent
        logs = [s + percent * math.log(v) for s, v in zip(logs, found, strict=True)]
    if total == 0.0:
        return None
    low, value, high = (math.exp(each / total) for each in logs)
    return MeltViscosity(low, value, high, tuple(typical))


def _own(
    catalogue: Catalogue, key: str, at: float
) -> tuple[float, float, float] | None:
    """Return a fat's own viscosity, low, value and high, at a temperature."""
    points = catalogue.figures.get(VISCOSITY, {}).get(key)
    known = {t: each for t, each in (points or {}).items() if t is not None}
    if not known:
        return None
    nearest = min(known, key=lambda t: abs(t - at))
    energies = catalogue.figures.get(ENERGY, {}).get(key, {})
    energy = next((each.value for each in energies.values()), None)
    if energy is None:
        category = catalogue.ingredients[key].category
        energy = (OIL if category == "liquid oil" else BUTTER).energy
    return _moved(known[nearest], nearest, energy, at)


def _typical(category: str, at: float) -> tuple[float, float, float]:
    base = OIL if category == "liquid oil" else BUTTER
    return _moved(base, base.at, base.energy, at)


def _moved(
    known: Figure | _Typical, at: float, energy: float, to: float
) -> tuple[float, float, float]:
    factor = at_temperature(1.0, at, energy, to)
    return known.low * factor, known.value * factor, known.high * factor
