"""Density of a mix: what is known of it, and a typical figure for the rest."""

from __future__ import annotations

import math
from collections.abc import Mapping
from statistics import median

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import UNKNOWN
from optimiser.domain.properties import PROPERTIES
from optimiser.science.properties import look_up

__all__ = ["ROOM", "Density", "mix_density"]

ROOM = 20.0  # deg C
NAME = "density"
# Least, typical and greatest where no figure of a category is known, kg/m^3: pigments
# from mica to iron oxide, all else between a light oil and glycerin. Assumed, wide.
COLOUR, ANYTHING = (1000.0, 2800.0, 5000.0), (850.0, 1000.0, 1300.0)
# Of what nobody has told what it is: from a light oil to a clay. Assumed, wide.
STRANGER = (850.0, 1000.0, 2800.0)


class Density(Struct, frozen=True):
    """Density of a mix near 20 deg C, without air, kg/m^3.

    ``typical`` are the names that have no figure of their own: what is usual in their
    category was taken, ``typical_percent`` of the product. ``unknown`` are the names of
    what nobody has told what it is, ``unknown_percent`` of the product: it may be as
    light as an oil or as dense as a clay. ``measured`` is the maker's own figure, which
    has no spread.
    """

    low: float
    value: float
    high: float
    typical: tuple[str, ...] = ()
    typical_percent: float = 0.0
    unknown: tuple[str, ...] = ()
    unknown_percent: float = 0.0
    measured: bool = False

    @classmethod
    def of(cls, measured: float) -> Density:
        """Return what a maker measured, [kg/m^3]."""
        return cls(measured, measured, measured, measured=True)


def mix_density(amounts: Mapping[str, float], catalogue: Catalogue) -> Density:
    """Return the density of a mix, with its doubt.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent of the product, which add up to 100

    Notes
    -----
    Volumes add: ``1 / density = sum(share / own density)``. What has no figure takes
    the median of its category, with the extremes of the category as its spread.
    """
    spread = {key: _own(key, catalogue) for key in amounts}
    lacking = [key for key, found in spread.items() if found is None]
    lacking.sort(key=lambda key: -amounts[key])  # as they are named
    for key in lacking:
        spread[key] = _usual(catalogue.ingredients[key].category, catalogue)
    strangers = [
        key for key in lacking if catalogue.ingredients[key].category == UNKNOWN
    ]
    usual = [key for key in lacking if key not in strangers]
    ends = []
    for end in range(3):
        volumes = [
            percent / figures[end]
            for key, percent in amounts.items()
            if (figures := spread[key]) is not None
        ]
        ends.append(math.fsum(amounts.values()) / math.fsum(volumes))

    def told(keys: list[str]) -> tuple[tuple[str, ...], float]:
        names = tuple(catalogue.ingredients[key].name for key in keys)
        return names, math.fsum(amounts[key] for key in keys)

    return Density(ends[0], ends[1], ends[2], *told(usual), *told(strangers))


def _own(key: str, catalogue: Catalogue) -> tuple[float, float, float] | None:
    found = look_up(PROPERTIES[NAME], catalogue, key, ROOM)
    return None if found is None else (found.low, found.value, found.high)


def _usual(category: str, catalogue: Catalogue) -> tuple[float, float, float]:
    """Return what is usual in a category: its least, its middle, its greatest."""
    known = [
        found
        for key, each in catalogue.ingredients.items()
        if each.category == category and (found := _own(key, catalogue)) is not None
    ]
    if category == UNKNOWN:
        return STRANGER
    if not known:
        return COLOUR if category == "colour" else ANYTHING
    return (
        min(low for low, _, _ in known),
        median(value for _, value, _ in known),
        max(high for _, _, high in known),
    )
