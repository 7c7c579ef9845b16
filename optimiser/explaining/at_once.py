"""A first answer while a limit is being moved, before the second opinion is asked."""

from __future__ import annotations

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme, Rule
from optimiser.domain.scenario import Scenario
from optimiser.explaining.answering import NoFormula, best, questions, reshaped
from optimiser.explaining.opinions import Solved

__all__ = ["at_once"]


def at_once(
    scenario: Scenario, catalogue: Catalogue, before: Programme | None = None
) -> Solved | NoFormula:
    """Return a proved answer by straight sums, in amounts that are not rounded.

    Parameters
    ----------
    before : Programme, optional
        What was asked of the scenario before a limit moved. The second opinion's
        straight rules in it move with their windows and count as they stand, so that
        the answer is near the one that the opinion will come to; where no formula
        keeps them, they are let go.

    Raises
    ------
    InputError
        If an ingredient of the base lacks a price or a figure that a rule needs.
    """
    asked = questions(scenario, catalogue)
    if before is not None:
        near = reshaped(asked, lambda each: _with_opinions(each.programme, before))
        found = best(near, catalogue, hear=False)
        if isinstance(found, Solved):
            return found
    return best(asked, catalogue, hear=False)


def _with_opinions(programme: Programme, before: Programme) -> Programme:
    """Return a programme with the opinions of one that was asked before it."""
    if programme.columns != before.columns:
        return programme
    now = {rule.id: rule for rule in programme.rules}
    was = {rule.id: rule for rule in before.rules}
    moved: list[Rule] = []
    for rule in before.rules:
        window = rule.moves_with
        if rule.kind == "opinion" and window in now and window in was:
            by = now[window].limit - was[window].limit
            moved.append(rule.moved(rule.limit + by) if by else rule)
    return replace(programme, rules=(*programme.rules, *moved))
