"""The one melting curve of a formula: what the straight sum is corrected by.

Whoever asks of a formula's solid fat or firmness asks here, so that all read the same.
It never rises on warming: a table's step beside a model's might, what is solid does
not, so at each temperature the least counts of those cooler ones that all curves hold.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.science.excess import Excess, excesses
from optimiser.science.melting import MEASURES, Kitchen
from optimiser.science.properties import figure

__all__ = ["FLATTENS", "FULL", "Correction", "Melting"]

# Firmness from waxes counts in full to so many points and then for so much of each:
# 2 % of sunflower wax is as firm as 18 % of hard fat and 6 % as 30 (Hwang et al., JAOCS
# 90:1705, 2013, abstract), 10 % as stick margarine; a bar of one third beeswax is
# softer than cocoa butter (common practice). Where it bends is assumed.
FULL, FLATTENS = 35.0, 0.35
# Temperatures that every curve holds, deg C: from COOL on, a step apart.
COOL, STEP = 10.0, 5.0
SAME = 1e-12  # of a correction


class Correction(Struct, frozen=True, eq=False):
    """What the straight sum at a temperature is corrected by, in a part of a formula.

    ``value`` in the unit of the property, ``rows`` as change of value times the part's
    amount per unit of each ingredient, the one that counts first; ``doubt`` either way.
    """

    value: float
    rows: tuple[Floats, ...]
    doubt: float


class Melting:
    """Corrections of formulas of some ingredients, kept once they are found.

    Parameters
    ----------
    keys, catalogue, only
        As of a `Kitchen`.
    also : sequence of float
        Temperatures that will be asked about sooner or later, [deg C].
    """

    def __init__(
        self,
        keys: Sequence[str],
        catalogue: Catalogue,
        only: Collection[str] | None = None,
        also: Sequence[float] = (),
    ) -> None:
        self.keys, self.catalogue = tuple(keys), catalogue
        self.kitchen = Kitchen(self.keys, catalogue, only)
        self._also = tuple(also)
        self._found: dict[tuple[bytes, bytes], dict[str, dict[float, _Raw]]] = {}
        self._known: dict[tuple[bytes, bytes, str], dict[float, Correction]] = {}
        self._sums: dict[tuple[str, float], Floats] = {}
        self._cooled: dict[tuple[str, float, float], Floats] = {}

    def see(
        self, amounts: Floats, mask: Floats, name: str, degrees: Iterable[float]
    ) -> Mapping[float, Correction]:
        """Return the corrections of solid fat or firmness at these temperatures.

        Parameters
        ----------
        amounts : float array, shape (ingredients,) or more
        mask : float array, shape (ingredients,)
            1 for each ingredient of the part.
        name : "solid fat" or "firmness"
        """
        mix = np.round(amounts[: mask.size], 8) * mask
        key = (mask.tobytes(), mix.tobytes())
        known = self._known.setdefault((*key, name), {})
        new = sorted({at for at in degrees if at not in known})
        if new:
            raw = self._raw(key, mix, new)
            for at in new:
                known[at] = self._least(raw, name, mix, mask, at)
        return known

    def alone(self, amounts: Floats, degrees: Sequence[float]) -> Mapping[str, Floats]:
        """Return the model's own figures, where there is no straight sum to correct.

        Parameters
        ----------
        amounts : float array, shape (ingredients,)
        degrees : sequence of float
            [deg C].

        Returns
        -------
        mapping of "solid fat" and "firmness" to float array, shape (temperatures,)
        """
        at = np.asarray(degrees, dtype=np.float64)
        rows = np.repeat(amounts[None, :], at.size, axis=0)
        fat, firm, wax = 100.0 * self.kitchen.measured(rows, at) / amounts.sum()
        flat = firm - (1.0 - FLATTENS) * np.maximum(wax - FULL, 0.0)
        return {"solid fat": fat, "firmness": flat}

    def _raw(
        self, key: tuple[bytes, bytes], mix: Floats, new: Sequence[float]
    ) -> dict[str, dict[float, _Raw]]:
        """Return the model's excess at some temperatures and all cooler ones held."""
        raw = self._found.setdefault(key, {measure: {} for measure in MEASURES})
        have = raw["solid fat"]
        doubted = sorted({*new, *self._also} - {at for at in have if have[at].doubted})
        wanted = {*doubted}
        for at in doubted:
            wanted |= {*_held(at), *_around(at)}
        asked = sorted(at for at in wanted if at not in have or at in doubted)
        if not asked:
            return raw
        found = excesses(self.kitchen, mix, asked, doubted)
        for measure in MEASURES:
            each: Excess = found[measure]
            for row, at in enumerate(asked):
                raw[measure][at] = _Raw(
                    each.slopes[row], float(each.doubt[row]), at in doubted
                )
        return raw

    def _least(
        self,
        raw: Mapping[str, Mapping[float, _Raw]],
        name: str,
        mix: Floats,
        mask: Floats,
        at: float,
    ) -> Correction:
        """Return the least correction of those at a temperature and cooler ones.

        Where several are the same, as of what is all liquid, the temperature's own
        counts. What is not in the mix and has no figure where it is cooler would leave
        only that one: it counts as it does there.
        """
        whole = max(float(mix.sum()), 1e-12)
        moved = self._moved(name, at, at)
        if np.isnan(moved[mix > 0.0]).any():
            moved = np.zeros_like(mix)
        moved = np.where(np.isnan(moved), 0.0, moved)
        own = _sorted([moved + each for each in _pieces(raw, name, mask, at)], mix)
        best = float(own[0] @ mix) / whole, own
        for cooler in _held(at):
            moved = self._moved(name, at, cooler)
            unknown = np.isnan(moved)
            if unknown[mix > 0.0].any():
                continue
            rows = _sorted(
                [
                    np.where(unknown, own[0], moved + each)
                    for each in _pieces(raw, name, mask, cooler)
                ],
                mix,
            )
            value = float(rows[0] @ mix) / whole
            if value < best[0] - SAME:
                best = value, rows
        return Correction(*best, raw["solid fat"][at].doubt)

    def _moved(self, name: str, at: float, cooler: float) -> Floats:
        """Return what figures straight between held temperatures are above those."""
        asked = name, at, cooler
        if asked not in self._cooled:
            self._cooled[asked] = self._between(name, cooler) - self._sum(name, at)
        return self._cooled[asked]

    def _between(self, name: str, at: float) -> Floats:
        """Return the straight sum's figures, straight between held temperatures."""
        ends = _around(at)
        first = self._sum(name, ends[0])
        if len(ends) == 1:
            return first
        share = (at - ends[0]) / STEP
        both: Floats = (1.0 - share) * first + share * self._sum(name, ends[1])
        return both

    def _sum(self, name: str, at: float) -> Floats:
        """Return each ingredient's figure in the straight sum; NaN where not known."""
        if (name, at) not in self._sums:
            every = [figure(self.catalogue, name, key, at) for key in self.keys]
            self._sums[name, at] = np.array(
                [math.nan if each is None else each.value for each in every]
            )
        return self._sums[name, at]


