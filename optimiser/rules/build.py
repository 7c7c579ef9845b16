"""The whole list of rules, in the order a maker reads them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.properties import GREATEST
from optimiser.domain.rule import Programme, Rule, eased_ends, ids_told, named
from optimiser.domain.scenario import Scenario
from optimiser.domain.unknown import left_aside
from optimiser.errors import InputError, Problem, nearest
from optimiser.rules import (
    choices,
    closeness,
    doses,
    emulsifiers,
    envelope,
    exclusions,
    goals,
    guards,
    law,
    limits,
    minors,
    shares,
    stock,
    structure,
    total,
    windows,
)
from optimiser.rules.kinds import OWN
from optimiser.rules.pool import choose, known_of
from optimiser.rules.space import Space

__all__ = ["build", "numbered", "part_amounts"]

# The least limit of which the logarithm is asked for: nothing has none.
LEAST_LOGARITHMIC = 1e-6

KINDS: tuple[Callable[[Space], Iterable[Rule]], ...] = (
    total.rules,
    shares.rules,
    limits.rules,
    law.rules,
    windows.rules,
    guards.rules,
    structure.rules,
    *OWN,
    emulsifiers.rules,
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
    if chosen is not None:
        return _over(scenario, catalogue, chosen, whole=False)
    pool = choose(scenario, catalogue)
    programme = _over(scenario, catalogue, pool.chosen)
    while lacking := [
        lack
        for rule in programme.rules
        for lack in rule.lacking
        if pool.chosen[lack.column] not in pool.shut
    ]:
        pool = known_of(pool, lacking, scenario, catalogue)
        programme = _over(scenario, catalogue, pool.chosen)
    if pool.problems:
        raise InputError(pool.problems)
    columns = tuple(
        replace(each, upper=0.0)
        if each.kind == "amount" and each.key in pool.shut
        else each
        for each in programme.columns
    )
    return replace(programme, columns=columns, left_out=pool.left_out)


def _over(
    scenario: Scenario,
    catalogue: Catalogue,
    chosen: Sequence[str],
    *,
    whole: bool = True,
) -> Programme:
    """Return the programme over some ingredients, whatever is known of them."""
    space = Space(scenario, catalogue, chosen)
    rules = tuple(numbered(rule for kind in KINDS for rule in kind(space)))
    # Last, for what another rule speaks of is no longer held to the base.
    rules = tuple(numbered((*rules, *minors.rules(space, rules))))
    rules = tuple(numbered((*rules, *doses.rules(space, rules))))
    rules = _eased(rules, scenario, whole=whole)
    wanted = goals.goals(space)
    return Programme(
        ingredients=space.ingredients,
        columns=tuple(space.columns),
        rules=rules,
        links=tuple(space.links),
        goals=wanted,
    )


def _eased(
    rules: tuple[Rule, ...], scenario: Scenario, *, whole: bool
) -> tuple[Rule, ...]:
    """Give rules the limits that the scenario eases them to; drop what it lets go.

    Where not the whole question is built, a rule may be about what is not in it.

    Raises
    ------
    InputError
        If one is not there, or is law, safety, an assessor's or arithmetic.
    """
    by_id = {rule.id: rule for rule in rules}
    meant: dict[str, str] = {}
    problems: list[Problem] = []
    for wanted, (limit, origin) in scenario.eased.items():
        found = named(wanted, rules)
        rule = found[0] if len(found) == 1 else None
        if rule is not None:
            meant[rule.id] = wanted
        if rule is None and not whole:
            continue
        if rule is not None and rule.eased_from is not None and rule.limit == limit:
            continue  # it was written for that limit
        if rule is not None and rule.may_ease:
            problems += _out_of_reach(rule, limit, origin)
            continue
        if rule is None:
            wrong = f"is no rule of this scenario; {nearest(wanted, by_id)}"
            fix = f"name one of {ids_told(rules)}, or leave it out"
            if found:
                wrong = f"names {len(found)} rules"
                fix = f"name one of them: {', '.join(each.id for each in found)}"
        else:
            wrong, fix = f"is a rule of {rule.owner} and is never eased", "leave it out"
            if not rule.movable:
                wrong = "is what other rules were written for and is not eased"
                fix = "change it where it is asked for"
        problems.append(
            Problem(wrong, origin.file, field=origin.field, found=wanted, fix=fix)
        )
    if problems:
        raise InputError(problems)
    limits = {key: scenario.eased[wanted][0] for key, wanted in meant.items()}
    return tuple(
        rule if (limit := limits.get(rule.id)) is None else rule.moved(limit)
        for rule in rules
        if rule.id not in limits or limits[rule.id] is not None
    )


def _out_of_reach(rule: Rule, limit: float | None, origin: Origin) -> Iterator[Problem]:
    """Yield what is wrong with a limit that a rule cannot have."""
    if limit is None:
        return
    least, most = eased_ends(rule)
    if rule.logarithmic:
        least = max(least, LEAST_LOGARITHMIC)
    most = min(most, GREATEST)
    share = rule.unit in {"%", "points"} and (least, most) == (0.0, 100.0)
    wrong, fix = "", f"write a number from {least:g} to {most:g}"
    if share:
        fix = "write a percentage from 0 to 100"
    if limit < least:
        wrong = "is negative" if share else f"is less than {least:g}"
    elif limit > most:
        wrong = "is more than 100 percent" if share else f"is more than {most:g}"
    elif rule.counts and not limit.is_integer():
        wrong, fix = "is no whole number", "write how many, without a fraction"
    if wrong:
        found = f"{limit:g}"
        yield Problem(wrong, origin.file, field=origin.field, found=found, fix=fix)


def part_amounts(
    scenario: Scenario, catalogue: Catalogue, formula: dict[str, float], part: str
) -> dict[str, float]:
    """Return the ingredients of a part that a formula uses, in percent.

    What is unknown is among them, for it may belong there, unless it is so little that
    it is left aside.
    """
    space = Space(scenario, catalogue, tuple(formula))
    aside = left_aside(formula, catalogue)
    columns = sorted({*space.members(part), *space.may_be_in(part)})
    return {
        key: formula[key]
        for key in (space.ingredients[i] for i in columns)
        if formula[key] > 0.0 and key not in aside
    }


def numbered(rules: Iterable[Rule]) -> Iterator[Rule]:
    """Give a rule whose id is taken already a number, so that ids are unique."""
    seen: set[str] = set()
    given: dict[str, int] = {}  # the last number of each id: those before it are taken
    for rule in rules:
        times = given.get(rule.id, 1)
        own = rule.id if times == 1 else f"{rule.id} ({times})"
        while own in seen:
            times += 1
            own = f"{rule.id} ({times})"
        seen.add(own)
        given[rule.id] = times
        yield rule if times == 1 else replace(rule, id=own)
