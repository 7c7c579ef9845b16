"""What recipes hold of each category and ingredient, and the bands that follow."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import CATEGORIES
from optimiser.domain.recipe import Span
from optimiser.studies.survey.structures import TENTH
from optimiser.studies.survey.values import Band, Influence, Recipe, Summary

__all__ = [
    "REACTING",
    "bands",
    "categories_of",
    "category_summaries",
    "grainy",
    "ingredient_summaries",
    "keeping",
    "members",
    "reacting",
    "rounded",
    "tops",
]

REACTING = frozenset({"acid", "alkali"})
BUTTERS = ("butters", "hard butter", "soft butter")
NEAR = 0.2  # a fifth of the median
WATERY = "asked for because of the water, though not every recipe has it"
LARGE = 0.1  # an end that one recipe moves by a tenth of the band rests on it


def categories_of(recipes: Sequence[Recipe]) -> list[str]:
    """Return the categories that bands are about, in the usual order.

    Where a recipe leaves open whether a butter is hard or soft, both are one: butters.
    """
    found = {line.category for recipe in recipes for line in recipe.lines}
    order: list[str] = [each for each in CATEGORIES if each in found]
    if "butters" in found:
        order = ["butters", *(each for each in order if each not in BUTTERS)]
    return order


def members(category: str) -> tuple[str, ...]:
    """Return the categories of lines that count for a category."""
    return BUTTERS if category == "butters" else (category,)


def category_summaries(recipes: Sequence[Recipe]) -> tuple[Summary, ...]:
    """Return the summary of every category; hard and soft butters where decided."""
    found = []
    for category in categories_of(recipes):
        found.append(_of_categories(category, recipes))
        if category == "butters":
            decided = [r for r in recipes if not r.share("butters").value]
            found += [_of_categories(each, decided) for each in BUTTERS[1:] if decided]
    return tuple(each for each in found if each is not None)


def _of_categories(category: str, recipes: Sequence[Recipe]) -> Summary | None:
    shares = {each.name: each.share(*members(category)) for each in recipes}
    return _summary(category, shares, len(recipes))


def ingredient_summaries(recipes: Sequence[Recipe]) -> tuple[Summary, ...]:
    """Return the summary of every ingredient that a recipe names alone."""
    shares: dict[str, dict[str, Span]] = {}
    for recipe in recipes:
        for line in recipe.lines:
            key = line.match.ingredient
            if key is None or line.percent is None:
                continue
            mine, own = shares.setdefault(key, {}), line.percent
            before = mine.get(recipe.name)
            mine[recipe.name] = own if before is None else before.plus(own)
    found = [_summary(key, mine, len(recipes)) for key, mine in shares.items()]
    kept = [each for each in found if each is not None]
    return tuple(sorted(kept, key=lambda each: (-len(each.users), -each.median)))


def _summary(what: str, shares: dict[str, Span], among: int) -> Summary | None:
    """Return the figures over those that hold some of it; None if none does."""
    held = {name: span for name, span in shares.items() if span.high > 0}
    if not held:
        return None
    values = np.array([span.value for span in held.values()])
    lower, median, upper = np.quantile(values, [0.25, 0.5, 0.75])
    least_of = min(held, key=lambda name: held[name].low)
    most_of = max(held, key=lambda name: held[name].high)
    return Summary(
        what,
        tuple(held),
        among,
        held[least_of].low,
        float(lower),
        float(median),
        float(upper),
        held[most_of].high,
        int(np.sum(np.abs(values - median) <= NEAR * median)),
        least_of,
        most_of,
    )


def bands(recipes: Sequence[Recipe], middle: bool = False) -> tuple[Band, ...]:
    """Return a band for every category: the recipes' range, rounded outward.

    What most of them hold has a least, that of those that hold it.

    Parameters
    ----------
    recipes : sequence of Recipe
        Recipes of one structure.
    middle : bool
        Take the middle half of the recipes (quartiles) in place of all of them.
    """
    found: list[Band] = []
    for category in categories_of(recipes):
        shares = {each.name: each.share(*members(category)) for each in recipes}
        summary = _summary(category, shares, len(recipes))
        if summary is None:
            continue
        low, high = summary.least, summary.most
        if middle:
            low, high = summary.lower, summary.upper
        most = 2 * len(summary.users) > summary.among
        least = rounded(low, up=False) if most else 0.0
        held = {name: shares[name] for name in summary.users}
        influences = () if middle else tuple(_influences(held if most else shares))
        top = min(100.0, rounded(high, up=True))
        found.append(Band(category, least or None, top, summary, influences))
    return tuple(found)


def grainy(found: Sequence[Band], recipes: Sequence[Recipe]) -> tuple[Band, ...]:
    """Return bands that ask for grains where every recipe holds a tenth of them.

    "Sugar, up to 100 %" reads down to none, and a scrub bar is none without.
    """
    scrubs = all(each.share("exfoliant").value >= TENTH for each in recipes)
    return tuple(
        replace(each, low=max(each.low or 0.0, TENTH))
        if scrubs and each.category == "exfoliant"
        else each
        for each in found
    )


def keeping(
    found: Sequence[Band], recipes: Sequence[Recipe], least: float | None
) -> tuple[Band, ...]:
    """Return bands that ask for a preservative where most of the recipes hold water.

    Parameters
    ----------
    least : float or None
        The least dose that is usual, percent of the product.
    """
    watery = sum(each.share("water").value > 0 for each in recipes)
    if least is None or 2 * watery < len(recipes):
        return tuple(found)
    return tuple(
        replace(each, low=max(each.low or 0.0, least), remark=WATERY)
        if each.category == "preservative" and each.high > least
        else each
        for each in found
    )


def tops(recipes: Iterable[Recipe]) -> dict[str, float]:
    """Return the most of each ingredient in one recipe, percent, rounded outward.

    An option of a choice may be all of it.
    """
    most: dict[str, float] = {}
    for recipe in recipes:
        mine: dict[str, float] = {}
        for line in recipe.lines:
            percent = 0.0 if line.percent is None else line.percent.high
            if line.match.mixed and line.match.options:
                percent /= len(line.match.options)
            for key in line.match.options if percent > 0.0 else ():
                mine[key] = mine.get(key, 0.0) + percent
        for key, percent in mine.items():
            most[key] = max(most.get(key, 0.0), percent)
    return {key: min(100.0, rounded(each, up=True)) for key, each in most.items()}


def reacting(found: Iterable[Summary], catalogue: Catalogue) -> dict[str, float]:
    """Return the least of acids and alkalis that most recipes hold, rounded outward.

    One cannot take the other's place: a melt without its acid does not fizz.
    """
    least_of = {}
    for each in found:
        if catalogue.ingredients[each.what].kind not in REACTING:
            continue
        least = rounded(each.least, up=False)
        if 2 * len(each.users) > each.among and least > 0.0:
            least_of[each.what] = least
    return least_of


def _step(value: float) -> float:
    return next((s for top, s in ((1, 0.05), (2, 0.1), (10, 0.5)) if value < top), 1.0)


def rounded(value: float, *, up: bool) -> float:
    """Return a share rounded outward to what a maker would write.

    >>> rounded(24.6, up=False), rounded(33.2, up=True), rounded(0.52, up=True)
    (24.0, 34.0, 0.55)
    """
    step = _step(value)
    exact = value / step
    whole = math.ceil(exact - 1e-6) if up else math.floor(exact + 1e-6)
    return round(whole * step, 2)


def _influences(shares: dict[str, Span]) -> Iterable[Influence]:
    """Yield the ends that one recipe alone moves by a tenth of the band or more."""
    if len(shares) < 3:
        return
    by_low = sorted(shares, key=lambda name: shares[name].low)
    by_high = sorted(shares, key=lambda name: -shares[name].high)
    width = shares[by_high[0]].high - shares[by_low[0]].low
    sides = (
        (
            "min",
            by_low[0],
            shares[by_low[1]].low - shares[by_low[0]].low,
            shares[by_low[1]].low,
        ),
        (
            "max",
            by_high[0],
            shares[by_high[0]].high - shares[by_high[1]].high,
            shares[by_high[1]].high,
        ),
    )
    for side, recipe, moved, without in sides:
        if width > 0 and moved >= LARGE * width and shares[by_high[1]].high > 0:
            yield Influence(recipe, side, without)
