"""The second opinion worked out a second time: crystals in an ideal liquid.

Each triglyceride is a crystal of its own. What sets of a blend, less what sets of each
of its fats alone, corrects the straight sum (DEVELOPERS.md, decisions 28, 30 and 62).
Fats are made of the few triglycerides below, whose melting is invented.
"""

import math

import numpy as np

from tests.random_scenarios.specification import (
    TRIGLYCERIDES,
    counted,
    figure,
    solid_fat,
)

GAS, KELVIN = 8.314462618e-3, 273.15  # kJ/(mol K)
CARBONS = {"P": 16, "S": 18, "O": 18, "L": 18}
PAIRS = {"O": 1, "L": 2}
# Molar masses of what stays liquid, g/mol, by category.
LIQUID = {"liquid oil": 880.0, "scent": 150.0, "emulsifier": 430.0}
COOLER = (10.0, 15.0, 20.0, 25.0)  # deg C: what is solid never rises from there on
ROOM = 25.0  # deg C, where the base is known
HALVINGS = 200
TIED = 1e-6  # of what is corrected


def molar_mass(name):
    """Molar mass of a triglyceride, g/mol."""
    codes = name.split("-")
    carbons = 3 + sum(CARBONS[each] for each in codes)
    hydrogens = 2 * carbons - 4 - 2 * sum(PAIRS.get(each, 0) for each in codes)
    return 12.011 * carbons + 1.008 * hydrogens + 6 * 15.999


def solids(shares, liquid, at):
    """Grams that have set of grams of triglycerides beside moles that never set."""
    moles = {name: grams / molar_mass(name) for name, grams in shares.items()}
    room = {}
    for name in moles:
        melting, heat = TRIGLYCERIDES[name]
        inverse = 1.0 / (melting + KELVIN) - 1.0 / (at + KELVIN)
        room[name] = math.exp(heat / GAS * inverse)
    total = liquid + math.fsum(moles.values())
    low, high = 0.0, total
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        melted = liquid + math.fsum(min(z, room[n] * middle) for n, z in moles.items())
        low, high = (middle, high) if melted > middle else (low, middle)
    return math.fsum(
        max(0.0, z - room[n] * high) * molar_mass(n) for n, z in moles.items()
    )


class Melting:
    """What the second opinion says of formulas of one specification."""

    def __init__(self, asked):
        self.asked = asked
        self.known = {each.key: each for each in asked.materials}
        self._alone = {}

    def unknown(self, formula, window):
        """Butters of a window of which it is not known what they are made of."""
        return {
            key
            for key in counted(self.asked, window)
            if formula.get(key, 0.0) > 1e-6
            and self.known[key].category.endswith("butter")
            and not self.known[key].made
        }

    def second(self, window, statement, x, formula):
        """The second figure of a window at a formula; None where it has none."""
        straight = statement.value(x)
        if straight is None or self.unknown(formula, window):
            return None
        room = self.beyond(window, formula)
        below = statement.constant + statement.below @ x
        return None if room is None else straight + room / below

    def beyond(self, window, formula):
        """What the straight sum is corrected by, times the amount of the part."""
        inside = {
            key: formula[key]
            for key in counted(self.asked, window)
            if formula.get(key, 0.0) > 0.0
        }
        offset = 0.0
        if window.what == "firmness" and self.asked.base:
            offset = self._of_the_base(window)
            if offset is None:
                return None
        found = self._least(window.what, inside, window.at)
        return found - offset * math.fsum(inside.values())

    def _of_the_base(self, window):
        """The base's own correction in a room, points; None where it has none."""
        inside = {
            key: share
            for key, share in self.asked.base.items()
            if key in counted(self.asked, window)
        }
        if not inside or self.unknown(self.asked.base, window):
            return None
        whole = math.fsum(inside.values())
        return self._least(window.what, inside, ROOM) / whole

    def _least(self, name, inside, at):
        """The least of the corrections at a temperature and at cooler ones."""
        return min(self._each(name, inside, at))

    def _each(self, name, inside, at):
        found = [self._excess(inside, at)]
        here = {key: self._straight(name, key, at) for key in inside}
        for cooler in (each for each in COOLER if each < at):
            there = {key: self._straight(name, key, cooler) for key in inside}
            if None in (*here.values(), *there.values()):
                continue
            moved = math.fsum((there[k] - here[k]) * x for k, x in inside.items())
            found.append(moved + self._excess(inside, cooler))
        return found

    def _straight(self, name, key, at):
        each = self.known[key]
        if name == "firmness" and each.category == "wax":
            found = figure(each, name)
        else:
            found = solid_fat(each, at)
        return None if found is None else found[1]

    def _excess(self, inside, at):
        """Percent times amount that sets of a blend over what sets of each alone."""
        alone = math.fsum(self.alone(key, at) * x for key, x in inside.items())
        return 100.0 * (self._solids(inside, at) - alone)

    def alone(self, key, at):
        """What sets of a gram of one ingredient by itself, grams."""
        if (key, at) not in self._alone:
            self._alone[key, at] = self._solids({key: 1.0}, at)
        return self._alone[key, at]

    def _solids(self, inside, at):
        shares, liquid = {}, 0.0
        for key, amount in inside.items():
            each = self.known[key]
            for name, percent in each.made.items():
                shares[name] = shares.get(name, 0.0) + amount * percent / 100.0
            if not each.made and each.category in LIQUID:
                liquid += amount / LIQUID[each.category]
        return solids(shares, liquid, at) if shares else 0.0

    def slopes(self, window, formula, keys, part=1e-6):
        """How what is corrected grows with a little more of each ingredient.

        No number where that is not known, nor of what has no figure where it is cooler
        and would leave the temperature's own alone, or for all where two temperatures
        tell the same of the formula: either could be meant.
        """
        inside = {
            key: formula[key]
            for key in counted(self.asked, window)
            if formula.get(key, 0.0) > 0.0
        }
        least, *others = sorted(self._each(window.what, inside, window.at))
        if others and others[0] - least < TIED:
            return np.full(len(keys), np.nan)
        here = self.beyond(window, formula)
        fats = math.fsum(x for key, x in inside.items() if self.known[key].made)
        step = part * (fats or 1.0)  # of little fat, little more sets at once
        found = []
        for key in keys:
            more = formula | {key: formula.get(key, 0.0) + step}
            there = None
            every = (at for at in (*COOLER, window.at) if at <= window.at)
            known = [self._straight(window.what, key, at) for at in every]
            if None not in known and not self.unknown(more, window):
                there = self.beyond(window, more)
            found.append(np.nan if there is None else (there - here) / step)
        return np.array(found)
