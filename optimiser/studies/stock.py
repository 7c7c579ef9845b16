"""Stock: what the shelf makes today, what is left, and what runs out first.

The size of the batch is a column too, as its inverse: a formula of ``x`` percent takes
``x / 100 * size`` from the shelf, so ``x <= 100 * kg * (1 / size)`` is linear, and the
largest batch is the least ``1 / size``. Rules on shares stay as they are.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Ingredient, Lot, Origin
from optimiser.domain.rule import Column, Goal, Programme, Row, Rule
from optimiser.domain.scenario import Scenario
from optimiser.domain.wording import Fixed, number
from optimiser.errors import InputError, Problem
from optimiser.explaining import Clash, clash_of
from optimiser.explaining.answering import (
    NoFormula,
    Question,
    answer,
    best,
    questions,
    reshaped,
)
from optimiser.explaining.facts import expired_lots
from optimiser.explaining.opinions import Solved
from optimiser.rules.stock import on_the_shelf
from optimiser.solving import Infeasible, least_with_another_number, optimise
from optimiser.studies.made import About, Made, Told, made, told

__all__ = [
    "BaseBatch",
    "Missing",
    "Stock",
    "Take",
    "base_batch",
    "missing",
    "reaches",
    "stock",
    "takes",
]

# What is left of a sum that is rounded, kg: nothing is taken for it.
DUST = 1e-9


class BaseBatch(Struct, frozen=True):
    """What the base makes as it is written: kg, units, and what stops it.

    ``missing`` are ingredients of the base of which nothing is on the shelf.
    """

    kg: float
    units: int | None
    first_out: str | None
    missing: tuple[str, ...]


class Missing(Struct, frozen=True):
    """What the rules ask for and the shelf has nothing of.

    ``asked`` are categories, parts and ingredients by name; ``base`` the ingredients
    of the base that are not there, of so many that may be used; ``expired`` sentences
    on lots.
    """

    asked: tuple[str, ...]
    base: tuple[str, ...]
    of_base: int
    expired: tuple[str, ...]


class Take(Struct, frozen=True):
    """What is taken from one lot and what is left in it, kg."""

    ingredient: str
    name: str
    lot: str
    expiry: date | None
    kg: float
    left_kg: float


def base_batch(
    scenario: Scenario,
    catalogue: Catalogue,
    shelf: Mapping[str, float],
    unit_kg: float | None,
    keeps: float,
) -> BaseBatch | None:
    """Return what the base makes as written; None without a base."""
    if not scenario.base:
        return None
    names = {key: catalogue.ingredients[key].name for key in scenario.base}
    missing = tuple(names[key] for key in scenario.base if not shelf.get(key))
    found = reaches(scenario.base, shelf, catalogue)
    kg = 0.0 if missing or not found else found[0][1]
    units = None if unit_kg is None else math.floor(kg * keeps / unit_kg + 1e-9)
    return BaseBatch(kg, units, found[0][0] if found else None, missing)


def reaches(
    amounts: Mapping[str, float], shelf: Mapping[str, float], catalogue: Catalogue
) -> tuple[tuple[str, float], ...]:
    """Return the kg of product that each ingredient's stock reaches for."""
    found = [
        (catalogue.ingredients[key].name, 100.0 * shelf.get(key, 0.0) / percent)
        for key, percent in amounts.items()
        if percent > 0
    ]
    return tuple(sorted(found, key=lambda each: each[1]))


def _oldest_first(lots: list[Lot]) -> list[Lot]:
    return sorted(lots, key=lambda lot: (lot.expiry or date.max, lot.lot))


def takes(
    amounts: Mapping[str, float], batch: float, catalogue: Catalogue
) -> tuple[Take, ...]:
    """Return what is taken from which lot: the first to expire goes first."""
    takes = []
    shelf: dict[str, list[Lot]] = {}
    for lot in catalogue.stock:
        shelf.setdefault(lot.ingredient, []).append(lot)
    for key, percent in amounts.items():
        need = percent / 100.0 * batch
        for lot in _oldest_first(shelf.get(key, [])):
            kg = min(need, lot.amount) if need > DUST else 0.0
            need -= kg
            left = lot.amount - kg
            name = catalogue.ingredients[key].name
            takes.append(
                Take(key, name, lot.lot, lot.expiry, kg, left if left > DUST else 0.0)
            )
    return tuple(takes)


