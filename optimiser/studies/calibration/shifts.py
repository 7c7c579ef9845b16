"""How an ingredient's published curve may move, and the rows that say it has.

A curve moves between its low and its high end by one number for all temperatures:
0 is the published value, +1 half the published spread firmer, -1 as much softer.
"""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Figure
from optimiser.domain.properties import SOLID_FATS
from optimiser.science.properties import figure

__all__ = ["Moved", "OverrideRow", "half_spread", "moved_catalogue", "override_rows"]

SOLID_FAT, WAX = "solid fat", "wax firmness"
# Lots and tempering differ even where only one figure is published: at least so many
# points, more where the figure is only recalled; less near 0 and 100, which hold.
LEAST, LEAST_WEAK, TAPER = 5.0, 10.0, 10.0
WEAK = frozenset({"estimated", "memory_low", "assumed"})
REACH = 10.0  # K beyond the trials within which their word fades
# Share of a wax's own term, where it has no spread.
LEAST_WAX = 0.25


class Moved(Struct, frozen=True):
    """How far an ingredient's curve moved, and which part of its spread is left.

    ``by`` is in half spreads; ``left`` is 1 where the trials taught nothing. Both
    hold between ``coldest`` and ``hottest``, where the bars were tried, [deg C], and
    fade to nothing 10 K beyond.
    """

    by: float
    left: float
    coldest: float
    hottest: float

    def at(self, temperature: float) -> tuple[float, float]:
        """Return the move and what is left of the spread at a temperature."""
        beyond = max(self.coldest - temperature, temperature - self.hottest, 0.0)
        reach = max(0.0, 1.0 - beyond / REACH)
        return self.by * reach, self.left * reach + (1.0 - reach)


class OverrideRow(Struct, frozen=True):
    """One row for the workshop: at deg C (None for a wax's term), low, value, high."""

    ingredient: str
    property: str
    at: float | None
    low: float
    value: float
    high: float
    unit: str


def half_spread(
    catalogue: Catalogue, ingredient: str, property_name: str, at: float
) -> float | None:
    """Return the points that one step moves an ingredient's figure; None if unknown.

    Parameters
    ----------
    property_name : str
        "firmness" or "solid fat".
    at : float
        Temperature, [deg C].

    Returns
    -------
    float or None
        Points per 100 % of the ingredient; 0 for what never moves, such as an oil.
    """
    found = figure(catalogue, property_name, ingredient, at)
    if found is None:
        return None
    category = catalogue.ingredients[ingredient].category
    if category == "wax" and property_name == "firmness":
        return max((found.high - found.low) / 2.0, LEAST_WAX * found.value)
    # An acid, alcohol or emulsifier without a table of its own has no curve to move.
    known = catalogue.figures.get(SOLID_FAT, {})
    if category not in SOLID_FATS or ingredient not in known:
        return 0.0
    return _half(found)


def _half(found: Figure) -> float:
    """Return half the spread of a solid fat, at least a few points on the slope."""
    least = LEAST_WEAK if found.evidence in WEAK else LEAST
    edge = min(found.value, 100.0 - found.value) / TAPER
    return max((found.high - found.low) / 2.0, least * min(1.0, edge))


def moved_catalogue(catalogue: Catalogue, moves: Mapping[str, Moved]) -> Catalogue:
    """Return a catalogue whose curves have moved.

    Parameters
    ----------
    moves : mapping of ingredient key to Moved
    """
    figures = {name: dict(rows) for name, rows in catalogue.figures.items()}
    for row in override_rows(catalogue, moves):
        old = catalogue.figures[row.property][row.ingredient]
        curve = figures[row.property].setdefault(row.ingredient, {})
        if curve is old:
            curve = figures[row.property][row.ingredient] = dict(old)
        curve_figure = replace(
            old[row.at],
            value=row.value,
            low=row.low,
            high=row.high,
            evidence="estimated",
        )
        figures[row.property][row.ingredient] = {**curve, row.at: curve_figure}
    return replace(catalogue, figures=figures)


def override_rows(
    catalogue: Catalogue, moves: Mapping[str, Moved]
) -> tuple[OverrideRow, ...]:
    """Return the rows that put moved curves in the place of published ones.

    Solid fat stays between 0 and 100 and never rises on warming.
    """
    rows: list[OverrideRow] = []
    for ingredient, moved in moves.items():
        if catalogue.ingredients[ingredient].category == "wax":
            rows += _wax_rows(catalogue, ingredient, moved)
        else:
            rows += _fat_rows(catalogue, ingredient, moved)
    return tuple(rows)


def _wax_rows(catalogue: Catalogue, ingredient: str, moved: Moved) -> list[OverrideRow]:
    rows = []
    for at, found in catalogue.figures.get(WAX, {}).get(ingredient, {}).items():
        half = max((found.high - found.low) / 2.0, LEAST_WAX * found.value)
        value = max(0.0, found.value + moved.by * half)
        low = max(0.0, value - (found.value - found.low) * moved.left)
        high = value + (found.high - found.value) * moved.left
        rows.append(OverrideRow(ingredient, WAX, at, low, value, high, found.unit))
    return rows


def _fat_rows(catalogue: Catalogue, ingredient: str, moved: Moved) -> list[OverrideRow]:
    rows: list[OverrideRow] = []
    caps = (100.0, 100.0, 100.0)  # of low, value and high: what was cooler
    points = catalogue.figures.get(SOLID_FAT, {}).get(ingredient, {})
    known = sorted((t, each) for t, each in points.items() if t is not None)
    for at, found in known:
        by, left = moved.at(at)
        value = _kept(found.value + by * _half(found), caps[1])
        low = _kept(value - (found.value - found.low) * left, caps[0])
        high = _kept(value + (found.high - found.value) * left, caps[2])
        caps = (min(low, value), value, max(high, value))
        rows.append(
            OverrideRow(ingredient, SOLID_FAT, at, caps[0], value, caps[2], found.unit)
        )
    return rows


def _kept(number: float, cap: float) -> float:
    return min(max(number, 0.0), cap)
