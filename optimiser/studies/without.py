"""A scenario that keeps something out, and the rules that go with it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.exclusions import Excluded, contains
from optimiser.domain.material import CATEGORIES, Origin
from optimiser.domain.scenario import Bound, Exclusions, Scenario
from optimiser.domain.spoken import allergen_named, unclear_allergen
from optimiser.errors import InputError, Problem, nearest

__all__ = ["GivenUp", "without"]

COMMAND = Origin("the command line", field="--without")


class GivenUp(Struct, frozen=True):
    """A share that was asked for of what is out: by name, "exact" or "min", percent."""

    name: str
    side: str
    percent: float


def without(
    scenario: Scenario,
    catalogue: Catalogue,
    names: Sequence[str],
    also: Sequence[str] = (),
) -> tuple[Scenario, tuple[str, ...], tuple[GivenUp, ...]]:
    """Return the scenario that keeps something out, what it is, and rules given up.

    A pin or a least share of an ingredient that is out cannot be kept; it goes with
    it instead of clashing with it.

    Raises
    ------
    InputError
        If a name is no ingredient, category or allergen.
    """
    problems: list[Problem] = []
    names = list(_each(names, lambda name: _stands_for(name, catalogue)))
    also = list(_each(also, catalogue.find))
    told = [_named(name, scenario.base, catalogue, problems) for name in names]
    found = [each for each in told if each is not None]
    more = [_ingredient(name, catalogue, problems) for name in also]
    if problems:
        raise InputError(problems)
    gone = tuple(each.name for each in found)
    again = {each.rule_id for each in found}  # whatever was let in before
    out = _out(found, scenario, catalogue)
    pins = [pin for pin in scenario.pins if pin.what not in out]
    least = [b for b in scenario.limits if b.low and b.what in out]
    limits = [replace(b, low=None) if b in least else b for b in scenario.limits]
    # A limit without sides is no rule, but brings an ingredient into the question.
    limits += [Bound(key, None, None, "product", None, COMMAND) for key in more]
    asked = replace(
        scenario,
        exclude=_excluding(scenario.exclude, found),
        pins=tuple(pins),
        limits=tuple(limits),
        only=scenario.only | set(more) if scenario.only else scenario.only,
        eased={each: to for each, to in scenario.eased.items() if each not in again},
    )
    given_up = [(pin, "exact") for pin in scenario.pins if pin.what in out]
    given_up += [(bound, "min") for bound in least]
    return (
        asked,
        gone,
        tuple(
            GivenUp(catalogue.ingredients[bound.what].name, side, bound.low or 0.0)
            for bound, side in given_up
        ),
    )


def _each(names: Sequence[str], known: Callable[[str], object]) -> Iterator[str]:
    """Yield names one by one, where several stand in one text and it is none itself."""
    for name in names:
        parts = [part.strip() for part in re.split("[,;]", name) if part.strip()]
        yield from [name] if known(name) is not None or not parts else parts


def _stands_for(name: str, catalogue: Catalogue) -> Excluded | None:
    """Return what is out where a name is; None if it is the name of nothing."""
    category = fold(name)
    if category in CATEGORIES and catalogue.exact(name) is None:
        return Excluded("categories", category, category)
    allergen = allergen_named(name, catalogue.allergens)
    if allergen is not None:
        return Excluded("allergens", allergen, allergen)
    key = None if unclear_allergen(name) else catalogue.find(name)
    if key is None:
        return None
    return Excluded("ingredients", key, catalogue.ingredients[key].name)


def _named(
    name: str,
    base: Iterable[str],
    catalogue: Catalogue,
    problems: list[Problem],
) -> Excluded | None:
    """Return what a name stands for, or say what is wrong with it."""
    found = _stands_for(name, catalogue)
    if found is not None:
        return found
    if unclear := unclear_allergen(name):
        wrong, fix = unclear
        problems.append(Problem(wrong, field="--without", found=name, fix=fix))
        return None
    held = [catalogue.ingredients[key].name for key in base]
    held = [each for each in held if set(fold(name).split()) & set(each.split())]
    known_names = [*catalogue.names(), *CATEGORIES, *catalogue.allergens]
    near = f"your base has {' and '.join(held)}" if held else nearest(name, known_names)
    problems.append(
        Problem(
            f"is no ingredient, category or allergen; {near}",
            field="--without",
            found=name,
            fix="correct the name, or see them all with: optimiser catalogue list",
        )
    )
    return None


def _ingredient(name: str, catalogue: Catalogue, problems: list[Problem]) -> str:
    key = catalogue.find(name)
    if key is not None:
        return key
    problems.append(
        Problem(
            f"is no ingredient; {nearest(name, catalogue.names())}",
            field="--with",
            found=name,
            fix="correct the name, or see them all with: optimiser catalogue list",
        )
    )
    return ""


def _out(
    found: Sequence[Excluded], scenario: Scenario, catalogue: Catalogue
) -> set[str]:
    """Return every ingredient that what was named keeps out."""
    reading, markets = scenario.exclude.reading, scenario.markets
    out: set[str] = set()
    for each in found:
        what = each.entry
        for key, ingredient in catalogue.ingredients.items():
            if each.kind == "allergens":
                hit = contains(catalogue, key, what, markets, reading) is not False
            else:
                hit = what in {key, ingredient.category}
            if hit:
                out.add(key)
    return out


def _excluding(exclude: Exclusions, found: Sequence[Excluded]) -> Exclusions:
    """Return the exclusions with more in them."""
    lists = {
        kind: list(getattr(exclude, kind))
        for kind in ("ingredients", "categories", "allergens")
    }
    origins = dict(exclude.origins)
    for each in found:
        if each.entry not in lists[each.kind]:
            lists[each.kind].append(each.entry)
            origins[each.field] = COMMAND
    return replace(
        exclude,
        ingredients=tuple(lists["ingredients"]),
        categories=tuple(lists["categories"]),
        allergens=tuple(lists["allergens"]),
        origins=origins,
    )