HERE = Origin("the shelf")
# How much more of what runs out first is tried, kg.
MORE = 0.1
# A batch larger than this is no batch of a small maker; it keeps ``1 / size`` apart
# from zero, kg.
MOST_KG = 1e6
# The least and the most that one unit may weigh, kg; a gram may be rounded.
UNITS = 1e-4 * (1 - 1e-9), 1e3 * (1 + 1e-9)


class MoreOf(Struct, frozen=True):
    """How many kg more 100 g more of an ingredient make, and if any is there now."""

    name: str
    kg_more: float
    on_shelf: bool


class Stock(Struct, frozen=True):
    """The largest batch within the rules and how it empties the shelf.

    ``batch_kg`` is what is mixed: as many whole units as there can be, or the most.
    ``lasts`` is, for each ingredient used, the kg its stock would reach for in this
    formula, the shortest first. ``helps`` is what 100 g more of an ingredient make.
    """

    about: About
    unit_kg: float | None
    loss_percent: float
    base: BaseBatch | None
    most_kg: float
    batch_kg: float
    units: int | None
    formula: Made | None
    aims: tuple[tuple[str, float, str], ...]
    takes: tuple[Take, ...]
    lasts: tuple[tuple[str, float], ...]
    helps: tuple[MoreOf, ...]
    told: Told
    expired: tuple[str, ...] = ()


def stock(
    scenario: Scenario,
    catalogue: Catalogue,
    unit_kg: float | None = None,
    loss_percent: float = 0.0,
) -> Stock | Clash:
    """Return the most that the shelf makes within the rules.

    Parameters
    ----------
    unit_kg : float, optional
        Net weight of one unit; then whole units are made.
    loss_percent : float
        What stays in the pot, percent of what is mixed.

    Returns
    -------
    Stock or Clash
        A clash where no batch of any size keeps the rules.

    Raises
    ------
    InputError
        If the shelf is empty, or a unit or a loss makes no sense.
    """
    _check(scenario, catalogue, unit_kg, loss_percent)
    shelf = on_the_shelf(catalogue)
    plain = replace(
        scenario,
        stock_only=None,
        aims=tuple(aim for aim in scenario.aims if aim.name != "bought"),
    )
    asked = reshaped(
        questions(plain, catalogue),
        lambda each: _sized(each.programme, shelf, catalogue),
    )
    largest = best(asked, catalogue, steps=False)
    if isinstance(largest, NoFormula):
        # A clash that names the shelf is told as such: for a batch of next to nothing.
        tiny = answer(replace(scenario, stock_only=HERE, batch_kg=1e-6), catalogue)
        return clash_of(tiny if isinstance(tiny, NoFormula) else largest, catalogue)
    most = 1.0 / max(largest.optimum.best[0], 1.0 / MOST_KG)
    keeps = 1.0 - loss_percent / 100.0
    units = None if unit_kg is None else math.floor(most * keeps / unit_kg + 1e-9)
    batch = most if units is None or unit_kg is None else units * unit_kg / keeps
    sized = replace(plain, batch_kg=batch)
    found = None if batch <= 0 else _for_batch(asked, catalogue, batch, largest)
    if found is None:
        return _nothing(plain, catalogue, shelf, most, (unit_kg, loss_percent))
    formula = made("the most", replace(found, scenario=sized), catalogue)
    lasting = reaches(formula.amounts, shelf, catalogue)
    return Stock(
        about=About.of(scenario, catalogue),
        unit_kg=unit_kg,
        loss_percent=loss_percent,
        base=base_batch(plain, catalogue, shelf, unit_kg, keeps),
        most_kg=most,
        batch_kg=batch,
        units=units,
        formula=formula,
        aims=found.aims,
        takes=takes(formula.amounts, batch, catalogue),
        lasts=lasting,
        helps=_helps(catalogue, shelf, largest, most),
        told=told([formula], scenario, catalogue),
        expired=expired_lots(catalogue),
    )


