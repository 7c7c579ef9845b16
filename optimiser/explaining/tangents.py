"""Solving again with tangents until the second opinion's windows hold.

Solid fat by the model is convex in the amounts (nearly, by weight), so its tangent at
any formula lies below it elsewhere: a "least" window on the tangent is a straight rule
that keeps the model's own, which each answer is checked for all the same. Each round
takes the tangent at the last formula (successive linear programming; Griffith and
Stewart, Management Science 7:379, 1961). The end depends on where one starts, so
several starts are tried and the best is kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from optimiser.domain.rule import Column, Goal, Programme, Row, Rule
from optimiser.explaining.second_opinion import SECOND, Opinion, Watched
from optimiser.rules.build import numbered
from optimiser.rules.shares import with_limit
from optimiser.science.lauric import margin
from optimiser.solving import Infeasible, Optimum, optimise

__all__ = ["Held", "beside", "hold", "is_better"]

Floats = NDArray[np.float64]

MOST_ROUNDS = 12  # from one start
SETTLED = 1e-5  # of an aim: less gain than that ends a start
# A margin on the straight sum, in parts of what usually covers nine in ten blends.
MARGINS = (1.0, 0.5)
# Points from its limit within which a window by the second opinion may come to hold.
CLOSE = 15.0


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
    for start in search.starts(optimum.amounts) if search.best is None else ():
        search.descend(start)
    best = search.best
    if best is None:
        return Held(None, None, search.rounds, search.begun, search.nearest)
    return Held(best[0], best[1], search.rounds, search.begun)


class _Search:
    """The rounds from every start, and the best formula so far."""

    def __init__(
        self, programme: Programme, opinion: Opinion, which: Sequence[Watched]
    ) -> None:
        self.opinion, self.which = opinion, tuple(which)
        self.programme = _known_only(programme, opinion)
        self.rounds = self.begun = 0
        self.best: tuple[Programme, Optimum] | None = None
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

    def _with_margins(self, part: float) -> Floats | None:
        """Return the answer with room kept on the straight sums; None if none is."""
        rules = list(self.programme.rules)
        for each in self.which:
            if rules[each.number].side == "min":
                rule = rules[each.number]
                room = part * margin(each.at, 50.0)
                rules[each.number] = with_limit(rule, rule.limit + room)
        return self._solved(replace(self.programme, rules=tuple(rules)))

    def _nearest(self, start: Floats) -> Floats | None:
        """Return the formula that misses the windows least, rounds of its own."""
        amounts = start
        for _ in range(MOST_ROUNDS):
            tangents = self._tangents(amounts)
            if tangents is None:
                return None
            self.rounds += 1
            found = optimise(_giving(self.programme, tangents))
            if isinstance(found, Infeasible):
                return None
            moved = found.amounts[: start.size]
            if np.abs(moved - amounts).max() < 1e-4:
                break
            amounts = moved
        figures = self._figures(amounts)
        if figures is not None:
            self.nearest = figures
        return amounts

    def _solved(self, programme: Programme) -> Floats | None:
        found = optimise(programme)
        self.rounds += 1
        return None if isinstance(found, Infeasible) else found.amounts

    # -- rounds ------------------------------------------------------------------

    def descend(self, start: Floats) -> None:
        """Solve with tangents from a start until nothing is gained."""
        self.begun += 1
        amounts, last = start, None
        cuts: tuple[Rule, ...] = ()
        for _ in range(MOST_ROUNDS):
            tangents = self._tangents(amounts)
            if tangents is None:
                return
            # A "most" window needs every tangent so far; a "least" one, the last.
            cuts += tuple(rule for rule in tangents if rule.side == "max")
            floors = tuple(rule for rule in tangents if rule.side == "min")
            self.rounds += 1
            tried = _with(self.programme, (*floors, *numbered(cuts)))
            found = optimise(tried)
            if isinstance(found, Infeasible):
                return
            amounts = found.amounts
            if self._all_hold(amounts):
                self._keep(tried, found)
                if last is not None and not is_better(found, last):
                    return
                last = found

    def _tangents(self, amounts: Floats) -> tuple[Rule, ...] | None:
        """Return the windows' tangents at a formula; None where none can be had."""
        found = []
        for each in self.which:
            rule = self.programme.rules[each.number]
            tangent = self.opinion.tangent(rule, each, amounts)
            if tangent is None:
                return None
            found.append(_tangent_rule(rule, tangent[0]))
        return tuple(found)

    def _figures(self, amounts: Floats) -> Floats | None:
        found = []
        for each in self.which:
            rule = self.programme.rules[each.number]
            reading = self.opinion.read(rule, each, amounts)
            if reading is None:
                return None
            found.append(reading.value)
        return np.array(found)

    def _all_hold(self, amounts: Floats) -> bool:
        for each in self.which:
            rule = self.programme.rules[each.number]
            if not self.opinion.holds(rule, self.opinion.read(rule, each, amounts)):
                return False
        return True

    def _keep(self, programme: Programme, found: Optimum) -> None:
        if self.best is None or is_better(found, self.best[1]):
            self.best = (programme, found)


