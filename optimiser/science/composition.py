"""What ingredients are made of for melting: substances, and what never sets."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.fats import INERT, OTHER, FatData
from optimiser.domain.material import READY_MADE, UNKNOWN
from optimiser.domain.properties import MELTS
from optimiser.science.triglycerides import chain_shares, generated

__all__ = ["LIQUID_MASS", "SHORT", "composition_of", "takes_part", "unknown_waxes"]

SHORT = frozenset({"Cy", "Ca", "La"})
# Molar mass of what is liquid at every temperature here and no triglyceride, g/mol.
LIQUID_MASS = {"scent": 150.0, "antioxidant": 430.0, "emulsifier": 430.0}
# Part of a fat's chains that must be long for it to count as no lauric fat.
LEAST_LONG = 0.97
# What is unknown may melt.
MELTING_CATEGORIES = MELTS | frozenset(LIQUID_MASS) | {UNKNOWN}
# What sets at its own temperature, however little there is: from so much of it on, in
# percent of a formula, where all has melted or sets is not known without its melting.
WAXY = frozenset({"wax", "fatty alcohol"})
ENOUGH = 1.0


def takes_part(catalogue: Catalogue, ingredient: str) -> bool:
    """Whether an ingredient is part of the melt: fats, waxes, oils and what is oily."""
    return catalogue.ingredients[ingredient].category in MELTING_CATEGORIES


def composition_of(ingredient: str, catalogue: Catalogue) -> dict[str, float] | None:
    """Return substances of an ingredient, percent by weight; None if not known.

    Triglycerides too small to be listed count as liquid: many kinds, little of each.
    A butter without a triglyceride table is made up from its fatty acids when it is
    of the cocoa type; a lauric, animal or other butter without a table is not known.
    Oils without fatty acids, scents and emulsifiers are one liquid that never sets.
    """
    known = catalogue.ingredients[ingredient]
    kind = known.family if known.category.endswith("butter") else known.category
    return _composition(ingredient, kind, catalogue.fats)


@lru_cache(maxsize=512)
def _composition(
    ingredient: str, kind: str | None, data: FatData
) -> dict[str, float] | None:
    listed = data.triglycerides.get(ingredient)
    if listed is not None and not data.correlation:
        return None
    if listed is not None:
        named = {name: share for name, share in listed.items() if name != INERT}
        factor = (100.0 - listed.get(INERT, 0.0)) / sum(named.values())
        shares = {name: factor * share for name, share in named.items()}
        liquid = listed.get(INERT, 0.0) + shares.pop(OTHER, 0.0)
        return shares | ({INERT: liquid} if liquid else {})
    solutes = data.solutes.get(ingredient)
    if solutes is not None:
        shares = {f"{ingredient}: {part.part}": part.percent for part in solutes}
        liquid = 100.0 - sum(shares.values())
        return shares | ({INERT: liquid} if liquid > 1e-9 else {})
    if (
        data.correlation
        and ingredient in data.acids
        and kind in {"liquid oil", "cocoa-type"}
    ):
        chains = chain_shares(data.acids[ingredient])
        long = {code: s for code, s in chains.items() if code not in SHORT}
        kept = sum(long.values())
        if kept > LEAST_LONG:
            return generated({code: share / kept for code, share in long.items()})
    if kind == "liquid oil" or kind in LIQUID_MASS:
        return {INERT: 100.0}
    return None


def unknown_waxes(
    formula: Mapping[str, float], catalogue: Catalogue
) -> tuple[str, ...]:
    """Return the waxes of a formula of whose melting nothing is known, by key.

    Parameters
    ----------
    formula : mapping of ingredient key to percent
    """
    return tuple(
        key
        for key, share in formula.items()
        if share >= ENOUGH
        and (
            (each := catalogue.ingredients[key]).category in WAXY
            or each.kind == READY_MADE
        )
        and key not in catalogue.fats.solutes
    )
