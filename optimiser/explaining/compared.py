"""What the formula that is shown comes to beside others: without steps, without a wish.

A formula in whole steps is not the one that prices are told of; and what keeps an
ingredient out altogether has no price while it does. Both are told by solving again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.exclusions import Excluded
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Exclusions, Scenario
from optimiser.errors import InputError
from optimiser.explaining import facts
from optimiser.explaining.answer import RuleLine
from optimiser.explaining.answering import NoFormula, answer
from optimiser.explaining.opinions import Solved
from optimiser.explaining.prices import is_binding
from optimiser.solving import CutShortError

__all__ = ["LetIn", "Reached", "holding", "standing", "without_each"]

MOST = 3  # exclusions: each is a question more
WITH_LISTS = ("allergens", "ingredients", "categories")


class Reached(Struct, frozen=True):
    """What a formula comes to.

    ``formula`` is percent by name; ``aims`` name, value and unit of each in order;
    ``cost_per_kg`` None where a price is not known, ``change`` points from the base by
    ingredient, None without one.
    """

    formula: Mapping[str, float]
    aims: tuple[tuple[str, float, str], ...]
    cost_per_kg: float | None
    change: float | None


class LetIn(Struct, frozen=True):
    """A rule that keeps something out, and what the question comes to without it.

    ``gone`` are names of what it keeps out of the base. ``standing`` is None where that
    was not found in the time for it, or cannot be told for a figure or a price lacks.
    """

    rule: Rule
    gone: tuple[str, ...]
    standing: Reached | None


def standing(solved: Solved, catalogue: Catalogue) -> Reached:
    """Return what an answer comes to as it is shown."""
    amounts = solved.amounts
    change = facts.change(amounts, solved.scenario, catalogue)
    return Reached(
        {catalogue.ingredients[key].name: each for key, each in amounts.items()},
        solved.aims,
        facts.cost_per_kg(amounts, catalogue),
        None if change is None else change.by_ingredient,
    )


def holding(lines: tuple[RuleLine, ...]) -> tuple[Rule, ...]:
    """Return the rules that are at their limit in the formula shown.

    But for what is pinned or kept out, and for what no maker set a limit of.
    """
    return tuple(
        line.rule
        for line in lines
        if is_binding(line.rule, line.slack)
        and line.rule.owner != "arithmetic"
        and line.rule.kind != "pin"
        and not line.rule.keeps_out
    )


def without_each(solved: Solved, catalogue: Catalogue) -> Iterator[LetIn]:
    """Yield what the same question comes to without each thing that is kept out.

    Those come first that something of the base has to go for. One that keeps nothing
    out which could be chosen is not asked about.
    """
    scenario, keys = solved.scenario, solved.programme.ingredients
    asked = []
    for rule in solved.programme.rules:
        if rule.excludes and rule.amounts.columns.size:
            out = [keys[int(column)] for column in rule.amounts.columns]
            out = [key for key in out if scenario.base.get(key)]
            asked.append((rule, tuple(catalogue.ingredients[x].name for x in out)))
    for rule, gone in sorted(asked, key=lambda each: not each[1])[:MOST]:
        if isinstance(rule.about, Excluded):
            let_in = _let_in(scenario, rule.about)
            yield LetIn(rule, gone, _answered(let_in, catalogue))


def _let_in(scenario: Scenario, out: Excluded) -> Scenario:
    """Return a scenario that does not keep something out."""
    asked: Exclusions = scenario.exclude
    if out.kind not in WITH_LISTS:
        return replace(scenario, exclude=replace(asked, **{out.kind: False}))
    left = tuple(each for each in getattr(asked, out.kind) if each != out.entry)
    return replace(scenario, exclude=replace(asked, **{out.kind: left}))


def _answered(scenario: Scenario, catalogue: Catalogue) -> Reached | None:
    try:
        found = answer(scenario, catalogue)
    except (InputError, CutShortError):  # what is let in may lack a price or a figure
        return None
    return None if isinstance(found, NoFormula) else standing(found, catalogue)
