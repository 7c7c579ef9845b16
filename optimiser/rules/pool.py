"""Which ingredients may be considered, and why others are not."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.exclusions import is_out, leaving_out
from optimiser.domain.material import PARTS
from optimiser.domain.rule import Lack
from optimiser.domain.scenario import Scenario
from optimiser.errors import Problem
from optimiser.rules.structure import is_judged, is_unjudged

__all__ = ["Pool", "choose", "known_of"]

HEADER = "ingredient,pack,unit,price,freight,currency"  # of a row of prices.csv
MOST_NAMED, FEW = 6, 3  # ingredients that a message names; that one would leave out
UNJUDGED = (
    "nothing is known of how hard it sets, and no window holds the firmness; it is"
    " used where a limit or a pin names it"
)


class Pool(Struct):
    """The ingredients of a question, why others are left out, and what stops it.

    ``shut`` are chosen ones that the base has, an exclusion keeps out, and something is
    not known of: they are there to be compared with, and never enter.
    """

    chosen: tuple[str, ...]
    left_out: dict[str, str]
    problems: list[Problem]
    shut: frozenset[str] = frozenset()


def choose(scenario: Scenario, catalogue: Catalogue) -> Pool:
    """Return the ingredients that may be used, and why each other one is left out.

    An ingredient belongs to the question when the base or a limit names it, or when
    its category is one the scenario speaks of. It is left out when it has no price;
    one that the scenario itself asks for, or a command lets in by its name, is a
    problem instead, for unknown is never zero. What it excludes it does not ask for by
    having it in the base. Nor is it used where it would set a bar nobody knows how
    hard, unless an amount of it is named.
    """
    named, needed = _named(scenario), _needed(scenario, catalogue)
    limited = {each.what for each in scenario.limits}
    with_amount = named | limited | {each.what for each in scenario.bands}
    asked = named | limited | set(scenario.only)
    spoken = _categories_spoken_of(scenario, catalogue, named)
    judged = is_judged(scenario, catalogue)
    unpriced: list[str] = []
    chosen: list[str] = []
    shut: set[str] = set()
    left_out: dict[str, str] = {}
    # By their keys: of formulas that do equally well none is shown for where a row is.
    for key, ingredient in sorted(catalogue.ingredients.items()):
        wanted = key in asked or (not scenario.only and ingredient.category in spoken)
        if scenario.only and key not in scenario.only and key not in named:
            wanted = False
        if not wanted:
            continue
        if judged and key not in with_amount and is_unjudged(key, catalogue):
            left_out[key] = UNJUDGED
        elif _is_priced(key, scenario, catalogue):
            chosen.append(key)
        elif key in needed:
            chosen.append(key)
            unpriced.append(key)
        elif key in scenario.base:
            chosen.append(key)
            shut.add(key)
        else:
            left_out[key] = _no_price(scenario, catalogue)
    let_in = scenario.let_in
    problems = [
        _not_let_in(
            key,
            _no_price(scenario, catalogue),
            _pack_row([key], scenario, catalogue),
            catalogue,
        )
        for key in unpriced
        if key in let_in
    ]
    if others := [key for key in unpriced if key not in let_in]:
        problems.append(_unpriced(others, scenario, catalogue))
    pool = Pool(tuple(chosen), left_out, problems, frozenset(shut))
    return _some(pool, scenario, catalogue)


def known_of(
    pool: Pool, lacking: Sequence[Lack], scenario: Scenario, catalogue: Catalogue
) -> Pool:
    """Return the pool without those of which a figure that a rule needs is not known.

    One that the scenario itself asks for is a problem instead; one of the base that it
    excludes stays, shut.

    Parameters
    ----------
    lacking : sequence of Lack
        The columns are places in the pool; one lack of each is told.
    """
    needed = _needed(scenario, catalogue)
    unknown: dict[str, Lack] = {}
    shut: set[str] = set()
    for each in lacking:
        unknown.setdefault(pool.chosen[each.column], each)
    problems, left_out = list(pool.problems), dict(pool.left_out)
    for key, each in unknown.items():
        wrong = f"no {each.what} is known"
        if key in needed and key in scenario.let_in:
            fix = f"add {each.row} to properties.csv with its source"
            problems.append(_not_let_in(key, wrong, fix, catalogue))
        elif key in needed:
            fix = (  # few makers have a figure: first what needs none
                f"to leave it out, {_leaving([key], scenario, catalogue)}; or add"
                f" {each.row} to properties.csv with its source"
            )
            problems.append(_stop(key, (wrong, fix), scenario, catalogue))
        elif key in scenario.base:
            shut.add(key)
        else:
            left_out[key] = wrong
    kept = tuple(key for key in pool.chosen if key in shut or key not in unknown)
    found = Pool(kept, left_out, problems, pool.shut | shut)
    return _some(found, scenario, catalogue)


def _some(pool: Pool, scenario: Scenario, catalogue: Catalogue) -> Pool:
    """Return the pool; where nothing is left in it, and nothing said yet, say so."""
    if not pool.chosen and not pool.problems:
        pool.problems.append(_nothing(scenario, catalogue, pool.left_out))
    return pool


def _named(scenario: Scenario) -> set[str]:
    """Return the ingredients that the scenario itself names, in whatever amount."""
    return set(scenario.base) | _held(scenario)


def _held(scenario: Scenario) -> set[str]:
    """Return the ingredients that a pin or a least share asks for."""
    held = {pin.what for pin in scenario.pins}
    return held | {limit.what for limit in scenario.limits if limit.low}


def _needed(scenario: Scenario, catalogue: Catalogue) -> set[str]:
    """Return the ingredients that cannot be left out where something is not known."""
    named = {*scenario.base, *scenario.let_in}
    out = {
        key
        for key in named
        if is_out(scenario.exclude, scenario.markets, catalogue, key)
    }
    return (named - out) | _held(scenario)


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


def _is_priced(key: str, scenario: Scenario, catalogue: Catalogue) -> bool:
    """Whether an ingredient has the price that an aim asks for, if one does."""
    if all(aim.name != "cost" for aim in scenario.aims):
        return True
    return catalogue.price_per_kg(key) is not None


def _no_price(scenario: Scenario, catalogue: Catalogue) -> str:
    """Return where a price is not known, as what keeps an ingredient out."""
    if not scenario.workshop:
        return "no workshop is named for its price"
    told = f"no price is known in workshop '{scenario.workshop}'"
    return told + _uncounted(catalogue)


def _uncounted(catalogue: Catalogue) -> str:
    """Return that invented prices do not count, where they are in another currency."""
    if not catalogue.uncounted:
        return ""
    others = " and ".join(catalogue.uncounted)
    return f" (invented ones in {others} do not count beside {catalogue.currency})"


def _unpriced(keys: Sequence[str], scenario: Scenario, catalogue: Catalogue) -> Problem:
    """Say that what a scenario asks for has no price, and every way to mend it."""
    one, names = len(keys) == 1, [catalogue.ingredients[key].name for key in keys]
    ways = [_pack_row(keys, scenario, catalogue)]
    if scenario.cost_asked:
        others = [aim.name for aim in scenario.aims if aim.name != "cost"]
        others = others or (["change", "count"] if scenario.base else ["count"])
        order = ", ".join(f'"{name}"' for name in others)
        ways.append(f"or, to do without prices, let order of [aim] be [{order}]")
    if len(keys) <= FEW:
        leaving = _leaving(keys, scenario, catalogue)
        ways.append(f"or, to leave {'it' if one else 'them'} out, {leaving}")
    fix = "; ".join(ways)
    if one:
        return _stop(
            keys[0], (_no_price(scenario, catalogue), fix), scenario, catalogue
        )
    if len(names) > MOST_NAMED:
        names = [*names[:MOST_NAMED], f"{len(names) - MOST_NAMED} more"]
    told = f"{', '.join(names[:-1])} and {names[-1]}"
    where = f"no price is known of them in workshop '{scenario.workshop}'"
    where += _uncounted(catalogue)
    if not scenario.workshop:
        where = "no workshop is named for their prices"
    wrong = f"the scenario asks for {told}, but {where}"
    return Problem(wrong, file=scenario.file, fix=fix)


def _pack_row(keys: Sequence[str], scenario: Scenario, catalogue: Catalogue) -> str:
    """Return what to write so that ingredients have a price."""
    if not scenario.workshop:
        return 'write workshop = "demo"'
    name, each = catalogue.ingredients[keys[0]].name, " of each" if keys[1:] else ""
    row = f"{name},100,g,PRICE,0,{catalogue.currency or 'EUR'}"
    return f"add a pack{each} to its prices.csv ({HEADER}), as in {row}"


def _not_let_in(key: str, lacks: str, fix: str, catalogue: Catalogue) -> Problem:
    """Say what is not known of an ingredient that a command lets in by its name."""
    name = catalogue.ingredients[key].name
    wrong = f"cannot come in, for {lacks}"
    return Problem(wrong, field="--with", found=name, fix=f"{fix}; or leave it out")


def _where(key: str, name: str, scenario: Scenario) -> str:
    """Return the table and name that ask for an ingredient."""
    if key in scenario.base:
        return f"base.{name}"
    pinned = any(pin.what == key for pin in scenario.pins)
    return f"pins.{name}" if pinned else f"limits.{name}"


def _stop(
    key: str, lacks: tuple[str, str], scenario: Scenario, catalogue: Catalogue
) -> Problem:
    """Say what is not known of an ingredient, and how to mend it."""
    name = catalogue.ingredients[key].name
    return Problem(
        wrong=f"is asked for by the scenario, but {lacks[0]}",
        file=scenario.file,
        field=_where(key, name, scenario),
        found=name,
        fix=lacks[1],
    )


def _leaving(keys: Sequence[str], scenario: Scenario, catalogue: Catalogue) -> str:
    """Return what to write so that nothing asks for some ingredients any more."""
    told = []
    in_base = [
        key
        for key in keys
        if key in scenario.base
        and not is_out(scenario.exclude, scenario.markets, catalogue, key)
    ]
    if in_base:
        told.append(leaving_out(scenario.exclude, catalogue, in_base))
    for table, asked in (
        ("pins", {pin.what for pin in scenario.pins}),
        ("limits", {limit.what for limit in scenario.limits if limit.low}),
    ):
        rows = [
            f'"{catalogue.ingredients[x].name}" = false' for x in keys if x in asked
        ]
        if rows:
            told.append(f"write {' and '.join(rows)} below [{table}]")
    return ", and ".join(told)