# Kinds of rules that ask for some of what they are about.
ASKING = frozenset({"band", "limit", "pin", "minor"})


def missing(scenario: Scenario, catalogue: Catalogue) -> Missing | None:
    """Return what is asked for and not on the shelf; None where some of all is there.

    What the rules keep out is not there for them, wherever it lies.
    """
    shelf = on_the_shelf(catalogue)
    programme = questions(replace(scenario, stock_only=None), catalogue)[0].programme
    out = {
        int(column)
        for rule in programme.rules
        if rule.keeps_out
        for column in rule.amounts.columns
    }
    there = {
        column
        for column, key in enumerate(programme.ingredients)
        if shelf.get(key) and column not in out
    }
    asked = [
        rule.wording.what
        for rule in programme.rules
        if rule.kind in ASKING and rule.side != "max" and rule.limit > 0.0
        if rule.amounts.columns.size and not there & {*rule.amounts.columns.tolist()}
    ]
    if not asked:
        return None
    kept_out = {programme.ingredients[column] for column in out}
    base = [key for key in scenario.base if key not in kept_out]
    return Missing(
        asked=tuple(dict.fromkeys(asked)),
        base=tuple(catalogue.ingredients[x].name for x in base if not shelf.get(x)),
        of_base=len(base),
        expired=expired_lots(catalogue),
    )


def _check(
    scenario: Scenario, catalogue: Catalogue, unit_kg: float | None, loss: float
) -> None:
    problems = []
    if not catalogue.stock:
        wrong = f"nothing is on the shelf of workshop '{scenario.workshop}'"
        gone = expired_lots(catalogue)
        wrong += f": {'; '.join(gone)}" if gone else ""
        fix = "write the lots in its stock.csv, and see that they have not expired"
        problems.append(Problem(wrong, fix=fix))
    if unit_kg is not None and not UNITS[0] <= unit_kg <= UNITS[1]:
        wrong = "is no weight of one unit"
        fix = 'give one from 0.1 g to 1000 kg, as in "60 g"'
        problems.append(
            Problem(wrong, field="--unit", found=f"{unit_kg:g} kg", fix=fix)
        )
    if not 0 <= loss < 100:
        fix = "give a percentage from 0 to below 100"
        problems.append(
            Problem("is no loss", field="--loss", found=f"{loss:g}", fix=fix)
        )
    if problems:
        raise InputError(problems)


def _sized(
    programme: Programme, shelf: Mapping[str, float], catalogue: Catalogue
) -> Programme:
    """Return the programme with a column for ``1 / size`` (per kg), its first goal."""
    size = len(programme.columns)
    column = Column("per kg", "batch", 1.0 / MOST_KG, math.inf)
    rules = tuple(
        _no_more(column, catalogue.ingredients[key], shelf.get(key, 0.0), size)
        for column, key in enumerate(programme.ingredients)
    )
    goal = Goal("batch", "per kg", Row.of([(size, 1.0)]))
    return replace(
        programme,
        columns=(*programme.columns, column),
        rules=(*programme.rules, *rules),
        goals=(goal, *programme.goals),
    )


def _no_more(column: int, of: Ingredient, kg: float, size: int) -> Rule:
    return Rule(
        id=f"shelf/{of.key}",
        wording=Fixed(f"no more {of.name} than the {number(kg)} kg on the shelf"),
        kind="stock",
        side="max",
        limit=0.0,
        unit="%",
        amounts=Row.of([(column, 1.0), (size, -100.0 * kg)]),
        per_constant=1.0,
        owner="arithmetic",
        origin=HERE,
    )


