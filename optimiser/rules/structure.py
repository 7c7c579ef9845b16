"""What sets a bar stays as strong as in the base where no window holds its firmness.

One wax sets a bar twice as hard as another, and of some nobody has judged how hard.
Without a window nothing would tell them apart: the cheapest, or the nearest by name,
would take the place of all the others.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import READY_MADE, Ingredient, Origin
from optimiser.domain.rule import Row, Rule
from optimiser.domain.scenario import Scenario
from optimiser.domain.unknown import in_part
from optimiser.domain.wording import Measured
from optimiser.rules.shares import sides
from optimiser.rules.space import Space
from optimiser.science.properties import figure
from optimiser.science.strength import strength_of

__all__ = ["is_judged", "is_unjudged", "rules", "sets", "unfirm"]

WAX = "wax"
SETTING = frozenset({WAX, "hard butter", "fatty alcohol"})
ROOM = 25.0  # deg C: where a bar's firmness is asked for
# Percent of a base from which its waxes, hard butters and fatty alcohols set it, and
# from which its water makes it a cream, of which no firmness is asked.
SET_BY, WET = 2.0, 10.0
# Times what the base's waxes add up to, where no band asks: as `begin` writes bands.
MORE = 1.25


def sets(each: Ingredient) -> bool:
    """Whether something sets a bar: a wax, a hard butter, an alcohol, an e-wax."""
    return each.category in SETTING or each.kind == READY_MADE


def _sets(formula: Mapping[str, float], catalogue: Catalogue) -> bool:
    """Whether a formula is one that sets, by what is in it: a balm, a bar, a butter."""
    shares: dict[str, float] = {}
    for key, share in formula.items():
        category = catalogue.ingredients[key].category
        shares[category] = shares.get(category, 0.0) + share
    set_by = sum(shares.get(each, 0.0) for each in SETTING)
    return set_by >= SET_BY and shares.get("water", 0.0) < WET


def _held(scenario: Scenario) -> bool:
    """Whether some window holds the firmness."""
    return any(window.property == "firmness" for window in scenario.windows)


def unfirm(
    formula: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> tuple[str, ...]:
    """Return what keeps a formula's firmness from being judged, the most first.

    None of them where a window holds it, or it is no formula that sets.
    """
    if _held(scenario) or not _sets(formula, catalogue):
        return ()
    lipids = in_part(formula, catalogue, "lipids")
    return tuple(
        catalogue.ingredients[key].name
        for key, _ in sorted(lipids.items(), key=lambda pair: -pair[1])
        if _firmness(key, catalogue) is None
    )


def is_judged(scenario: Scenario, catalogue: Catalogue) -> bool:
    """Whether what comes in is held to how hard it sets, by what sets the base.

    A window on the firmness does that by itself, and where nothing is known of what
    sets the base there is nothing to hold to.
    """
    return (
        not _held(scenario)
        and _sets(scenario.base, catalogue)
        and any(
            _firmness(own, catalogue) is not None
            for own in scenario.base
            if sets(catalogue.ingredients[own])
        )
    )


def is_unjudged(key: str, catalogue: Catalogue) -> bool:
    """Whether something sets, and nobody knows how hard."""
    return sets(catalogue.ingredients[key]) and _firmness(key, catalogue) is None


def _firmness(key: str, catalogue: Catalogue) -> float | None:
    found = figure(catalogue, "firmness", key, ROOM)
    return None if found is None else found.value


def rules(space: Space) -> Iterator[Rule]:
    """Yield that waxes stay as strong as in the base, and unknown ones as much.

    A band on wax is then kept by its strength too, so that of a wax twice as strong
    half as much is let in; without one there is little more of it than in the base.
    """
    base, catalogue = space.scenario.base, space.catalogue
    waxes = {
        key: share
        for key, share in base.items()
        if share > 0.0 and catalogue.ingredients[key].category == WAX
    }
    if not waxes or _held(space.scenario) or not _sets(base, catalogue):
        return
    strength = {
        key: found
        for key in {*space.ingredients, *waxes}
        if (found := strength_of(key, catalogue)) is not None
    }
    known = {key: share for key, share in waxes.items() if key in strength}
    if not known:
        return
    whole, unknown = sum(known.values()), sum(waxes.values()) - sum(known.values())
    first = max(known, key=known.__getitem__)
    times = {
        column: strength[key] / strength[first]
        for column in space.members(WAX)
        if (key := space.ingredients[column]) in strength
    }
    counted = sum(share * strength[key] for key, share in known.items())
    counted /= strength[first]
    low, high = None, counted * MORE
    for band in space.scenario.bands:
        if band.what == WAX and band.of == "product":
            low = max(0.0, (band.low or 0.0) - unknown) * counted / whole
            high = (100.0 if band.high is None else band.high) * counted / whole
    what = f"wax counted as {catalogue.ingredients[first].name}"
    alike = all(each == 1.0 for each in times.values())  # none to take for another
    for side, limit in () if alike else sides(low or None, min(100.0, high)):
        kept = _outward(limit, side)
        yield _rule(space, f"guard/{what}/{side}", what, side, kept, times)
    strangers = [c for c in space.members(WAX) if space.ingredients[c] not in strength]
    if strangers:
        what, most = "wax of unknown strength", dict.fromkeys(strangers, 1.0)
        yield _rule(space, f"guard/{what}", what, "max", round(unknown, 6), most)


def _outward(limit: float, side: str) -> float:
    """Return a limit to 0.01 %, on the side where the base itself still keeps it."""
    rounded = math.floor if side == "min" else math.ceil
    return rounded(round(limit * 100.0, 6)) / 100.0


def _rule(
    space: Space,
    name: str,
    what: str,
    side: str,
    limit: float,
    times: Mapping[int, float],
) -> Rule:
    own = Origin(space.scenario.file, field="base")
    return Rule(
        id=name,
        wording=Measured(what, none=f"no {what}" if side == "max" else None),
        kind="guard",
        side=side,
        limit=limit,
        unit="%",
        amounts=Row.of(times.items()),
        per_constant=1.0,
        owner="model",
        origin=space.scenario.origins.get("base", own),
        ends=(0.0, 100.0),
        told_empty=False,
        why="as in the base, for no window holds the firmness",
    )
