"""The answer in whole steps: every rule still kept, and what the steps cost."""

from __future__ import annotations

from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Steps
from optimiser.explaining.opinions import Solved, Stepped, told
from optimiser.explaining.second_opinion import (
    Opinion,
    tangent_rule,
    watched,
    with_rules,
)
from optimiser.rules.build import numbered
from optimiser.rules.steps import can_be_met, in_whole_steps, off_its_step
from optimiser.solving import Optimum, attempted, within

__all__ = ["held", "stepped"]

MOST_ROUNDS = 6
# What a formula in steps is worth searching for, in seconds and in nodes of the tree.
SECONDS, NODES = 4.0, 20_000
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
            return Stepped(found, _taking_the_rest(programme, found))
    return None


def held(programme: Programme, solved: Solved) -> Optimum | None:
    """Return the best formula of a programme whose windows hold by the second opinion.

    A tangent at each formula that breaks one joins the rules. None where no formula
    was found; it counts only where the answer's own windows hold by it.

    Parameters
    ----------
    programme : Programme
        That of the answer, with more columns behind its own and more rules.
    """
    keeps = solved.outcome in {"agrees", "held"} and solved.scenario.second_opinion
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
