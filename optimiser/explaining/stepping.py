"""The answer in whole steps: every rule still kept, and what the steps cost."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import permutations

import numpy as np
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.exclusions import listed_in
from optimiser.domain.material import Ingredient
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Steps
from optimiser.errors import ProofError
from optimiser.explaining.answer import SecondOpinion
from optimiser.explaining.opinions import Solved, Stepped, told
from optimiser.explaining.second_opinion import (
    Opinion,
    tangent_rule,
    watched,
    with_rules,
)
from optimiser.rules import at_their_least
from optimiser.rules.build import numbered
from optimiser.rules.steps import (
    can_be_met,
    in_whole_steps,
    off_its_step,
    step_of,
)
from optimiser.solving import Optimum, attempted, within
from optimiser.solving.arrays import Arrays, goal_rows
from optimiser.solving.proof import worst_violation

__all__ = ["held", "stepped"]

MOST_ROUNDS = 6
# What a formula in steps is worth searching for, in seconds and in nodes of the tree.
SECONDS, NODES = 4.0, 20_000
SAME = 1e-9  # of a step
MORE = 1.001  # times what a step counts in the largest line, in what comes in
MOST_MOVES = 20  # from the formula that a search came upon to the one that is taken
# Coarser steps are not offered where the asked ones fit nothing; these are, in turn.
FINER = (0.25, 0.1, 0.05, 0.01)


def stepped(
    solved: Solved,
    catalogue: Catalogue,
    *,
    nodes: float = NODES,
    offer: bool = True,
) -> Solved:
    """Return an answer in the steps that its scenario asks for.

    The best formula in whole steps that keeps every rule, its windows by the second
    opinion where that was asked; first with no exception, then with one ingredient
    that takes what is left to 100. Prices stay those of the answer without steps.
    Where no formula fits, the answer stays as it is, and a finer step that would do is
    told. A window that is all but exact is met in steps by luck alone, and a search
    would try all there is: so it ends after a while, which is told too.

    Parameters
    ----------
    nodes : float
        How large the trees that are searched may grow, together.
    offer : bool
        Whether a finer step is looked for where these fit nothing.
    """
    asked = solved.scenario.steps
    if asked is None:
        return solved
    with within(SECONDS, nodes) as patience:
        found = _in_steps(solved, catalogue)
        if found is None and offer and not patience.cut:
            found = _in_finer_steps(solved, asked, catalogue)
    steps = found or Stepped(None)
    made = replace(solved, steps=replace(steps, cut=patience.cut))
    if steps.optimum is None:
        return made
    amounts = _own(steps.optimum.amounts, solved)
    now = told(solved.opinion, solved.programme, amounts)
    binding = solved.scenario.second_opinion
    return replace(made, said=_retold(solved.said, now, binding=binding))


def _retold(
    before: SecondOpinion | None, now: SecondOpinion | None, *, binding: bool
) -> SecondOpinion | None:
    """Return the second opinion on the formula in steps, and how it was come to.

    A window may hold there that did not before, and what too little is known of may
    not be in the formula that is made.
    """
    if before is None or now is None:
        return before
    missed = now.outcome == "told" and binding
    if before.outcome == "held" or (missed and before.outcome == "not reached"):
        return replace(before, lines=now.lines)
    return replace(now, outcome="not reached") if missed else now


def _in_finer_steps(
    solved: Solved, asked: Steps, catalogue: Catalogue
) -> Stepped | None:
    """Return the coarsest of some finer steps in which there is a formula."""
    for step in FINER:
        if step < asked.step:
            own = {what: min(own, step) for what, own in asked.own.items()}
            finer = replace(asked, step=step, own=own)
            scenario = replace(solved.scenario, steps=finer)
            if _in_steps(replace(solved, scenario=scenario), catalogue) is not None:
                return Stepped(None, finer=step)
    return None


def _in_steps(solved: Solved, catalogue: Catalogue) -> Stepped | None:
    whole = can_be_met(solved.programme, solved.scenario, catalogue)
    for rest in (False, True) if whole else (True,):
        programme = in_whole_steps(
            solved.programme, solved.scenario, catalogue, rest=rest
        )
        found = held(programme, solved)
        if found is not None:
            ties = _Ties(programme, found, solved, catalogue)
            near = ties.settled()
            takes = _taking_the_rest(programme, near)
            return Stepped(near, takes, as_good=ties.as_good(near.amounts))
    return None


class _Ties:
    """What a search leaves open: formulas in steps that do as well as the one it found.

    It takes whichever it comes upon, and any other row of the question may move that.
    So steps are exchanged, two ingredients at a time, as far as every aim, every rule
    and the second opinion are kept: towards the base, each ingredient counted by its
    own share of it, and what comes in a little more than the largest; without a base
    towards the answer without steps. What the base has not gives way to what of its
    kind is usual in such an amount, then to what is cheaper, as in a substitute, or
    else comes before it by its key, as columns do: no row of a table decides.
    """

    def __init__(
        self,
        programme: Programme,
        found: Optimum,
        solved: Solved,
        catalogue: Catalogue,
    ) -> None:
        self.programme, self.found = programme, found
        self.solved, self.catalogue = solved, catalogue
        self.goals = goal_rows(programme.goals, len(programme.columns))
        # An aim that leaves room to the others may take it for this too.
        pairs = zip(found.best, programme.goals, strict=True)
        self.tops = np.array([least + goal.slack for least, goal in pairs])
        close = self.goals[[goal.slack == 0.0 for goal in programme.goals]]
        self.counted = list(map(tuple, close.T.tolist()))  # by aims without room
        keys, base = programme.ingredients, solved.scenario.base
        counts = {
            column.key: number
            for number, column in enumerate(programme.columns)
            if column.kind == "steps"
        }
        asked = solved.scenario.steps
        self.step = {
            column: (counts[key], step_of(asked, key, self._of(column).category))
            for column, key in enumerate(keys)
            if asked is not None and key in counts
        }
        wanted = solved.optimum.amounts
        self.wanted = np.array([base.get(x, 0.0) for x in keys]) if base else wanted
        self.held = {
            each
            for key in base
            for each in listed_in(catalogue, key, solved.scenario.markets)
        }
        self.weight = np.ones(len(keys))
        if base:
            own = np.where(self.wanted > 0.0, self.wanted, self.wanted.max() / MORE)
            self.weight = 1.0 / own
        self.used = [
            (number, keys.index(column.key))
            for number, column in enumerate(programme.columns)
            if column.kind == "used"
        ]

    def _of(self, column: int) -> Ingredient:
        return self.catalogue.ingredients[self.programme.ingredients[column]]

    def settled(self) -> Optimum:
        """Return the formula that is taken of those that tie."""
        amounts = self.found.amounts
        for _ in range(MOST_MOVES):
            moved = next(self._better(amounts), None)
            if moved is None:
                break
            amounts = moved
        return replace(self.found, amounts=amounts)

    def as_good(self, amounts: Floats) -> tuple[tuple[str, str], ...]:
        """Return what could be had for what the base has not, each by its key."""
        keys = self.programme.ingredients
        return tuple(
            (keys[one], keys[other])
            for one, other, whole in self._instead(amounts)
            if self._exchanged(amounts, one, other, whole) is not None
        )

    def _better(self, amounts: Floats) -> Iterator[Floats]:
        """Yield formulas that are preferred to one and do as well."""
        for exchange in (*self._nearer(amounts), *self._likelier(amounts)):
            tried = self._exchanged(amounts, *exchange)
            if tried is not None:
                yield tried

    def _exchanged(
        self, amounts: Floats, one: int, other: int, whole: int
    ) -> Floats | None:
        """Return a formula with more of one for another, if it does as well."""
        (first, step), (second, _) = self.step[one], self.step[other]
        tried = amounts.copy()
        tried[[one, first]] += (whole * step, whole)
        tried[[other, second]] -= (whole * step, whole)
        tried = self._completed(tried)
        then, now = self.goals @ tried, self.goals @ self._completed(amounts)
        now = np.maximum(now, self.tops)
        as_well = np.all(then <= now + SAME * np.maximum(1.0, np.abs(now)))
        arrays = self.found.session.arrays
        keeps = as_well and _keeps(self.programme, arrays, tried, self.solved)
        return tried if keeps else None

    def _nearer(self, amounts: Floats) -> Iterator[tuple[int, int, int]]:
        """Yield what takes so many steps of what other, the most gained first."""
        found = []
        likely = [x for x in self.step if self.wanted[x] > 0.0 or amounts[x] > 0.0]
        for one, other in permutations(likely, 2):
            step, same = self.step[one][1], self.step[other][1]
            if step != same or amounts[other] < step - SAME or self._differ(one, other):
                continue
            pair = [one, other]
            off, weight = amounts[pair] - self.wanted[pair], self.weight[pair]
            now = weight @ np.abs(off)
            whole = max(1, math.floor(min(-off[0], off[1]) / step + SAME))
            then = weight @ np.abs(off + whole * np.array([step, -step]))
            if then < now - SAME:
                found.append((then - now, one, other, whole))
        yield from (each[1:] for each in sorted(found))

    def _likelier(self, amounts: Floats) -> Iterator[tuple[int, int, int]]:
        """Yield what may come in for what the base has not, the first choice first."""
        for one, other, whole in self._instead(amounts):
            percent = float(amounts[other])
            if self._place(one, percent) < self._place(other, percent):
                yield one, other, whole

    def _instead(self, amounts: Floats) -> Iterator[tuple[int, int, int]]:
        """Yield what is like something that the base has not, and that with its steps.

        The best first: within common practice, then the cheapest, then by its key.
        """
        if not self.solved.scenario.base:
            return
        for other, (count, step) in self.step.items():
            whole = round(amounts[count])
            if whole < 1 or self.wanted[other] > 0.0:
                continue
            percent = float(amounts[other])
            likes = [
                one
                for one, (_, same) in self.step.items()
                if amounts[one] <= 0.0
                and self.wanted[one] <= 0.0
                and same == step
                and self._is_like(one, other)
                and not self._differ(one, other)
            ]
            for one in sorted(likes, key=lambda x: self._place(x, percent)):
                yield one, other, whole

    def _place(self, column: int, percent: float) -> tuple[bool, bool, float, int]:
        """Return what tells which of several ingredients is taken for so much.

        What brings an allergen that a list names and the base has not comes last, then
        what goes beyond common practice, then what is dearer.
        """
        key = self.programme.ingredients[column]
        brings = listed_in(self.catalogue, key, self.solved.scenario.markets)
        price = self.catalogue.price_per_kg(key)
        habits = (
            each.high is not None and percent > each.high
            for each in self.catalogue.limits
            if each.ingredient == key and each.whose == "practice"
        )
        price = math.inf if price is None else price
        return bool(brings - self.held), any(habits), price, column

    def _is_like(self, one: int, other: int) -> bool:
        first, second = self._of(one), self._of(other)
        return (first.category, first.kind) == (second.category, second.kind)

    def _differ(self, one: int, other: int) -> bool:
        """Whether an aim without room counts the one otherwise, by itself."""
        return self.counted[one] != self.counted[other]

    def _completed(self, amounts: Floats) -> Floats:
        """Return amounts with the helping columns that are told by them."""
        whole = amounts.copy()
        for number, column in self.used:
            whole[number] = float(whole[column] > SAME)
        return at_their_least(self.programme, whole)


def _keeps(
    programme: Programme, arrays: Arrays, amounts: Floats, solved: Solved
) -> bool:
    """Whether a formula keeps every rule, and the windows that the answer's keeps."""
    try:
        worst_violation(programme, arrays, amounts)
    except ProofError:
        return False
    said = told(solved.opinion, solved.programme, _own(amounts, solved))
    as_well = {"agrees", solved.outcome}
    return said is None or said.outcome in as_well or not _keeps_windows(solved)


