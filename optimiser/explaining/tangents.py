"""Solving again with tangents until the second opinion's windows hold.

Solid fat by the model is convex in the amounts (nearly, by weight), so its tangent at
any formula lies below it elsewhere: a "least" window on the tangent is a straight rule
that keeps the model's own, which each answer is checked for all the same. Each round
takes the tangent at the last formula (successive linear programming; Griffith and
Stewart, Management Science 7:379, 1961). The end depends on where one starts, so
several starts are tried and the best is kept; a way that comes to a formula where
another has been goes on as that one did, and is left there. Two that differ in what
no window is over (sugar for salt) are one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.rule import Programme, Rule
from optimiser.explaining.second_opinion import (
    Opinion,
    Watched,
    giving,
    known_only,
    tangent_rule,
)
from optimiser.rules.build import numbered
from optimiser.science.excess import margin
from optimiser.solving import Optimum, attempted, less
from optimiser.solving.unproved import Unproved, WithMore

__all__ = ["Held", "hold"]

MOST_ROUNDS = 12  # from one start
PLACES = 6  # of a percentage: formulas that agree so far are one
# A margin on the straight sum, in parts of what usually covers nine in ten blends.
MARGINS = (1.0, 0.5)
# Percent from which a butter is leant on, and how many are tried to be done without.
LEANS, MOST_WITHOUT = 1.0, 3


class Held(Struct, frozen=True, eq=False):
    """What came of solving again.

    ``programme`` holds the tangents beside all other rules, and ``optimum`` is its
    proved answer; both are None where no formula that holds every window was found.
    ``nearest`` is then the best second figure reached for each watched rule.
    """

    programme: Programme | None
    optimum: Optimum | None
    rounds: int
    starts: int
    nearest: Floats | None = None


def hold(
    programme: Programme,
    optimum: Optimum,
    opinion: Opinion,
    which: Sequence[Watched],
    near: Sequence[Floats] = (),
) -> Held:
    """Return the best formula found whose windows hold by the second opinion.

    Parameters
    ----------
    programme, optimum
        The question and its answer by straight sums.
    which : sequence of Watched
        The windows to hold.
    near : sequence of amounts
        Formulas that held the windows of a question much like this one: where one of
        them leads to an answer, no other start is tried.
    """
    search = _Search(programme, opinion, which)
    for start in near:
        search.descend(start)
    for start in search.starts(optimum.amounts) if not search.kept else ():
        search.descend(start)
    for held, _ in search.kept:
        found = attempted(held)
        if found is not None and search.all_hold(found.amounts):
            return Held(held, found, search.rounds, search.begun)
    return Held(None, None, search.rounds, search.begun, search.nearest)


class _Search:
    """The rounds from every start, and what they came to.

    ``kept`` are the formulas that hold the windows, each better than those behind it.
    Rounds are not proved: only where they end is, when it is told.
    """

    def __init__(
        self, programme: Programme, opinion: Opinion, which: Sequence[Watched]
    ) -> None:
        self.opinion, self.which = opinion, tuple(which)
        self.programme = known_only(programme, opinion)
        self.rounds = self.begun = 0
        self._been: set[bytes] = set()
        self._melts = np.max([opinion.mask(each.part) for each in which], axis=0)
        self._with_more = WithMore(self.programme)
        self.kept: list[tuple[Programme, Unproved]] = []
        self.nearest: Floats | None = None

    # -- starts ------------------------------------------------------------------

    def starts(self, first: Floats) -> Iterator[Floats]:
        """Yield formulas to begin from; the later ones only where they exist."""
        for part in MARGINS:
            safe = self._with_margins(part)
            if safe is not None:
                yield safe
                yield (first + safe) / 2.0
                break
        yield first
        nearest = self._nearest(first)
        if nearest is not None:
            yield nearest
        if self.kept:
            yield from self._without(self.kept[0][1].amounts)

    def _without(self, amounts: Floats) -> Iterator[Floats]:
        """Yield the answers without each of the butters that a formula leans on."""
        programme, known = self.programme, self.opinion.catalogue.ingredients
        keys = programme.ingredients
        order = np.argsort(-amounts[: len(keys)], kind="stable").tolist()
        used = [n for n in order if known[keys[n]].category.endswith("butter")]
        for number in [n for n in used if amounts[n] > LEANS][:MOST_WITHOUT]:
            columns = list(programme.columns)
            columns[number] = replace(columns[number], upper=0.0)
            found = self._solved(replace(programme, columns=tuple(columns)))
            if found is not None:
                yield found

    def _with_margins(self, part: float) -> Floats | None:
        """Return the answer with room kept on the straight sums; None if none is."""
        rules = list(self.programme.rules)
        for each in self.which:
            if rules[each.number].side == "min":
                rule = rules[each.number]
                room = part * margin(each.at, 50.0)
                rules[each.number] = rule.moved(rule.limit + room)
        return self._solved(replace(self.programme, rules=tuple(rules)))

    def _nearest(self, start: Floats) -> Floats | None:
        """Return the formula that misses the windows least, rounds of its own."""
        amounts = start
        way: list[Floats] = []
        for _ in range(MOST_ROUNDS):
            tangents = self._tangents(amounts)
            if tangents is None:
                return None
            self.rounds += 1
            found = self._with_more.instead(giving(self.programme, tangents))
            if found is None:
                return None
            moved = found.amounts[: start.size]
            if np.abs(moved - amounts).max() < 1e-4:
                break
            amounts = moved
            before = [n for n, been in enumerate(way) if np.array_equal(been, moved)]
            if before:  # it goes round: where it would be after all rounds
                around = way[before[0] :]
                amounts = around[(MOST_ROUNDS - 1 - before[0]) % len(around)]
                break
            way.append(moved)
        figures = self._figures(amounts)
        if figures is not None:
            self.nearest = figures
        return amounts

    def _solved(self, programme: Programme) -> Floats | None:
        found = self._with_more.instead(programme)
        self.rounds += 1
        return None if found is None else found.amounts

    # -- rounds ------------------------------------------------------------------

    def descend(self, start: Floats) -> None:
        """Solve with tangents from a start until nothing is gained."""
        self.begun += 1
        amounts = start
        last: Unproved | None = None
        cuts: tuple[Rule, ...] = ()
        for _ in range(MOST_ROUNDS):
            tangents = self._tangents(amounts)
            if tangents is None:
                return
            # A "most" window needs every tangent so far; a "least" one, the last.
            cuts += tuple(rule for rule in tangents if rule.side == "max")
            floors = tuple(rule for rule in tangents if rule.side == "min")
            self.rounds += 1
            programme, found = self._with_more.beside((*floors, *numbered(cuts)))
            if found is None:
                return
            amounts = found.amounts
            if self.all_hold(amounts):
                melts = amounts[: self._melts.size] * self._melts
                place = np.round(melts, PLACES).tobytes()
                if place in self._been:
                    return
                self._been.add(place)
                self._keep(programme, found)
                if last is not None and not less(found.best, last.best):
                    return
                last = found

    def _tangents(self, amounts: Floats) -> tuple[Rule, ...] | None:
        """Return the windows' tangents at a formula; None where none can be had."""
        found = []
        for each in self.which:
            rule = self.programme.rules[each.number]
            tangents = self.opinion.tangents(rule, each, amounts)
            if not tangents:
                return None
            found += [tangent_rule(rule, row) for row, _ in tangents]
        return tuple(numbered(found))

    def _figures(self, amounts: Floats) -> Floats | None:
        found = []
        for each in self.which:
            rule = self.programme.rules[each.number]
            reading = self.opinion.read(rule, each, amounts)
            if reading is None:
                return None
            found.append(reading.value)
        return np.array(found)

    def all_hold(self, amounts: Floats) -> bool:
        """Whether a formula holds every window by the second opinion."""
        for each in self.which:
            rule = self.programme.rules[each.number]
            if not self.opinion.holds(rule, self.opinion.read(rule, each, amounts)):
                return False
        return True

    def _keep(self, programme: Programme, found: Unproved) -> None:
        if not self.kept or less(found.best, self.kept[0][1].best):
            self.kept.insert(0, (programme, found))
