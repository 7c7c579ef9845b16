"""The answer in whole steps: every rule still kept, and what the steps cost."""

from __future__ import annotations

from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme
from optimiser.explaining.opinions import Solved, Stepped, told
from optimiser.explaining.second_opinion import (
    Opinion,
    tangent_rule,
    watched,
    with_rules,
)
from optimiser.rules.build import numbered
from optimiser.rules.steps import in_whole_steps
from optimiser.solving import Optimum, attempted

__all__ = ["held", "stepped"]

MOST_ROUNDS = 6
# Coarser steps are not offered where the asked ones fit nothing; these are, in turn.
FINER = (0.25, 0.1, 0.05, 0.01)


def stepped(solved: Solved, catalogue: Catalogue) -> Solved:
    """Return an answer in the steps that its scenario asks for.

    The best formula in whole steps that keeps every rule, its windows by the second
    opinion where that was asked; first with no exception, then with one ingredient
    that takes what is left to 100. Prices stay those of the answer without steps.
    Where no formula fits, the answer stays as it is, and a finer step that would do is
    told.
    """
    asked = solved.scenario.steps
    if asked is None:
        return solved
    found = _in_steps(solved, catalogue)
    if found is not None:
        return replace(solved, steps=found)
    for step in FINER:
        if step < asked.step:
            own = {what: min(own, step) for what, own in asked.own.items()}
            finer = replace(asked, step=step, own=own)
            scenario = replace(solved.scenario, steps=finer)
            if _in_steps(replace(solved, scenario=scenario), catalogue) is not None:
                return replace(solved, steps=Stepped(None, None, step))
    return replace(solved, steps=Stepped(None, None, None))


def _in_steps(solved: Solved, catalogue: Catalogue) -> Stepped | None:
    for rest in (False, True):
        programme = in_whole_steps(
            solved.programme, solved.scenario, catalogue, rest=rest
        )
        found = held(programme, solved)
        if found is not None:
            return Stepped(found, _taking_the_rest(programme, found), None)
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
        if column.kind == "parts" and found.amounts[number] > 0.5:
            return column.key
    return None
