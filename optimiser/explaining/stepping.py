"""The answer in whole steps: every rule still kept, and what the steps cost."""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Steps
from optimiser.errors import ProofError
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
    return replace(solved, steps=replace(steps, cut=patience.cut))


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
            near = _nearest_of_ties(programme, found, solved, catalogue)
            return Stepped(near, _taking_the_rest(programme, near))
    return None


def _nearest_of_ties(
    programme: Programme, found: Optimum, solved: Solved, catalogue: Catalogue
) -> Optimum:
    """Return a formula in steps, nearer to the one without where others do as well.

    A search takes whichever it comes upon of those that tie. Two ingredients that count
    the same in every aim (sugar and salt of one price) are exchanged as far as every
    rule, and the second opinion, is kept.
    """
    asked, wanted = solved.scenario.steps, solved.optimum.amounts
    arrays, amounts = found.session.arrays, found.amounts
    if asked is None:
        return found
    goals = goal_rows(programme.goals, len(programme.columns))
    counts = {
        column.key: number
        for number, column in enumerate(programme.columns)
        if column.kind == "steps"
    }
    by_step = {}
    for column, key in enumerate(programme.ingredients):
        step = step_of(asked, key, catalogue.ingredients[key].category)
        if key in counts and abs(wanted[column] - amounts[column]) >= step:
            by_step[column] = counts[key], step
    for one, other in permutations(by_step, 2):
        (first, step), (second, same) = by_step[one], by_step[other]
        room = min(wanted[one] - amounts[one], amounts[other] - wanted[other])
        whole = math.floor(room / step + SAME)
        if whole < 1 or step != same or np.any(goals[:, one] != goals[:, other]):
            continue
        tried = amounts.copy()
        tried[[one, first]] += (whole * step, whole)
        tried[[other, second]] -= (whole * step, whole)
        tried = at_their_least(programme, tried)
        if _keeps(programme, arrays, tried, solved):
            amounts = tried
    return replace(found, amounts=amounts)


def _keeps(
    programme: Programme, arrays: Arrays, amounts: Floats, solved: Solved
) -> bool:
    """Whether a formula keeps every rule, and the windows that the answer's keeps."""
    try:
        worst_violation(programme, arrays, amounts)
    except ProofError:
        return False
    said = told(solved.opinion, solved.programme, _own(amounts, solved))
    return said is None or said.outcome == "agrees" or not _keeps_windows(solved)


def _keeps_windows(solved: Solved) -> bool:
    """Whether an answer holds its windows by the second opinion, as it was asked to."""
    return solved.outcome in {"agrees", "held"} and solved.scenario.second_opinion


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
    for _ in range(MOST_ROUNDS):
        found = attempted(programme)
        if found is None or solved.opinion is None or not keeps:
            return found
        said = told(solved.opinion, solved.programme, _own(found.amounts, solved))
        if said is None or said.outcome == "agrees":
            return found
        programme = _with_tangents(programme, solved.opinion, found.amounts, solved)
    return None


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
