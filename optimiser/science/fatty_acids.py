"""Iodine and saponification value worked out from a fat's fatty acids.

A check of the tables: what a profile implies, from its middles and between its ends.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from msgspec import Struct

from optimiser.domain.fats import AcidShare
from optimiser.science.triglycerides import CARBON, HYDROGEN, OXYGEN

__all__ = ["Implied", "acid_mass", "double_bonds", "iodine_value", "saponification"]

IODINE = 253.809  # g/mol of I2, IUPAC 2021
HYDROXIDE = 56.1056  # g/mol of KOH
GLYCEROL_LESS_WATER = 92.094 - 3 * 18.015
_WRITTEN = re.compile(r"C(\d+):(\d+)(-OH)?")


class Implied(Struct, frozen=True):
    """What a profile implies: from its middles, and the least and most it allows."""

    low: float
    value: float
    high: float


def _parts(acid: str) -> tuple[int, int, bool]:
    found = _WRITTEN.fullmatch(acid)
    if found is None:
        raise ValueError(f"'{acid}' is not a fatty acid as in C18:1")
    return int(found[1]), int(found[2]), found[3] is not None


def acid_mass(acid: str) -> float:
    """Return a fatty acid's molar mass, [g/mol].

    >>> round(acid_mass("C18:1"), 2), round(acid_mass("C18:1-OH"), 2)
    (282.47, 298.47)
    """
    carbons, pairs, hydroxy = _parts(acid)
    hydrogens = 2 * carbons - 2 * pairs
    return CARBON * carbons + HYDROGEN * hydrogens + OXYGEN * (2 + hydroxy)


def double_bonds(acid: str) -> int:
    """Return a fatty acid's double bonds.

    >>> double_bonds("C18:2")
    2
    """
    return _parts(acid)[1]


def iodine_value(acids: Sequence[AcidShare], *, free: bool = False) -> Implied | None:
    """Return the iodine value, [g I2/100 g]; None of no acids.

    Parameters
    ----------
    free : bool
        The acids are free, as in stearic acid; else they are bound three to a glycerol.

    Notes
    -----
    One mole of iodine for each double bond. Shares are scaled to 100; the ends fill
    the least shares up with the acids that move the figure most (AOCS Cd 1c-85 counts
    the same way).
    """

    def of(shares: dict[str, float]) -> float:
        moles = sum(s * double_bonds(a) / acid_mass(a) for a, s in shares.items())
        return 100.0 * IODINE * moles * _bound_share(shares, free)

    return _implied(acids, of, lambda acid: double_bonds(acid) / acid_mass(acid))


def saponification(acids: Sequence[AcidShare], *, free: bool = False) -> Implied | None:
    """Return the saponification value, [mg KOH/g]; None of no acids.

    One mole of hydroxide for each acid; parameters as in `iodine_value`. What does not
    saponify (6 to 10 % in shea) lowers the real value.
    """

    def of(shares: dict[str, float]) -> float:
        moles = sum(share / acid_mass(acid) for acid, share in shares.items())
        return 1000.0 * HYDROXIDE * moles * _bound_share(shares, free)

    return _implied(acids, of, lambda acid: 1.0 / acid_mass(acid))


def _bound_share(shares: dict[str, float], free: bool) -> float:
    """Return grams of acid in a gram of the fat."""
    if free:
        return 1.0
    mean = 1.0 / sum(share / acid_mass(acid) for acid, share in shares.items())
    return 3.0 * mean / (3.0 * mean + GLYCEROL_LESS_WATER)


def _implied(
    acids: Sequence[AcidShare],
    of: Callable[[dict[str, float]], float],
    effect: Callable[[str], float],
) -> Implied | None:
    if not acids:
        return None
    total = sum(each.middle for each in acids)
    value = of({each.acid: each.middle / total for each in acids})
    ends = [of(_filled(acids, effect, sign)) for sign in (1.0, -1.0)]
    return Implied(min(*ends, value), value, max(*ends, value))


def _filled(
    acids: Sequence[AcidShare], effect: Callable[[str], float], sign: float
) -> dict[str, float]:
    """Return shares that add to 1, low ends filled up in the order of their effect."""
    shares = {each.acid: each.low / 100.0 for each in acids}
    rest = 1.0 - sum(shares.values())
    for each in sorted(acids, key=lambda each: sign * effect(each.acid)):
        more = min(max(rest, 0.0), (each.high - each.low) / 100.0)
        shares[each.acid] += more
        rest -= more
    total = sum(shares.values())
    return {acid: share / total for acid, share in shares.items() if share > 0.0}
