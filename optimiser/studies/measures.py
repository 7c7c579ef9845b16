"""Properties and changes of many formulas at once, as matrix products."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import UNKNOWN
from optimiser.domain.properties import PROPERTIES, property_named, reported
from optimiser.domain.scenario import Scenario
from optimiser.domain.unknown import FEW
from optimiser.domain.wording import number
from optimiser.explaining import facts
from optimiser.rules.space import Space
from optimiser.science.mixing import is_solid, terms
from optimiser.science.properties import figure

__all__ = ["Measure", "changes", "measure", "measures"]

Floats = NDArray[np.float64]


class Measure(Struct, frozen=True, eq=False):
    """A property as two sums over ingredients; ``lacking`` marks unknown figures.

    Its value is ``above / below``, or the exponential of it where ``log``. ``unknown``
    marks what nobody has told what it is: a small dose of that counts for nothing.
    """

    name: str
    above: Floats
    below: Floats
    lacking: NDArray[np.bool_]
    unknown: NDArray[np.bool_]
    log: bool


def measures(
    ingredients: Sequence[str], scenario: Scenario, catalogue: Catalogue
) -> tuple[Measure, ...]:
    """Return the properties of the scenario's windows, then the usual ones."""
    asked = [(w.property, w.at, w.over) for w in scenario.windows]
    asked += [
        (name, at, PROPERTIES[name].over)
        for name, at in reported()
        if not any((name, at) == (a[0], a[1]) for a in asked)
    ]
    space = Space(scenario, catalogue, tuple(ingredients))
    found = []
    for name, at, over in dict.fromkeys(asked):
        kind = property_named(name, catalogue)
        if kind is None:
            continue
        above, below = np.zeros(len(ingredients)), np.zeros(len(ingredients))
        lacking, unknown = np.zeros((2, len(ingredients)), dtype=bool)
        for column in {*space.members(over), *space.may_be_in(over)}:
            key = ingredients[column]
            known = figure(catalogue, name, key, at)
            if known is None:
                stranger = catalogue.ingredients[key].category == UNKNOWN
                (unknown if stranger else lacking)[column] = True
                continue
            solid = is_solid(catalogue, key)
            above[column], below[column] = terms(kind.mixing, known.value, solid)
        where = "" if at is None else f" at {number(at)} degC"
        unit = f", {kind.unit}" if kind.unit else ""
        found.append(
            Measure(
                f"{name}{where}{unit}",
                above,
                below,
                lacking,
                unknown,
                kind.mixing == "log",
            )
        )
    return tuple(found)


def measure(of: Measure, amounts: Floats) -> Floats:
    """Return a property of each formula (cases, ingredients); NaN where not known."""
    with np.errstate(divide="ignore", invalid="ignore"):
        values = (amounts @ of.above) / (amounts @ of.below)
        values = np.exp(values) if of.log else values
    unknown = (amounts[:, of.lacking] > facts.TRACE).any(axis=1)
    unknown |= amounts[:, of.unknown].sum(axis=1) >= FEW
    values[unknown | ~np.isfinite(values)] = np.nan
    result: Floats = values
    return result


def changes(
    ingredients: Sequence[str],
    amounts: Floats,
    scenario: Scenario,
    catalogue: Catalogue,
) -> tuple[Floats, Floats, Floats] | None:
    """Return points from the base by ingredient, kind, category; None without one."""
    if not scenario.base:
        return None
    places = {key: at for at, key in enumerate(ingredients)}
    base = np.zeros(len(ingredients))
    for key, percent in scenario.base.items():
        base[places[key]] = percent
    moves = amounts - base
    points: list[Floats] = [np.abs(moves).sum(axis=1) / 2.0]
    for by in ("kind", "category"):
        names = [catalogue.ingredients[key].group(by) for key in ingredients]
        known = {name: at for at, name in enumerate(dict.fromkeys(names))}
        groups = np.zeros((len(ingredients), len(known)))
        groups[np.arange(len(names)), [known[name] for name in names]] = 1.0
        points.append(np.abs(moves @ groups).sum(axis=1) / 2.0)
    by_ingredient, by_kind, by_category = points
    return by_ingredient, by_kind, by_category
