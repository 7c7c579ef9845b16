"""Melting point and heat of melting of a triglyceride in one crystal form.

Published values where there are any, else a correlation over chain lengths.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from optimiser.domain.fats import CHAINS, FatData

__all__ = ["correlated", "fusion_of"]

KELVIN = 273.15


def correlated(
    triglyceride: str, form: str, parameters: Mapping[str, Mapping[str, float]]
) -> tuple[float, float]:
    """Return melting point [deg C] and heat of melting [kJ/mol] by correlation.

    Parameters
    ----------
    triglyceride : str
        As in "P-O-S"; chains of 8 to 20 carbons, with no, one or two double bonds.
    form : {"alpha", "beta_prime", "beta"}
    parameters : mapping of parameter to form to value

    Notes
    -----
    Wesdorp (thesis, Delft 1990), parameters of Moorthy et al., JAOCS 2016 (doi
    10.1007/s11746-016-2935-1), also in Seilert and Floeter, 2021 (doi
    10.1002/aocs.12515). With n carbons in three chains, x = middle less shorter
    outer chain and y = longer less shorter outer chain::

        heat    = h n + h_0 + h_xy f(x, y) + unsaturated terms
        melting = T (1 + A / n - A B / n^2)

    Pairs of equal unsaturated chains count n (n - 1) / 2. Within about 2.3 K and
    5 kJ/mol of published values for beta, 5.5 K and 13 kJ/mol for beta'. It does not
    see where an unsaturated chain sits; published values do, and go first.
    """
    p = {name: values[form] for name, values in parameters.items()}
    codes = triglyceride.split("-")
    first, middle, last = (CHAINS[code][0] for code in codes)
    n = first + middle + last
    x, y = middle - min(first, last), abs(first - last)
    oleic, linoleic = codes.count("O"), codes.count("L")
    bend = math.exp(-(((x - p["x_0"]) / p["k"]) ** 2)) + math.exp(-((y / p["k"]) ** 2))
    heat = p["h"] * n + p["h_0"] + p["h_xy"] * (2.0 - bend)
    heat += p["h_O"] * oleic + p["h_J"] * linoleic

    def shape(letter: str) -> float:
        return (
            p[f"{letter}_0"]
            + p[f"{letter}_x"] * x
            + p[f"{letter}_x2"] * x * x
            + p[f"{letter}_xy"] * x * y
            + p[f"{letter}_y"] * y
            + p[f"{letter}_y2"] * y * y
            + p[f"{letter}_O"] * oleic
            + p[f"{letter}_J"] * linoleic
        )

    a, b = shape("A"), shape("B")
    a += p["A_OO"] * oleic * (oleic - 1) / 2.0
    a += p["A_JJ"] * linoleic * (linoleic - 1) / 2.0
    a += p["A_OJ"] * oleic * linoleic
    return p["T_inf"] * (1.0 + a / n - a * b / n**2) - KELVIN, heat


def fusion_of(triglyceride: str, form: str, data: FatData) -> tuple[float, float]:
    """Return melting point [deg C] and heat of melting [kJ/mol] of a triglyceride.

    Published values go before the correlation, each of the two by itself.
    """
    melting, heat = correlated(triglyceride, form, data.correlation)
    known = data.fusion.get((triglyceride, form))
    if known is not None:
        melting = melting if known.melting is None else known.melting
        heat = heat if known.enthalpy is None else known.enthalpy
    return melting, heat
