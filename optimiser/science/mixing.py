"""How figures of ingredients mix: the two sums whose ratio is the property.

Every property here is ``sum(above * x) / sum(below * x)`` over its part, or the
exponential of that for a logarithmic one. Sources: conservation of mass (mass),
additive volumes (volume), Arrhenius' rule for viscosity (logarithms add).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TypeVar

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Figure
from optimiser.domain.properties import Property
from optimiser.domain.rule import Term
from optimiser.science.properties import look_up, weakest

__all__ = ["Blend", "blend_value", "end_for", "is_solid", "terms"]

Number = TypeVar("Number", float, Floats)


class Blend(Struct, frozen=True):
    """A property of one formula, with its spread; None where a figure is missing."""

    low: float | None
    value: float | None
    high: float | None
    missing: tuple[str, ...]
    evidence: str | None


def terms(mixing: str, number: Number, solid: bool) -> tuple[Number, Number]:
    """Return what 1 % of an ingredient adds above and below the line.

    ``number`` is the ingredient's own figure in the property's unit (for a solids
    load its density), or an array of such; ``solid`` says whether it counts as solids
    there.

    >>> terms("volume share", 2000.0, True)
    (0.05, 0.0005)
    """
    one = number * 0.0 + 1.0
    if mixing == "mass":
        return number, one
    if mixing == "log":
        return _log(number), one
    if mixing == "volume":
        return one, 1.0 / number
    if mixing != "volume share":
        raise ValueError(f"no blend has what mixes by {mixing!r}")
    return (100.0 / number if solid else 0.0 * one), 1.0 / number


def _log(number: Number) -> Number:
    return np.log(number) if isinstance(number, np.ndarray) else math.log(number)


def end_for(term: Term, side: str) -> float:
    """Return the end of a term's figure at which a side is hardest to keep.

    The solids' share of a volume falls as the solids are denser, so there it is the
    other end; what counts against the rule's value (``above`` below zero) likewise.
    """
    turned = (term.solid and term.mixing == "volume share") != (term.above < 0.0)
    low = (side == "min") != turned
    return term.figure.low if low else term.figure.high


def is_solid(catalogue: Catalogue, ingredient: str) -> bool:
    """Whether an ingredient stays a particle in the melt."""
    return catalogue.ingredients[ingredient].category in {"exfoliant", "powder"}


def _ratio(
    kind: Property,
    amounts: Mapping[str, float],
    numbers: Mapping[str, float],
    catalogue: Catalogue,
) -> float | None:
    above = below = 0.0
    for ingredient, amount in amounts.items():
        solid = is_solid(catalogue, ingredient)
        a, b = terms(kind.mixing, numbers[ingredient], solid)
        above += a * amount
        below += b * amount
    if below == 0.0:
        return None
    return math.exp(above / below) if kind.mixing == "log" else above / below


def blend_value(
    kind: Property,
    amounts: Mapping[str, float],
    at: float | None,
    catalogue: Catalogue,
) -> Blend:
    """Return a property of the ingredients of one part.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent, positive entries only
        The ingredients of the part.
    at : float or None
        Temperature, deg C.
    """
    figures: dict[str, Figure] = {}
    missing = []
    for ingredient in amounts:
        found = look_up(kind, catalogue, ingredient, at)
        if found is None:
            missing.append(catalogue.ingredients[ingredient].name)
        else:
            figures[ingredient] = found
    if missing or not amounts:
        return Blend(None, None, None, tuple(missing), None)
    ends = []
    for end, other in (("low", "high"), ("value", "value"), ("high", "low")):
        numbers = {}
        for key, each in figures.items():  # denser solids take less of the volume
            turned = kind.mixing == "volume share" and is_solid(catalogue, key)
            numbers[key] = float(getattr(each, other if turned else end))
        ends.append(_ratio(kind, amounts, numbers, catalogue))
    evidence = weakest([f.evidence for f in figures.values()])
    return Blend(ends[0], ends[1], ends[2], (), evidence)
