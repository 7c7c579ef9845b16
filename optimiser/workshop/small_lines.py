"""Lines below what a scale should weigh: a larger batch, a premix or a finer scale."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import PARTS
from optimiser.workshop.weighing import SERIES, WeighedLine, Weighing

__all__ = ["DIVISIONS", "Premix", "SmallLine", "least_weighed", "small_lines"]

# Steps of a scale that the least weighing has where the workshop does not say it: a
# weights office's rule for valuables.
DIVISIONS = 50
# A premix is one part in so many.
ONE_IN = (2, 4, 5, 10, 20, 25, 50, 100, 200, 500, 1000)
ROUNDING = 1e-9
# What sets as it cools; scents and antioxidants are stirred in.
MELTED = frozenset(PARTS["lipids"]) - {"liquid oil", "scent", "antioxidant"}
LIPIDS = frozenset(PARTS["lipids"])
WATERY = frozenset({"water", "humectant"})


class Premix(Struct, frozen=True):
    """One part of a small line in ``one_in`` parts with a carrier of the same formula.

    To be made from ``small_kg`` and ``carrier_kg``; then ``take_kg`` of it stand for
    the line and for ``saved_kg`` of the carrier, of which ``left_kg`` are still to be
    weighed, the premixes before it made too. ``ask`` if whether the two mix is the
    supplier's to say, ``melted`` if they have to be melted together, ``dry`` if they
    are powders.
    """

    carrier: str
    carrier_name: str
    one_in: int
    small_kg: float
    carrier_kg: float
    take_kg: float
    saved_kg: float
    left_kg: float
    ask: bool
    melted: bool
    dry: bool


class SmallLine(Struct, frozen=True):
    """A line below the least weighing, and what would do, kg; None where nothing does.

    ``step`` is that of its scale, ``larger_kg`` the batch in which it could be weighed,
    ``finer`` the readability.
    """

    ingredient: str
    name: str
    kg: float
    step: float
    larger_kg: float
    premix: Premix | None
    finer: float | None


def least_weighed(readability: float, smallest: float | None) -> float:
    """Return the least that should be weighed, [kg].

    >>> least_weighed(0.0001, None), least_weighed(0.0001, 0.002)
    (0.005, 0.002)
    """
    return DIVISIONS * readability if smallest is None else smallest


def small_lines(
    weighing: Weighing,
    least: Mapping[float, float],
    catalogue: Catalogue,
) -> tuple[SmallLine, ...]:
    """Return what would do for each line below the least weighing, smallest first.

    Parameters
    ----------
    least : mapping of float to float
        The least that a scale should weigh, by its step, [kg].
    """
    left = {line.ingredient: line.kg for line in weighing.lines}
    floors = {line.ingredient: least[line.step] for line in weighing.lines}
    found = []
    for line in sorted(weighing.lines, key=lambda each: each.kg):
        step, smallest = line.step, least[line.step]
        if line.kg >= smallest * (1.0 - ROUNDING):
            continue
        premix = _premix(line, left, floors, catalogue)
        if premix is not None:
            left[premix.carrier] = premix.left_kg
        found.append(
            SmallLine(
                line.ingredient,
                catalogue.ingredients[line.ingredient].name,
                line.kg,
                step,
                100.0 * smallest / line.wanted_percent,
                premix,
                _finer(line.kg, step, smallest),
            )
        )
    return tuple(found)


def _finer(kg: float, readability: float, smallest: float) -> float | None:
    """Return the coarsest step whose least weighing, in as many steps, is no more."""
    steps = smallest / readability
    able = [s for s in SERIES if s < readability and steps * s <= kg * (1 + ROUNDING)]
    return max(able, default=None)


def _premix(
    line: WeighedLine,
    left: Mapping[str, float],
    floors: Mapping[str, float],
    catalogue: Catalogue,
) -> Premix | None:
    """Return the strongest premix of which enough is taken to be weighed.

    ``left`` is what of each line is still to be weighed, ``floors`` the least of it
    that its scale should weigh, [kg].
    """
    step, smallest = line.step, floors[line.ingredient]
    carrier = _carrier(line.ingredient, left, catalogue)
    if carrier is None:
        return None
    for one_in in ONE_IN:
        take = line.kg * one_in
        rest = left[carrier] - (take - line.kg)
        if take < smallest * (1.0 - ROUNDING):
            continue
        if rest < floors[carrier] and abs(rest) > step * ROUNDING:
            return None
        small = math.ceil(max(smallest, line.kg) / step - ROUNDING) * step
        own, other = (catalogue.ingredients[key] for key in (line.ingredient, carrier))
        return Premix(
            carrier,
            other.name,
            one_in,
            small,
            small * (one_in - 1),
            take,
            take - line.kg,
            max(0.0, rest),
            ask=own.dissolves not in {"yes", "no"},
            melted=bool({own.category, other.category} & MELTED),
            dry=other.category in PARTS["solids"],
        )
    return None


def _carrier(key: str, left: Mapping[str, float], catalogue: Catalogue) -> str | None:
    """Return the largest line that a small one mixes with; None where none is told.

    What dissolves in water goes into water, what does not into oil, or, where there is
    none, into a butter; grains and powders, which would sink, go among their like.
    """
    own = catalogue.ingredients[key]
    if own.category in PARTS["solids"]:
        return _largest(key, left, catalogue, PARTS["solids"])
    if own.dissolves == "yes":
        return _largest(key, left, catalogue, WATERY)
    oil = _largest(key, left, catalogue, ("liquid oil",))
    return oil or _largest(key, left, catalogue, LIPIDS - {"wax"})


def _largest(
    key: str, left: Mapping[str, float], catalogue: Catalogue, of: Collection[str]
) -> str | None:
    able = [
        each
        for each in left
        if each != key and catalogue.ingredients[each].category in of
    ]
    return max(able, key=lambda each: left[each], default=None)