def is_better(one: Optimum, other: Optimum) -> bool:
    """Whether an answer serves the aims better, the first that differs deciding."""
    for mine, theirs in zip(one.best, other.best, strict=True):
        if abs(mine - theirs) > SETTLED * max(1.0, abs(theirs)):
            return mine < theirs
    return False


def beside(
    programme: Programme, amounts: Floats, opinion: Opinion, which: Sequence[Watched]
) -> Programme:
    """Return a programme with the tangents at an answer that holds the windows.

    They cost the answer nothing, and end its prices where the second opinion would
    begin to hold. Windows that it sees far from their limits have none.
    """
    found = []
    for each in which:
        rule = programme.rules[each.number]
        tangent = opinion.tangent(rule, each, amounts)
        if tangent is None:
            continue
        own = _tangent_rule(rule, tangent[0])
        slack = own.slack(amounts)
        if slack is not None and slack < CLOSE:
            # The windows hold to within a tolerance, which the answer may have used.
            sign = 1.0 if rule.side == "min" else -1.0
            found.append(replace(own, limit=own.limit + sign * min(0.0, slack)))
    return _with(programme, found) if found else programme


def _tangent_rule(rule: Rule, row: Row) -> Rule:
    return replace(
        rule,
        id=f"{rule.id}/{SECOND}",
        sentence=f"{rule.sentence}, by the {SECOND}",
        kind="opinion",
        amounts=row,
        owner="model",
        evidence="estimated",
        moves_with=rule.id,
    )


def _with(programme: Programme, more: Sequence[Rule]) -> Programme:
    return replace(programme, rules=(*programme.rules, *more))


def _known_only(programme: Programme, opinion: Opinion) -> Programme:
    """Return the programme without butters that the second opinion cannot judge."""
    out = [
        number
        for number, key in enumerate(programme.ingredients)
        if key in opinion.kitchen.unknown_fats
    ]
    if not out:
        return programme
    names = [
        opinion.catalogue.ingredients[programme.ingredients[number]].name
        for number in out
    ]
    rule = Rule(
        id=f"{SECOND}/known butters only",
        sentence=f"no {', '.join(names)}, for the {SECOND} knows too little of it",
        kind="opinion",
        side="max",
        limit=0.0,
        unit="%",
        amounts=Row.of((number, 1.0) for number in out),
        per_constant=1.0,
        owner="model",
        origin=programme.rules[0].origin,
    )
    return _with(programme, (rule,))


def _giving(programme: Programme, tangents: Sequence[Rule]) -> Programme:
    """Return the question of missing the windows least, each in its own measure."""
    columns = list(programme.columns)
    rules = list(programme.rules)
    prices = []
    for rule in tangents:
        give = len(columns)
        columns.append(Column("given", rule.id))
        sign = 1.0 if rule.side == "min" else -1.0
        pairs = zip(rule.amounts.columns, rule.amounts.coefficients, strict=True)
        rules.append(replace(rule, amounts=Row.of([*pairs, (give, sign)])))
        prices.append((give, 0.01))
    goal = Goal("misses", "points", Row.of(prices))
    return replace(programme, columns=tuple(columns), rules=tuple(rules), goals=(goal,))