def _for_batch(
    asked: Sequence[Question], catalogue: Catalogue, batch_kg: float, largest: Solved
) -> Solved | None:
    """Return the best formula, by the scenario's aims, for a batch.

    Where the second opinion is not reached anew, the tangents that held it for the
    largest batch still hold it for this one.
    """
    sized = reshaped(asked, lambda each: _at(each.programme, batch_kg))
    found = best(sized, catalogue)
    if isinstance(found, NoFormula):
        return None
    if found.outcome != "not reached" or largest.outcome != "held":
        return found
    same = Question(largest.scenario, _at(largest.programme, batch_kg))
    again = best([same], catalogue, hear=False)
    return found if isinstance(again, NoFormula) else replace(again, said=largest.said)


def _at(programme: Programme, batch_kg: float) -> Programme:
    """Return the programme with its size kept, and the scenario's aims alone."""
    size = 1.0 / batch_kg * (1.0 + 1e-9)
    columns = [
        replace(column, lower=size, upper=size) if column.kind == "per kg" else column
        for column in programme.columns
    ]
    goals = programme.goals[1:] or programme.goals
    return replace(programme, columns=tuple(columns), goals=goals)


def _nothing(
    scenario: Scenario,
    catalogue: Catalogue,
    shelf: Mapping[str, float],
    most: float,
    asked: tuple[float | None, float],
) -> Stock:
    """Return the answer where the shelf does not make one whole unit."""
    unit_kg, loss = asked
    return Stock(
        about=About.of(scenario, catalogue),
        unit_kg=unit_kg,
        loss_percent=loss,
        base=base_batch(scenario, catalogue, shelf, unit_kg, 1.0 - loss / 100.0),
        most_kg=most,
        batch_kg=0.0,
        units=None if unit_kg is None else 0,
        formula=None,
        aims=(),
        takes=(),
        lasts=(),
        helps=(),
        told=told([], scenario, catalogue),
        expired=expired_lots(catalogue),
    )


def _helps(
    catalogue: Catalogue, shelf: Mapping[str, float], largest: Solved, most: float
) -> tuple[MoreOf, ...]:
    """Return how much more a little more of what runs out makes, the most first."""
    programme, amounts = largest.programme, largest.optimum.amounts
    size = next(n for n, c in enumerate(programme.columns) if c.kind == "per kg")
    places = {rule.id: place for place, rule in enumerate(programme.rules)}
    wider: dict[int, Rule] = {}
    for column, key in enumerate(programme.ingredients):
        kg = shelf.get(key, 0.0)
        if amounts[column] * most / 100.0 >= kg * (1 - 1e-6):
            more = _no_more(column, catalogue.ingredients[key], kg + MORE, size)
            wider[places[more.id]] = more
    found = []
    for place, least in _with_one_wider(largest, wider, size):
        gain = 1.0 / max(least, 1.0 / MOST_KG) - most
        if gain > 1e-4:
            key = programme.ingredients[int(wider[place].amounts.columns[0])]
            name, there = catalogue.ingredients[key].name, shelf.get(key, 0.0) > 0.0
            found.append(MoreOf(name, gain, there))
    # What is alike but for the solver's rounding stays in the ingredients' order.
    return tuple(sorted(found, key=lambda each: -round(each.kg_more, 6)))


def _with_one_wider(
    largest: Solved, wider: Mapping[int, Rule], size: int
) -> Iterator[tuple[int, float]]:
    """Yield the least ``1 / size`` with one rule wider, by the number of the rule."""
    programme = replace(largest.programme, goals=largest.programme.goals[:1])
    warm: Iterable[float | None] = [None] * len(wider)
    if not programme.whole:
        column = [
            (place, float(rule.amounts.coefficients[-1]))
            for place, rule in wider.items()
        ]
        warm = least_with_another_number(programme, size, column)
    for place, least in zip(wider, warm, strict=True):
        if least is not None:
            yield place, least
            continue
        rules = list(programme.rules)
        rules[place] = wider[place]
        found = optimise(replace(programme, rules=tuple(rules)))
        if not isinstance(found, Infeasible):
            yield place, found.best[0]