class _Raw(Struct, frozen=True, eq=False):
    """A measure's excess at one temperature, by slopes; ``doubted`` if asked for."""

    slopes: Floats
    doubt: float
    doubted: bool


def _held(at: float) -> tuple[float, ...]:
    """Return the temperatures cooler than one that every curve holds."""
    return tuple(np.arange(COOL, at - 1e-9, STEP).tolist())


def _around(at: float) -> tuple[float, ...]:
    """Return the held temperatures that one lies between; itself where it is held."""
    if at <= COOL or at % STEP == 0.0:
        return (at,)
    below = at - at % STEP
    return (below, below + STEP)


def _sorted(rows: list[Floats], mix: Floats) -> tuple[Floats, ...]:
    """Return rows by what they come to, the least first."""
    return tuple(sorted(rows, key=lambda row: float(row @ mix)))


def _pieces(
    raw: Mapping[str, Mapping[float, _Raw]], name: str, mask: Floats, at: float
) -> list[Floats]:
    """Return the rows of a property's excess, straight between held temperatures."""

    def slopes(measure: str) -> Floats:
        ends = _around(at)
        first = raw[measure][ends[0]].slopes
        if len(ends) == 1:
            return first
        share = (at - ends[0]) / STEP
        both: Floats = (1.0 - share) * first + share * raw[measure][ends[1]].slopes
        return both

    plain = slopes(name)
    if name != "firmness":
        return [plain]
    wax = slopes("wax")
    if not wax.any():
        return [plain]
    return [plain, plain - (1.0 - FLATTENS) * (wax - FULL * mask)]
