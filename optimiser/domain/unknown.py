"""What nobody has told what it is: a small dose is left aside, more is not judged.

A name that no catalogue knows, and that has no word to go by, is of the category
`material.UNKNOWN`. It may belong to any part of a formula, so whoever reads a figure of
a part asks here.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import CATEGORIES, PARTS, UNKNOWN
from optimiser.domain.scenario import Bound, Scenario

__all__ = ["FEW", "in_part", "left_aside", "may_hold", "small_in", "unjudged"]

# Percent of the product below which a figure is told without what is unknown, all of
# that together: what is used at so little is mostly a preservative or its like.
FEW = 2.0


def left_aside(formula: Mapping[str, float], catalogue: Catalogue) -> dict[str, float]:
    """Return the unknown that figures are told without, percent of the product."""
    found = _unknown(formula, catalogue)
    return found if sum(found.values()) < FEW else {}


def unjudged(formula: Mapping[str, float], catalogue: Catalogue) -> dict[str, float]:
    """Return so much of the unknown, in percent, that no figure can do without it."""
    found = _unknown(formula, catalogue)
    return found if sum(found.values()) >= FEW else {}


def in_part(
    formula: Mapping[str, float], catalogue: Catalogue, part: str
) -> dict[str, float]:
    """Return what of a formula a figure of one of the `PARTS` is about, percent.

    What is unknown is among it where there is too much of that to be left aside.
    """
    known = catalogue.ingredients
    much = unjudged(formula, catalogue)
    return {
        key: percent
        for key, percent in formula.items()
        if percent > 0.0
        and (
            key in much
            or (known[key].category in PARTS[part] and known[key].category != UNKNOWN)
        )
    }


def may_hold(names: Collection[str]) -> bool:
    """Whether the unknown may belong to a part that is made of these.

    >>> may_hold({"lipids", "wax"}), may_hold({"beeswax"})
    (True, False)
    """
    return not set(CATEGORIES).isdisjoint(names)


def small_in(scenario: Scenario, catalogue: Catalogue) -> frozenset[str]:
    """Return the unknown ingredients of a base that stay too few to count there.

    What a scenario asks for by itself may come to more than the base has.
    """
    shares = dict(_unknown(scenario.base, catalogue))
    asked: Iterable[Bound] = (
        *scenario.pins,
        *scenario.bands,
        *(each for each in scenario.limits if each.low),
    )
    for each in asked:
        if each.what == UNKNOWN or each.what in shares:
            for key in shares if each.what == UNKNOWN else (each.what,):
                high = FEW if each.high is None else each.high
                shares[key] = max(shares[key], high)
    return frozenset(shares if sum(shares.values()) < FEW else ())


def _unknown(formula: Mapping[str, float], catalogue: Catalogue) -> dict[str, float]:
    return {
        key: percent
        for key, percent in formula.items()
        if percent > 0.0 and catalogue.ingredients[key].category == UNKNOWN
    }
