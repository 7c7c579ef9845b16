"""A base to start from: the recipes' centre, brought inside every rule."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.scenario import Aim, Bound, Scenario
from optimiser.errors import InputError
from optimiser.explaining.clashes import smallest_clash
from optimiser.rules import build
from optimiser.solving import Infeasible, Session, optimise
from optimiser.studies.survey.centre import centre
from optimiser.studies.survey.summaries import members
from optimiser.studies.survey.values import Band, Base, BaseLine, Recipe

__all__ = ["Wishes", "propose_base", "seen_ingredients"]

FILE = "scenario.toml"
MOST_OF_A_CATEGORY = 3  # ingredients of the base in one category
LEAST_OF_A_CATEGORY = 0.15  # share of its category from which one is kept
TRACE = 1e-6  # percent
WIDENED = (
    "no formula of the ingredients that these recipes name keeps every rule, so the "
    "whole catalogue was looked through"
)
NO_PRESERVATIVE = "it holds water and no preservative, for these recipes name none"


class Wishes(Struct, frozen=True):
    """What the base is for: use, markets, climate, and whose prices count."""

    title: str
    use: str
    markets: tuple[str, ...]
    workshop: str | None
    zone: str | None = None


def seen_ingredients(recipes: Sequence[Recipe]) -> Counter[str]:
    """Return how many recipes name each ingredient, alone or in a choice."""
    return Counter(
        key
        for recipe in recipes
        for key in {
            key
            for line in recipe.lines
            if line.status in {"read", "no amount"}
            for key in line.match.options
        }
    )


def propose_base(
    recipes: Sequence[Recipe],
    bands: Sequence[Band],
    everything: Sequence[Recipe],
    catalogue: Catalogue,
    wishes: Wishes,
) -> Base:
    """Return the compositional centre, and the nearest formula inside every rule.

    Parameters
    ----------
    recipes : sequence of Recipe
        Those of one structure.
    bands : sequence of Band
        Their bands; what half of the recipes hold is in the base.
    everything : sequence of Recipe
        All recipes read: what stands in for a bare category is what most of
        them name.
    """
    targets, stand_ins = _centre(recipes, bands, everything, catalogue, wishes)
    own = frozenset(targets)
    seen = frozenset(seen_ingredients(recipes)) | own
    session: Session | None = None
    for only in (own, seen, frozenset[str]()):
        scenario = _scenario(targets, bands, only, wishes)
        amounts, session = _nearest(scenario, catalogue)
        if amounts:
            remarks = _remarks(amounts, catalogue, widened=not only)
            remarks += _off_the_middle(amounts, bands, catalogue)
            moved = _distance(amounts, targets)
            lines = _lines(amounts, targets, stand_ins)
            kept = tuple(sorted(seen | set(amounts)))
            return Base(lines, moved, (), tuple(remarks), kept)
    return Base((), 0.0, smallest_clash(session) if session else ())


def _nearest(
    scenario: Scenario, catalogue: Catalogue
) -> tuple[dict[str, float], Session | None]:
    """Return the nearest formula to a scenario's base, or the session to ask why not.

    Nothing, and no session, where an ingredient lacks a figure that a rule needs.
    """
    try:
        programme = build(scenario, catalogue)
    except InputError:
        return {}, None
    found = optimise(programme)
    if isinstance(found, Infeasible):
        return {}, found.session
    return {
        key: float(found.amounts[at])
        for at, key in enumerate(programme.ingredients)
        if found.amounts[at] > TRACE
    }, None


def _centre(
    recipes: Sequence[Recipe],
    bands: Sequence[Band],
    everything: Sequence[Recipe],
    catalogue: Catalogue,
    wishes: Wishes,
) -> tuple[dict[str, float], dict[str, str]]:
    """Return the centre in percent by ingredient, and what stands in for what."""
    parts = [b.category for b in bands if 2 * len(b.summary.users) >= b.summary.among]
    if not parts:
        return {}, {}
    shares = np.array(
        [[r.share(*members(part)).value for part in parts] for r in recipes]
    )
    middle = 100.0 * centre(shares)
    asked = [b for b in bands if b.remark and b.category not in parts]
    for band in asked:  # a preservative that fewer than half of them have
        middle *= 1.0 - band.summary.median / 100.0
        middle = np.append(middle, max(band.summary.median, band.low or 0.0))
        parts.append(band.category)
    targets: dict[str, float] = {}
    stand_ins: dict[str, str] = {}
    for part, share in zip(parts, middle, strict=True):
        weights = _weights(part, recipes, catalogue, wishes)
        if not weights:
            key = _stand_in(part, everything, catalogue, wishes)
            weights, stand_ins[key] = {key: 1.0}, part
        for key, weight in weights.items():
            targets[key] = targets.get(key, 0.0) + float(share) * weight
    return targets, stand_ins


def _weights(
    part: str, recipes: Sequence[Recipe], catalogue: Catalogue, wishes: Wishes
) -> dict[str, float]:
    """Return how a category is shared among its ingredients, summing to 1.

    The mean over the recipes that name some; a choice is shared equally. The few
    that matter are kept, for a base of twelve oils is nobody's recipe.
    """
    mean: dict[str, float] = {}
    for recipe in recipes:
        mine = _named(part, recipe, catalogue)
        total = sum(mine.values())
        for key, share in mine.items():
            if total > 0 and _priced(key, catalogue, wishes):
                mean[key] = mean.get(key, 0.0) + share / total
    whole = sum(mean.values())
    ranked = sorted(mean, key=lambda key: -mean[key])[:MOST_OF_A_CATEGORY]
    kept = [key for key in ranked if mean[key] >= LEAST_OF_A_CATEGORY * whole]
    kept_sum = sum(mean[key] for key in kept)
    return {key: mean[key] / kept_sum for key in kept}


def _named(part: str, recipe: Recipe, catalogue: Catalogue) -> dict[str, float]:
    mine: dict[str, float] = {}
    for line in recipe.lines:
        if line.percent is None or line.category not in members(part):
            continue
        options = [
            key
            for key in line.match.options
            if catalogue.ingredients[key].category in members(part)
        ]
        for key in options:
            mine[key] = mine.get(key, 0.0) + line.percent.value / len(options)
    return mine


def _priced(key: str, catalogue: Catalogue, wishes: Wishes) -> bool:
    return wishes.workshop is None or catalogue.price_per_kg(key) is not None


def _stand_in(
    part: str, everything: Sequence[Recipe], catalogue: Catalogue, wishes: Wishes
) -> str:
    """Return the ingredient that most recipes name in a category."""
    counts = seen_ingredients(everything)
    among = [
        key
        for key, each in catalogue.ingredients.items()
        if each.category in members(part)
    ]
    priced = [key for key in among if _priced(key, catalogue, wishes)]
    return max(priced or among, key=lambda key: counts[key])


def _scenario(
    targets: Mapping[str, float],
    bands: Sequence[Band],
    only: frozenset[str],
    wishes: Wishes,
) -> Scenario:
    """Return the question whose answer is the nearest formula to the centre."""
    return Scenario(
        title=wishes.title,
        file=FILE,
        workshop=wishes.workshop or "",
        use=wishes.use,
        markets=wishes.markets,
        batch_kg=1.0,
        aims=(Aim("change"),),
        base=dict(targets),
        only=only,
        bands=tuple(_bound(each) for each in bands),
        zone=wishes.zone,
    )


def _bound(band: Band) -> Bound:
    origin = Origin(FILE, field=f"bands.{band.category}")
    return Bound(band.category, band.low, band.high, "product", None, origin)


def _distance(amounts: Mapping[str, float], targets: Mapping[str, float]) -> float:
    """Return the change between two formulas, in points."""
    keys = {*amounts, *targets}
    return sum(abs(amounts.get(k, 0.0) - targets.get(k, 0.0)) for k in keys) / 2


def _lines(
    amounts: Mapping[str, float],
    targets: Mapping[str, float],
    stand_ins: Mapping[str, str],
) -> tuple[BaseLine, ...]:
    return tuple(
        BaseLine(key, amount, targets.get(key, 0.0), stand_ins.get(key))
        for key, amount in sorted(amounts.items(), key=lambda item: -item[1])
    )


def _off_the_middle(
    amounts: Mapping[str, float], bands: Sequence[Band], catalogue: Catalogue
) -> list[str]:
    """Say where a base is outside what the middle half of the recipes hold.

    A mean of ratios gives little weight to what some recipes do without.
    """
    said = []
    for band in bands:
        share = sum(
            percent
            for key, percent in amounts.items()
            if catalogue.ingredients[key].category == band.category
        )
        low, high = band.summary.lower, band.summary.upper
        if len(band.summary.users) > 2 and not low - 1.0 <= share <= high + 1.0:
            said.append(
                f"{band.category} is {share:.1f} % in the base, and {low:.1f} to"
                f" {high:.1f} % in the middle half of the recipes that hold it: the"
                " centre gives little weight to what some do without"
            )
    return said


def _remarks(
    amounts: Mapping[str, float], catalogue: Catalogue, widened: bool
) -> list[str]:
    """Return what has to be said of a base."""
    held = {catalogue.ingredients[key].category for key in amounts}
    remarks = [WIDENED] if widened else []
    return remarks + (
        [NO_PRESERVATIVE] if "water" in held and "preservative" not in held else []
    )
