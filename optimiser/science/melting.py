"""What is solid in a blend of fats, waxes and oils: a model, not a measurement.

`solids` is the whole melt at rest; a `Kitchen` blends ingredients as the substances
that they are made of.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import lru_cache

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats, Mask
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.fats import CHAINS, INERT, FatData
from optimiser.domain.material import UNKNOWN
from optimiser.science.composition import (
    LIQUID_MASS,
    SHORT,
    composition_of,
    takes_part,
)
from optimiser.science.dissolving import OIL_MASS
from optimiser.science.equilibrium import (
    MIXED,
    MIXED_TOO,
    OWN,
    STAYS_LIQUID,
    Settled,
    Substances,
    settle,
)
from optimiser.science.properties import figure
from optimiser.science.triglycerides import fusion_of, molar_mass
from optimiser.units import GAS, KELVIN

__all__ = ["MEASURES", "Kitchen", "solids"]

# What the mixed crystal of lauric triglycerides costs over an ideal one, in RT: one
# number, fitted to the curves of coconut and palm kernel oil.
MIXED_COST = 1.0
# What crystals are counted by: see `Kitchen`.
MEASURES = ("solid fat", "firmness", "wax")


class Substance(Struct, frozen=True):
    """Melting of one substance: ``melting`` in K, ``heat`` in kJ/mol."""

    mass: float
    group: int
    melting: float
    heat: float
    fat: bool


@lru_cache(maxsize=4096)
def _substance(name: str, data: FatData) -> Substance:
    if ": " in name:
        key, part = name.split(": ", 1)
        each = next(one for one in data.solutes[key] if one.part == part)
        melting = each.melting + KELVIN
        return Substance(each.molar_mass, OWN, melting, each.enthalpy, False)
    codes = name.split("-")
    pairs = sum(CHAINS[code][1] for code in codes)
    group = OWN
    if SHORT & set(codes) and pairs < 2:
        group = MIXED if pairs == 0 else MIXED_TOO
    form = "beta" if group == OWN else "beta_prime"
    melting, heat = fusion_of(name, form, data)
    return Substance(molar_mass(name), group, melting + KELVIN, heat, True)


class Kitchen:
    """Ingredients as substances, ready to be blended at any temperature.

    Parameters
    ----------
    ingredients : sequence of str
        Keys, in the order of every ``amounts`` below. Those that take no part in the
        melt (sugar, water) or whose make-up is not known count as absent; ``unknown``
        lists the latter, ``unknown_fats`` the butters among them, and what may be one.
    only : collection of str, optional
        Look at these ingredients alone; the others count as absent.
    """

    def __init__(
        self,
        ingredients: Sequence[str],
        catalogue: Catalogue,
        only: Collection[str] | None = None,
    ) -> None:
        self.ingredients = tuple(ingredients)
        made = {
            key: composition_of(key, catalogue)
            for key in self.ingredients
            if (only is None or key in only) and takes_part(catalogue, key)
        }
        self.unknown = tuple(key for key, shares in made.items() if shares is None)
        self.unknown_fats = tuple(
            key
            for key in self.unknown
            if (category := catalogue.ingredients[key].category).endswith("butter")
            or category == UNKNOWN
        )
        known = {key: shares for key, shares in made.items() if shares}
        names = sorted({n for shares in known.values() for n in shares} - {INERT})
        place = {name: at for at, name in enumerate(names)}
        self._all = [_substance(name, catalogue.fats) for name in names]
        # Moles per gram; the last column is what never sets.
        self.moles = np.zeros((len(self.ingredients), len(names) + 1))
        for row, key in enumerate(self.ingredients):
            for name, share in known.get(key, {}).items():
                if name == INERT:
                    category = catalogue.ingredients[key].category
                    mass = LIQUID_MASS.get(category, OIL_MASS)
                    self.moles[row, -1] += share / 100.0 / mass
                else:
                    at = place[name]
                    self.moles[row, at] += share / 100.0 / self._all[at].mass
        self.takes_part = np.array([key in known for key in self.ingredients])
        self._of_fat = np.array(
            [key not in catalogue.fats.solutes for key in self.ingredients]
        )
        self._melting = np.array([each.melting for each in self._all])
        self._heat = np.array([each.heat for each in self._all])
        self._group = np.array([each.group for each in self._all], dtype=np.int64)
        self._mass = np.array([each.mass for each in self._all])
        self._fat = np.array([each.fat for each in self._all], dtype=np.float64)
        self._counted = self._measures(names, catalogue)
        self._catalogue = catalogue
        self._single: dict[float, Floats] = {}
        self._of_sum: dict[tuple[str, bytes], Floats] = {}

    def _measures(self, names: Sequence[str], catalogue: Catalogue) -> Floats:
        """Return how much a gram of crystals counts for, (measures, substances).

        Solid fat counts all but wax, firmness a wax as often as its strength says,
        and the last measure is what waxes alone add to firmness.
        """
        counted = np.ones((len(MEASURES), len(names)))
        for at, name in enumerate(names):
            key, *part = name.split(": ", 1)
            wax = part and catalogue.ingredients[key].category == "wax"
            strength = figure(catalogue, "wax firmness", key, None) if wax else None
            firm = strength.value if strength else 0.0
            counted[:, at] = (0.0, firm, firm) if wax else (1.0, 1.0, 0.0)
        return counted

    def of_sum(self, measure: str, degrees: Floats) -> Floats:
        """Return the part of the straight sum that is no fat's, per gram.

        Waxes, acids, alcohols and emulsifiers are figures of their own there; shape
        (temperatures, ingredients). Zero for a fat, which the model's own stands for.
        """
        asked = measure, degrees.tobytes()
        if asked not in self._of_sum:
            found = np.zeros((degrees.size, len(self.ingredients)))
            for column in np.flatnonzero(self.takes_part & ~self._of_fat).tolist():
                key = self.ingredients[column]
                for row, at in enumerate(degrees.tolist()):
                    each = figure(self._catalogue, measure, key, at)
                    found[row, column] = each.value / 100.0 if each else 0.0
            self._of_sum[asked] = found
        return self._of_sum[asked]

    def settle_beside_singles(
        self, amounts: Floats, at: Floats, degrees: Floats
    ) -> Settled:
        """Settle blends, and in the same go what `singles` will be asked for.

        Parameters
        ----------
        amounts, at
            As in `settle`; counted are `MEASURES`, a row each.
        degrees : float array, shape (temperatures,)
            Where the single ingredients will be asked for. What is all liquid by
            itself needs no settling.
        """
        new = np.array([each for each in degrees.tolist() if each not in self._single])
        if not new.size:
            return self._settle(amounts, at, self._counted)
        self._single |= {each: np.zeros(len(self.ingredients)) for each in new.tolist()}
        fats = self.takes_part & self._of_fat
        each = np.eye(len(self.ingredients))
        where, which = np.nonzero(self.sets(each, new) & fats)
        alone = each[which]
        found = self._settle(
            np.concatenate([amounts, alone]),
            np.concatenate([at, new[where]]),
            self._counted,
        )
        for row, place, solid in zip(
            new[where].tolist(), which, found.solids[0, at.size :], strict=True
        ):
            self._single[row][place] = solid
        here = slice(None), slice(at.size)
        return Settled(found.solids[here], found.slopes[here], found.miss)

    def sets(self, amounts: Floats, at: Floats) -> Mask:
        """Whether some of each blend sets at all, shape (temperatures, blends).

        A substance does beyond its solubility; a mixed crystal where the parts of its
        substances' solubilities that are there add up to more than one.
        """
        moles = amounts @ self.moles
        moles = moles / np.maximum(moles.sum(axis=1, keepdims=True), 1e-300)
        full = moles[None, :, :-1] / self.solubility(at)[:, None, :]
        sets = (full[:, :, self._group == OWN] > 1.0).any(axis=2)
        for group in (MIXED, MIXED_TOO):
            sets |= full[:, :, self._group == group].sum(axis=2) > 1.0
        return np.asarray(sets)

    def singles(self, at: Floats) -> Floats:
        """Return the solid fat of each fat by itself, gram per gram.

        Shape (temperatures, ingredients); zero for what is no fat, and where none
        were settled (see `settle_beside_singles`).
        """
        nothing = np.zeros(len(self.ingredients))
        return np.array([self._single.get(each, nothing) for each in at.tolist()])

    def solubility(self, at: Floats) -> Floats:
        """Return mole fractions in the liquid at which substances begin to set.

        Parameters
        ----------
        at : float array, shape (temperatures,)
            [deg C].

        Returns
        -------
        float array, shape (temperatures, substances)

        Notes
        -----
        Ideal solubility, ``ln s = heat / R (1 / T_melting - 1 / T)`` (Schroeder and
        van Laar); a mixed crystal's substances dissolve more easily by its cost.
        """
        kelvin = at[:, None] + KELVIN
        log = self._heat / GAS * (1.0 / self._melting - 1.0 / kelvin)
        log = log + np.where(self._group == OWN, 0.0, MIXED_COST)
        return np.asarray(np.exp(np.clip(log, -690.0, 60.0)), dtype=np.float64)

    def settle(self, amounts: Floats, at: Floats, *, fat_only: bool) -> Settled:
        """Return the solids of blends, each at its own temperature.

        Parameters
        ----------
        amounts : float array, shape (rows, ingredients)
            Grams, or percent of the product; every row holds some melt.
        at : float array, shape (rows,)
            [deg C].
        fat_only : bool
            Count crystals of fat only; else those of waxes, acids and alcohols too.

        Returns
        -------
        Settled
            ``solids`` in the unit of ``amounts``; ``slopes`` of shape (rows,
            ingredients) per unit of each ingredient.
        """
        counted = self._fat if fat_only else np.ones_like(self._fat)
        return self._settle(amounts, at, counted)

    def measured(self, amounts: Floats, at: Floats) -> Floats:
        """Return blends by each of `MEASURES`, shape (measures, rows); as `settle`."""
        return self._settle(amounts, at, self._counted).solids

    def solids(self, amounts: Floats, at: Floats) -> Floats:
        """Return what is solid of one blend, percent of the melt: see `solids`.

        Parameters
        ----------
        amounts : float array, shape (ingredients,)
        at : float array, shape (temperatures,)
            [deg C].
        """
        amounts = amounts * self.takes_part
        percent = np.zeros(at.shape)
        if not amounts.sum():
            return percent
        sets = self.sets(amounts[None, :], at)[:, 0]
        if sets.any():
            rows = np.repeat(amounts[None, :], int(sets.sum()), axis=0)
            found = self.settle(rows, at[sets], fat_only=False)
            percent[sets] = 100.0 * found.solids / amounts.sum()
        return percent

    def _settle(self, amounts: Floats, at: Floats, counted: Floats) -> Settled:
        """Return the solids of blends by one measure, or by several."""
        moles = amounts @ self.moles
        solubility = self.solubility(at)
        own = self._group == OWN
        # What never sets at any of these temperatures is pooled with the inert part.
        sets = ~(own & (solubility.min(axis=0) >= 1.0)) & (
            moles[:, :-1].max(axis=0) > 0
        )
        pooled = np.append(moles[:, :-1][:, ~sets].sum(axis=1) + moles[:, -1], 0.0)[:-1]
        melt = Substances(
            mass=np.append(self._mass[sets], 0.0),
            group=np.append(self._group[sets], STAYS_LIQUID),
            counted=np.concatenate(
                [counted[..., sets], np.zeros((*counted.shape[:-1], 1))], axis=-1
            ),
        )
        found = settle(
            melt,
            np.column_stack([moles[:, :-1][:, sets], pooled]),
            np.column_stack([solubility[:, sets], np.ones(at.size)]),
        )
        every = np.repeat(found.slopes[..., -1:], self.moles.shape[1], axis=-1)
        every[..., :-1][..., sets] = found.slopes[..., :-1]
        return Settled(found.solids, every @ self.moles.T, found.miss)


def solids(
    formula: Mapping[str, float],
    temperatures_degC: Sequence[float] | Floats,  # noqa: N803 - the unit is the name
    catalogue: Catalogue,
) -> Floats:
    """Return what is solid in the melt of a formula at rest, percent of the melt.

    Parameters
    ----------
    formula : mapping of ingredient key to percent (or any weight)
        Ingredients that take no part in the melt (sugar, water) are left aside, and
        so are butters whose make-up is not known (see `Kitchen.unknown`).
    temperatures_degC : sequence of float, shape (temperatures,)
        [deg C].

    Returns
    -------
    float array, shape (temperatures,)
        Crystals of fat, wax, acid and alcohol together, percent by weight of the melt;
        zeros where nothing takes part.

    Notes
    -----
    Waxes, acids and alcohols are ideal solutes, each a crystal of its own. Good to
    3 to 10 points on the steep part of a curve, and to 2 to 5 K where the last
    crystals melt; stable state only: no setting lag, no untempered cocoa butter.
    """
    at = np.asarray(temperatures_degC, dtype=np.float64)
    used = {key: share for key, share in formula.items() if share > 0.0}
    return Kitchen(tuple(used), catalogue).solids(np.array(list(used.values())), at)