def _keeps_windows(solved: Solved) -> bool:
    """Whether an answer holds its windows by the second opinion, as it was asked to.

    Of one that too little is known of, what it is put into steps as may tell more.
    """
    holds = solved.outcome in {"agrees", "held", "unknown"}
    return holds and solved.scenario.second_opinion


def held(programme: Programme, solved: Solved) -> Optimum | None:
    """Return the best formula of a programme whose windows hold by the second opinion.

    A tangent at each formula that breaks one joins the rules. None where no formula
    was found; it counts only where the answer's own windows hold by it.

    Parameters
    ----------
    programme : Programme
        That of the answer, with more columns behind its own and more rules.
    """
    keeps = _keeps_windows(solved)
    first = None
    for _ in range(MOST_ROUNDS):
        found = attempted(programme)
        if found is None or solved.opinion is None or not keeps:
            break
        said = told(solved.opinion, solved.programme, _own(found.amounts, solved))
        if said is None or said.outcome != "told":
            return found
        first = first or found
        programme = _with_tangents(programme, solved.opinion, found.amounts, solved)
    else:
        found = None
    # Of the answer itself nothing is known: one that breaks a window is no worse.
    return first if found is None and solved.outcome == "unknown" else found


def _own(amounts: Floats, solved: Solved) -> Floats:
    """Return the amounts of the columns of the answer without steps."""
    return amounts[: len(solved.programme.columns)]


def _with_tangents(
    programme: Programme, opinion: Opinion, amounts: Floats, solved: Solved
) -> Programme:
    more = []
    for each in watched(opinion.scenario, solved.programme):
        rule = programme.rules[each.number]
        tangents = opinion.tangents(rule, each, amounts)
        more += [tangent_rule(rule, row) for row, _ in tangents]
    whole = with_rules(programme, more)
    return replace(whole, rules=tuple(numbered(whole.rules)))


def _taking_the_rest(programme: Programme, found: Optimum) -> str | None:
    """Return the ingredient that is off its step, if one is."""
    for number, column in enumerate(programme.columns):
        if off_its_step(column, found.amounts[number]):
            return column.key
    return None
