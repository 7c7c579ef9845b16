"""Triglycerides of a fat: names, masses, and a list made from its fatty acids.

A triglyceride is written with its three chains in their order on the glycerol, as in
"P-O-S"; the two outer chains may change places.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from itertools import product

from optimiser.domain.fats import CHAINS, AcidShare, canonical

__all__ = ["chain_shares", "generated", "molar_mass"]

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
