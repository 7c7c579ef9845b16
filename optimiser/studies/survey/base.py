"""A base to start from: the recipes' centre, brought inside every rule."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.scenario import Aim, Bound, Scenario, Window
from optimiser.errors import InputError
from optimiser.explaining.answering import NoFormula, answer
from optimiser.explaining.clashes import smallest_clash
from optimiser.studies.survey.centre import centre
from optimiser.studies.survey.formulas import as_formulas
from optimiser.studies.survey.sharing import share_out
from optimiser.studies.survey.summaries import members, rounded
from optimiser.studies.survey.usage import Usage, seen_ingredients
from optimiser.studies.survey.values import (
    Band,
    Base,
    BaseLine,
    Held,
    Lowered,
    Nearest,
    Recipe,
    Structure,
    Wishes,
)

__all__ = ["propose_base"]

FILE = "scenario.toml"
WIDENED = (
    "no formula of the ingredients that these recipes name keeps every rule, so others "
    "of their kinds were looked at"
)
NOT_SOLID = "no formula that keeps these bands stays solid and melts as the recipes do"
MOST_LINES = 12
LEAST_TOLD = 0.005  # percent past a limit that is worth a word
NO_PRESERVATIVE = "it holds water and no preservative, for these recipes name none"
NO_PRICE = "these recipes name what has no price, and others of its kind take its share"


class _Centre(Struct):
    """The centre in percent by ingredient, and what stands in for which category."""

    targets: dict[str, float] = field(default_factory=dict)
    standing: dict[str, dict[str, float]] = field(default_factory=dict)
    unpriced: set[str] = field(default_factory=set)
    left_open: dict[str, float] = field(default_factory=dict)


class _Rules(Struct, frozen=True):
    """What a base is to keep beside law and suppliers' limits."""

    bands: Sequence[Band]
    tops: Mapping[str, float]
    windows: Sequence[Held]


def propose_base(
    recipes: Sequence[Recipe],
    structure: Structure,
    usage: Usage,
) -> Base:
    """Return the compositional centre, and the nearest formula inside every rule.

    Parameters
    ----------
    recipes : sequence of Recipe
        Those of one structure.
    structure : Structure
        Their bands, tops and windows; what half of the recipes hold is in the base.
    usage : Usage
        What stands in for a bare category: what most recipes name.
    """
    catalogue, wishes = usage.catalogue, usage.wishes
    middle = _centre(recipes, structure.bands, usage)
    held = {catalogue.ingredients[key].category for key in middle.targets}
    bands = [_without_open(each, held, middle.left_open) for each in structure.bands]
    own = frozenset(middle.targets)
    seen = frozenset(seen_ingredients(recipes)) | own
    wider = seen | usage.of_their_kinds(seen)
    tops = {
        key: max(most, rounded(middle.targets.get(key, 0.0), up=True))
        for key, most in structure.tops.items()
    }
    asked = _Rules(bands, tops, structure.windows)
    nothing: NoFormula | None = None
    tries = [(own, asked), (seen, asked), (wider, asked)]
    if structure.windows:
        loose = _Rules(bands, tops, ())
        tries += [(own, loose), (seen, loose), (wider, loose)]
    for only, rules in tries:
        scenario = _scenario(middle.targets, rules, only, wishes)
        amounts, nothing = _closest(scenario, catalogue)
        if amounts:
            remarks = _remarks(amounts, catalogue, widened=only is wider)
            remarks += [NOT_SOLID] if len(rules.windows) < len(asked.windows) else []
            remarks += _unpriced(middle, catalogue)
            remarks += _off_the_middle(amounts, bands, catalogue)
            return Base(
                _lines(amounts, middle),
                _distance(amounts, middle.targets),
                (),
                tuple(remarks),
                tuple(sorted(seen | set(amounts))),
                _nearest(amounts, recipes, catalogue),
                middle.left_open,
                _lowered(middle, usage),
            )
    return Base((), 0.0, smallest_clash(nothing.found.session) if nothing else ())


def _without_open(
    band: Band, held: Collection[str], left_open: Mapping[str, float]
) -> Band:
    """Return a band without its least, if nothing stands in for what it is about."""
    inside = members(band.category)
    empty = not set(inside) & set(held)
    if band.low is None or not empty or not set(inside) & left_open.keys():
        return band
    return replace(band, low=None)


def _nearest(
    amounts: Mapping[str, float], recipes: Sequence[Recipe], catalogue: Catalogue
) -> Nearest | None:
    """Return the recipe that is nearest to a formula, in points by ingredient."""
    found = [
        Nearest(each.recipe, each.percents, away, each.missing)
        for each in as_formulas(recipes, catalogue)
        if each.percents
        and (away := _distance(amounts, each.percents) + each.missing) < 100.0
    ]
    return min(found, key=lambda each: each.away, default=None)


def _lowered(middle: _Centre, usage: Usage) -> tuple[Lowered, ...]:
    """Return what a rule on it alone allows less of than the recipes' middle."""
    return tuple(
        Lowered(key, target, usage.ceiling(key), rule)
        for key, target in middle.targets.items()
        if target > usage.ceiling(key) + LEAST_TOLD
        and (rule := usage.lowering(key)) is not None
    )


def _closest(
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
        for category, weight in shared.left_open.items():
            if percent * weight > LEAST_TOLD:
                found.left_open[category] = percent * weight
        for key, weight in shared.weights.items():
            found.targets[key] = found.targets.get(key, 0.0) + percent * weight
        for key, standing in shared.standing.items():
            found.standing[key] = {c: percent * w for c, w in standing.items()}
    _shorten(found, usage.catalogue)
    _fill(found)
    return found


def _shorten(middle: _Centre, catalogue: Catalogue) -> None:
    """Give the smallest to others of their category until few lines are left."""
    known, targets = catalogue.ingredients, middle.targets
    while len(targets) > MOST_LINES:
        counts = Counter(known[key].category for key in targets)
        several = [key for key in targets if counts[known[key].category] > 1]
        if not several:
            return
        least = min(several, key=lambda key: (targets[key], key))
        share, standing = targets.pop(least), middle.standing.pop(least, {})
        among = [k for k in targets if known[k].category == known[least].category]
        heir = max(among, key=lambda key: (targets[key], key))
        targets[heir] += share
        for category, mine in standing.items():
            of = middle.standing.setdefault(heir, {})
            of[category] = of.get(category, 0.0) + mine


def _fill(middle: _Centre) -> None:
    """Bring a centre to a hundred where some of it is left open."""
    total = sum(middle.targets.values())
    if not middle.left_open or total <= 0.0:
        return
    times = 100.0 / total
    middle.targets = {key: each * times for key, each in middle.targets.items()}
    middle.standing = {
        key: {category: each * times for category, each in mine.items()}
        for key, mine in middle.standing.items()
    }


def _scenario(
    targets: Mapping[str, float],
    rules: _Rules,
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
        bands=tuple(_bound(each) for each in rules.bands),
        limits=tuple(
            Bound(key, None, top, "product", None, Origin(FILE, field=f"limits.{key}"))
            for key, top in rules.tops.items()
            if key in only and top < 100.0
        ),
        windows=tuple(_window(each) for each in rules.windows),
        zone=wishes.zone,
    )


def _bound(band: Band) -> Bound:
    origin = Origin(FILE, field=f"bands.{band.category}")
    return Bound(band.category, band.low, band.high, "product", None, origin)


def _window(held: Held) -> Window:
    origin = Origin(FILE, field=f"windows.{held.name}")
    return Window(
        held.property, held.at, None, "lipids", held.low, held.high, None, origin
    )


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
