"""A base to start from: the recipes' centre, brought inside every rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct, field

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.scenario import Aim, Bound, Scenario
from optimiser.errors import InputError
from optimiser.explaining.answering import NoFormula, answer
from optimiser.explaining.clashes import smallest_clash
from optimiser.studies.survey.centre import centre
from optimiser.studies.survey.sharing import share_out
from optimiser.studies.survey.summaries import members
from optimiser.studies.survey.usage import Usage, seen_ingredients
from optimiser.studies.survey.values import Band, Base, BaseLine, Recipe, Wishes

__all__ = ["propose_base"]

FILE = "scenario.toml"
WIDENED = (
    "no formula of the ingredients that these recipes name keeps every rule, so the "
    "whole catalogue was looked through"
)
NO_PRESERVATIVE = "it holds water and no preservative, for these recipes name none"
NO_PRICE = "these recipes name what has no price, and others of its kind take its share"


class _Centre(Struct):
    """The centre in percent by ingredient, and what stands in for which category."""

    targets: dict[str, float] = field(default_factory=dict)
    standing: dict[str, dict[str, float]] = field(default_factory=dict)
    unpriced: set[str] = field(default_factory=set)


def propose_base(
    recipes: Sequence[Recipe],
    bands: Sequence[Band],
    usage: Usage,
) -> Base:
    """Return the compositional centre, and the nearest formula inside every rule.

    Parameters
    ----------
    recipes : sequence of Recipe
        Those of one structure.
    bands : sequence of Band
        Their bands; what half of the recipes hold is in the base.
    usage : Usage
        What stands in for a bare category: what most recipes name.
    """
    catalogue, wishes = usage.catalogue, usage.wishes
    middle = _centre(recipes, bands, usage)
    own = frozenset(middle.targets)
    seen = frozenset(seen_ingredients(recipes)) | own
    nothing: NoFormula | None = None
    for only in (own, seen, frozenset[str]()):
        scenario = _scenario(middle.targets, bands, only, wishes)
        amounts, nothing = _nearest(scenario, catalogue)
        if amounts:
            remarks = _remarks(amounts, catalogue, widened=not only)
            remarks += _unpriced(middle, catalogue)
            remarks += _off_the_middle(amounts, bands, catalogue)
            moved = _distance(amounts, middle.targets)
            lines = _lines(amounts, middle)
            kept = tuple(sorted(seen | set(amounts)))
            return Base(lines, moved, (), tuple(remarks), kept)
    return Base((), 0.0, smallest_clash(nothing.found.session) if nothing else ())


def _nearest(
    scenario: Scenario, catalogue: Catalogue
) -> tuple[dict[str, float], NoFormula | None]:
    """Return the nearest formula to a scenario's base, or that there is none.

    Nothing at all where an ingredient lacks a figure that a rule needs.
    """
    try:
        found = answer(scenario, catalogue)
    except InputError:
        return {}, None
    return ({}, found) if isinstance(found, NoFormula) else (found.amounts, None)


def _centre(recipes: Sequence[Recipe], bands: Sequence[Band], usage: Usage) -> _Centre:
    """Return the centre in percent by ingredient, and what stands in for what."""
    found = _Centre()
    parts = [b.category for b in bands if 2 * len(b.summary.users) >= b.summary.among]
    if not parts:
        return found
    shares = np.array(
        [[r.share(*members(part)).value for part in parts] for r in recipes]
    )
    middle = 100.0 * centre(shares[shares.sum(axis=1) > 0.0])
    asked = [b for b in bands if b.remark and b.category not in parts]
    for band in asked:  # a preservative that fewer than half of them have
        middle *= 1.0 - band.summary.median / 100.0
        middle = np.append(middle, max(band.summary.median, band.low or 0.0))
        parts.append(band.category)
    for part, share in zip(parts, middle, strict=True):
        percent = float(share)
        shared = share_out(part, percent, recipes, usage)
        found.unpriced |= shared.unpriced
        for key, weight in shared.weights.items():
            found.targets[key] = found.targets.get(key, 0.0) + percent * weight
        for key, standing in shared.standing.items():
            found.standing[key] = {c: percent * w for c, w in standing.items()}
    return found


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


def _lines(amounts: Mapping[str, float], middle: _Centre) -> tuple[BaseLine, ...]:
    lines = []
    for key, amount in sorted(amounts.items(), key=lambda item: -item[1]):
        standing = middle.standing.get(key, {})
        lines.append(
            BaseLine(
                key,
                amount,
                middle.targets.get(key, 0.0),
                " and ".join(standing) or None,
                sum(standing.values()),
            )
        )
    return tuple(lines)


def _unpriced(middle: _Centre, catalogue: Catalogue) -> list[str]:
    """Say what the recipes name and a base with prices cannot hold."""
    if not middle.unpriced:
        return []
    names = sorted(catalogue.ingredients[key].name for key in middle.unpriced)
    return [f"{NO_PRICE}: {'; '.join(names)}"]


def _off_the_middle(
    amounts: Mapping[str, float], bands: Sequence[Band], catalogue: Catalogue
) -> list[str]:
    """Say where a base is outside what the middle half of the recipes hold."""
    said = []
    for band in bands:
        share = sum(
            percent
            for key, percent in amounts.items()
            if catalogue.ingredients[key].category in members(band.category)
        )
        low, high = band.summary.lower, band.summary.upper
        if len(band.summary.users) > 2 and not low - 1.0 <= share <= high + 1.0:
            said.append(
                f"{band.category} is {share:.1f} % in the base, and {low:.1f} to"
                f" {high:.1f} % in the middle half of the recipes that hold it"
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
