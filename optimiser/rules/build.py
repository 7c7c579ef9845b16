"""The whole list of rules, in the order a maker reads them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme, Rule
from optimiser.domain.scenario import Scenario
from optimiser.rules import (
    bands,
    choices,
    closeness,
    envelope,
    exclusions,
    goals,
    guards,
    law,
    limits,
    ratios,
    stock,
    total,
    windows,
)
from optimiser.rules.pool import choose
from optimiser.rules.space import Space

__all__ = ["build", "part_amounts"]

KINDS: tuple[Callable[[Space], Iterable[Rule]], ...] = (
    total.rules,
    bands.rules,
    limits.rules,
    law.rules,
    windows.rules,
    guards.rules,
    ratios.rules,
    exclusions.rules,
    choices.rules,
    stock.rules,
    envelope.rules,
    closeness.rules,
)


def build(
    scenario: Scenario, catalogue: Catalogue, chosen: tuple[str, ...] | None = None
) -> Programme:
    """Return the programme of a scenario.

    Parameters
    ----------
    chosen : tuple of ingredient keys, optional
        The ingredients to write it over; by default those that may be considered.

    Raises
    ------
    InputError
        If the base lacks a price or a figure that a rule needs.
    """
    left_out: dict[str, str] = {}
    if chosen is None:
        chosen, left_out = choose(scenario, catalogue)
    space = Space(scenario, catalogue, chosen)
    rules = tuple(
        rule
        for rule in _numbered(rule for kind in KINDS for rule in kind(space))
        if rule.id not in scenario.ignore
    )
    wanted = goals.goals(space)
    return Programme(
        ingredients=space.ingredients,
        columns=tuple(space.columns),
        rules=rules,
        links=tuple(space.links),
        goals=wanted,
        left_out=left_out,
    )


def part_amounts(
    scenario: Scenario, catalogue: Catalogue, formula: dict[str, float], part: str
) -> dict[str, float]:
    """Return the ingredients of a part that a formula uses, in percent."""
    space = Space(scenario, catalogue, tuple(formula))
    return {
        key: formula[key]
        for key in (space.ingredients[i] for i in space.members(part))
        if formula[key] > 0.0
    }


def _numbered(rules: Iterable[Rule]) -> Iterator[Rule]:
    """Give a rule whose id is taken already a number, so that ids are unique."""
    seen: dict[str, int] = {}
    for rule in rules:
        seen[rule.id] = seen.get(rule.id, 0) + 1
        times = seen[rule.id]
        yield rule if times == 1 else replace(rule, id=f"{rule.id} ({times})")
