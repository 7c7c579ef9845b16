"""Triglycerides of a fat: names, masses, lists made from fatty acids, and melting."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from functools import lru_cache
from itertools import product

from optimiser.domain.fats import CHAINS, AcidShare, FatData, canonical
from optimiser.units import KELVIN

__all__ = ["chain_shares", "correlated", "fusion_of", "generated", "molar_mass"]

# Acids that have no code of their own stand with the one that melts most like them.
_STANDS_FOR = {
    "C8:0": "Cy",
    "C10:0": "Ca",
    "C12:0": "La",
    "C14:0": "M",
    "C16:0": "P",
    "C18:0": "S",
    "C20:0": "A",
    "C22:0": "A",
    "C24:0": "A",
    "C16:1": "O",
    "C18:1": "O",
    "C20:1": "O",
    "C22:1": "O",
    "C18:2": "L",
    "C18:3": "L",
}
# Saturated part of the middle position in vegetable fats other than the lauric ones.
SATURATED_IN_THE_MIDDLE = 0.02
# Part of the acids that must have a code before a list is made from them.
LEAST_NAMED = 0.9
CARBON, HYDROGEN, OXYGEN = 12.011, 1.008, 15.999  # g/mol, IUPAC 2021


@lru_cache(maxsize=4096)
def molar_mass(triglyceride: str) -> float:
    """Return the molar mass, [g/mol].

    >>> round(molar_mass("O-O-O"), 1)
    885.5
    """
    carbons = 3 + sum(CHAINS[code][0] for code in triglyceride.split("-"))
    pairs = sum(CHAINS[code][1] for code in triglyceride.split("-"))
    hydrogens = 2 * carbons - 4 - 2 * pairs
    return CARBON * carbons + HYDROGEN * hydrogens + OXYGEN * 6


def chain_shares(acids: Iterable[AcidShare]) -> dict[str, float]:
    """Return the mole shares of chains in a fat, from the middles of its ranges.

    Acids without a stand-in (odd chains, hydroxy acids) are left out; there is no
    share at all where those are more than a tenth. Percent by weight is taken for
    percent by mole: chains of 16 to 20 carbons differ by 5 %.
    """
    shares: dict[str, float] = {}
    every = 0.0
    for each in acids:
        every += each.middle
        code = _STANDS_FOR.get(each.acid)
        if code is not None:
            shares[code] = shares.get(code, 0.0) + each.middle
    total = sum(shares.values())
    if total < LEAST_NAMED * every:
        return {}
    return {code: share / total for code, share in shares.items() if share > 0.0}


def generated(shares: Mapping[str, float], least: float = 0.02) -> dict[str, float]:
    """Return a triglyceride list made from a fat's chains, percent by weight.

    Parameters
    ----------
    shares : mapping of chain to mole share, adding to 1
    least : float
        Triglycerides below this percentage are left out, the rest scaled to 100.

    Notes
    -----
    The 1,3-random-2-random rule: chains spread at random over the outer positions,
    and at random over the middle one, which holds 2 % saturated chains. It was found
    to hold for mango kernel fat (van Pee et al., 1981) and holds for vegetable fats
    of the cocoa type and for liquid oils; not for lauric or animal fats.
    """
    unsaturated = sum(s for code, s in shares.items() if CHAINS[code][1])
    in_middle = min(1.0 - SATURATED_IN_THE_MIDDLE, 3.0 * unsaturated)
    middle = {
        code: share
        * (
            in_middle / unsaturated
            if CHAINS[code][1]
            else (1.0 - in_middle) / (1.0 - unsaturated)
        )
        for code, share in shares.items()
    }
    outer = {
        code: max(0.0, (3.0 * share - middle[code]) / 2.0)
        for code, share in shares.items()
    }
    weights: dict[str, float] = {}
    for first, second, third in product(shares, repeat=3):
        name = canonical(f"{first}-{second}-{third}")
        share = outer[first] * middle[second] * outer[third]
        weights[name] = weights.get(name, 0.0) + share * molar_mass(name)
    total = sum(weights.values())
    kept = {name: w for name, w in weights.items() if 100.0 * w >= least * total}
    total = sum(kept.values())
    return {name: 100.0 * weight / total for name, weight in kept.items()}


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
