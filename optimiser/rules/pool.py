"""Which ingredients may be considered, and why others are not."""

from __future__ import annotations

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import PARTS
from optimiser.domain.properties import property_named
from optimiser.domain.scenario import Scenario
from optimiser.errors import InputError, Problem
from optimiser.rules.space import Space
from optimiser.science.properties import figure

__all__ = ["choose"]


def choose(
    scenario: Scenario, catalogue: Catalogue
) -> tuple[tuple[str, ...], dict[str, str]]:
    """Return the ingredients that may be used, and why each other one is left out.

    An ingredient belongs to the question when the base or a limit names it, or when
    its category is one the scenario speaks of. It is left out when it has no price
    or lacks a figure that a window needs; one that the scenario itself asks for
    stops the run instead, for unknown is never zero.

    Raises
    ------
    InputError
        If an ingredient of the base lacks a price or a figure.
    """
    named = set(scenario.base) | {pin.what for pin in scenario.pins}
    named |= {limit.what for limit in scenario.limits if limit.low}
    asked = named | {each.what for each in scenario.limits} | set(scenario.only)
    spoken = _categories_spoken_of(scenario, catalogue, named)
    problems: list[Problem] = []
    chosen: list[str] = []
    left_out: dict[str, str] = {}
    space = Space(scenario, catalogue, tuple(catalogue.ingredients))
    for key, ingredient in catalogue.ingredients.items():
        wanted = key in asked or (not scenario.only and ingredient.category in spoken)
        if scenario.only and key not in scenario.only and key not in named:
            wanted = False
        if not wanted:
            continue
        lacks = _lacks(key, scenario, catalogue, space)
        if lacks is None:
            chosen.append(key)
        elif key in named:
            problems.append(_stop(key, lacks, scenario, catalogue))
        else:
            left_out[key] = lacks[0]
    if problems:
        raise InputError(problems)
    if not chosen:
        raise InputError([_nothing(scenario, catalogue, left_out)])
    return tuple(chosen), left_out


def _nothing(
    scenario: Scenario, catalogue: Catalogue, left_out: dict[str, str]
) -> Problem:
    """Say that no ingredient is left to choose from, and what kept some out."""
    kept_out = "; ".join(
        f"{catalogue.ingredients[key].name}: {why}"
        for key, why in list(left_out.items())[:4]
    )
    return Problem(
        wrong="leaves no ingredient to choose from" + (kept_out and f" ({kept_out})"),
        file=scenario.file,
        fix="name bands or a base, or add prices and figures for some ingredients",
    )


def _categories_spoken_of(
    scenario: Scenario, catalogue: Catalogue, named: set[str]
) -> set[str]:
    """Return the categories of the bands, choices and the base."""
    spoken = {catalogue.ingredients[key].category for key in named}
    waiting = [band.what for band in scenario.bands]
    waiting += [choice.what for choice in scenario.choices if choice.what != "all"]
    while waiting:
        each = waiting.pop()
        inside = scenario.parts.get(each) or PARTS.get(each)
        if inside is not None:
            waiting += [part for part in inside if part != each]
        elif each in catalogue.ingredients:
            spoken.add(catalogue.ingredients[each].category)
        else:
            spoken.add(each)
    return spoken or {each.category for each in catalogue.ingredients.values()}


def _lacks(
    key: str, scenario: Scenario, catalogue: Catalogue, space: Space
) -> tuple[str, str] | None:
    """Return what an ingredient lacks and how to mend it; None if nothing."""
    if (
        any(aim.name == "cost" for aim in scenario.aims)
        and catalogue.price_per_kg(key) is None
    ):
        if not scenario.workshop:
            return "no workshop is named for its price", 'write workshop = "demo"'
        return (
            f"no price is known in workshop '{scenario.workshop}'",
            "add a pack to its prices.csv, or leave the ingredient out",
        )
    for window in scenario.windows:
        if not space.belongs(key, window.over):
            continue
        if figure(catalogue, window.property, key, window.at) is None:
            at = "" if window.at is None else f" at {window.at:g} °C"
            kind = property_named(window.property, catalogue)
            category = catalogue.ingredients[key].category
            row = kind.source(category).name if kind else window.property
            return (
                f"no {window.property}{at} is known",
                f"add {row} to properties.csv with its source, or leave the"
                " ingredient out",
            )
    return None


def _where(key: str, name: str, scenario: Scenario) -> str:
    """Return the table and name that ask for an ingredient."""
    if key in scenario.base:
        return f"base.{name}"
    pinned = any(pin.what == key for pin in scenario.pins)
    return f"pins.{name}" if pinned else f"limits.{name}"


def _stop(
    key: str, lacks: tuple[str, str], scenario: Scenario, catalogue: Catalogue
) -> Problem:
    name = catalogue.ingredients[key].name
    return Problem(
        wrong=f"is asked for by the scenario, but {lacks[0]}",
        file=scenario.file,
        field=_where(key, name, scenario),
        found=name,
        fix=lacks[1],
    )
