"""A base to start from: the recipes' centre, brought inside every rule."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.material import MINOR, PARTS, Origin
from optimiser.domain.properties import PROPERTIES
from optimiser.domain.scenario import Aim, Bound, Scenario, Window
from optimiser.errors import InputError
from optimiser.explaining.answering import NoFormula, answer
from optimiser.explaining.check import check
from optimiser.explaining.clashes import smallest_clash
from optimiser.explaining.prices import is_broken
from optimiser.rules.guards import LAURIC_SHARE, WAX_SHARE
from optimiser.science.mixing import blend_value
from optimiser.science.properties import figure
from optimiser.studies.survey.centre import centre
from optimiser.studies.survey.formulas import as_formulas
from optimiser.studies.survey.remarks import NoPreservative, OffTheMiddle, Remark
from optimiser.studies.survey.sharing import share_out
from optimiser.studies.survey.summaries import members, rounded
from optimiser.studies.survey.usage import ALIKE, Usage, seen_ingredients
from optimiser.studies.survey.values import (
    Band,
    Base,
    BaseLine,
    HeldWindow,
    Lowered,
    MovedBy,
    NearestRecipe,
    Recipe,
    Structure,
    Wishes,
)
from optimiser.studies.survey.windows import ROOM

__all__ = ["propose_base"]

FILE = "scenario.toml"
WIDENED = (
    "no formula of the ingredients that these recipes name keeps every rule, so others "
    "of their kinds were looked at"
)
NOT_SOLID = "no formula that keeps these bands stays solid and melts as the recipes do"
MOST_LINES = 12
# Percent below which nothing joins a base that its centre does not hold.
TRACE = 0.1
SEVERAL = 3  # recipes: what one of so many holds alone is no part of the class
SMALL = 10.0  # percent: what is held at more is no small dose
MOST_OPEN = 50.0  # percent: where more is left open there is no base
LONELY = 30.0  # points: a base further than this from every recipe is none of its class
WHOLE = 0.05  # percent that may be missing of a recipe that is the base
FAR = 5.0  # points from the centre: then the rules that moved it are told
LEAST_TOLD = 0.005  # percent past a limit that is worth a word
NO_PRICE = "these recipes name what has no price, and others of its kind take its share"


class _Centre(Struct):
    """The centre in percent by ingredient, and what stands in for which category."""

    targets: dict[str, float] = field(default_factory=dict)
    standing: dict[str, dict[str, float]] = field(default_factory=dict)
    unpriced: set[str] = field(default_factory=set)
    left_open: dict[str, float] = field(default_factory=dict)


class _Rules(Struct, frozen=True):
    """What a base is to keep beside law and suppliers' limits.

    ``guards`` are those of the model that the recipes themselves break, eased.
    """

    bands: Sequence[Band]
    tops: Mapping[str, float]
    least: Mapping[str, float]
    windows: Sequence[HeldWindow]
    guards: Mapping[str, float] = {}


def propose_base(
    recipes: Sequence[Recipe],
    structure: Structure,
    usage: Usage,
) -> Base:
    """Return the compositional centre, and the nearest formula inside every rule.

    Where recipes are so unlike that nobody makes anything near their centre, a recipe
    stands in its place: the nearest to it of those that name all they hold.

    Parameters
    ----------
    recipes : sequence of Recipe
        Those of one structure.
    structure : Structure
        Their bands, tops and windows; what half of the recipes hold is in the base.
    usage : Usage
        What stands in for a bare category: what most recipes name.
    """
    middle = _centre(recipes, structure.bands, usage)
    if sum(middle.left_open.values()) > MOST_OPEN:
        return Base((), 0.0, left_open=middle.left_open)
    found = _inside(middle, recipes, structure, usage)
    near = found.nearest
    if near is None or near.away <= LONELY or middle.left_open:
        return found
    own = _named_in_full(found, recipes, usage)
    if own is None:
        return found
    theirs = _Centre(targets=dict(own.percents))
    made = _inside(theirs, recipes, structure, usage)
    return replace(made, instead=own) if made.lines else found


def _named_in_full(
    base: Base, recipes: Sequence[Recipe], usage: Usage
) -> NearestRecipe | None:
    """Return the recipe nearest to a base of those that name, priced, all they hold."""
    amounts = {each.ingredient: each.percent for each in base.lines}
    found = [
        NearestRecipe(
            each.recipe, each.percents, _distance(amounts, each.percents), each.missing
        )
        for each in as_formulas(recipes, usage.catalogue, tuple(amounts))
        if each.percents
        and each.missing < WHOLE
        and not each.notes
        and all(map(usage.priced, each.percents))
    ]
    return min(found, key=lambda each: each.away, default=None)


def _inside(
    middle: _Centre,
    recipes: Sequence[Recipe],
    structure: Structure,
    usage: Usage,
) -> Base:
    """Return the nearest formula to a centre, or to what stands for it, that fits."""
    catalogue, wishes = usage.catalogue, usage.wishes
    bands = tuple(_with_room(each, middle, usage) for each in structure.bands)
    unfigured = _unfigured(middle, catalogue) if structure.windows else ()
    for key in unfigured:
        _hand_on(key, middle, usage)
    own = frozenset(middle.targets)
    seen = frozenset(_shared(recipes, structure, catalogue)) | own
    seen |= _as_good(middle, usage)
    priced = frozenset(key for key in seen if usage.priced(key)) | own
    wider = priced | usage.of_their_kinds(seen)
    tops = {
        key: max(most, rounded(middle.targets.get(key, 0.0), up=True))
        for key, most in structure.tops.items()
    }
    guards = _eased(middle.targets, recipes, bands, catalogue)
    held = [_from_below(each) for each in structure.windows]
    asked = _Rules(bands, tops, structure.least, held, guards)
    nothing: NoFormula | None = None
    tries = [(own, asked), (priced, asked), (wider, asked)]
    if structure.windows:
        loose = _Rules(bands, tops, structure.least, (), guards)
        tries += [(own, loose), (priced, loose), (wider, loose)]
    for only, rules in tries:
        scenario = _scenario(middle.targets, rules, only, wishes)
        amounts, nothing = _closest(scenario, catalogue)
        if amounts:
            amounts = _without_traces(amounts, scenario, own, catalogue)
            remarks = _remarks(amounts, recipes, catalogue, widened=only is wider)
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
                bands,
                _around(amounts, rules.windows, structure.windows, catalogue),
                unfigured,
                rules.guards,
                _moved_by(amounts, middle, scenario, usage),
            )
    return Base((), 0.0, smallest_clash(nothing.found.session) if nothing else ())


def _as_good(middle: _Centre, usage: Usage) -> frozenset[str]:
    """Return what else may be meant by a bare "liquid oil".

    What recipes of any class name and is of the kinds that stand for it already.
    """
    bare = {category for mine in middle.standing.values() for category in mine}
    known = usage.catalogue.ingredients
    kinds = {(known[key].category, known[key].kind) for key in middle.targets}
    return frozenset(
        key
        for category in ALIKE & bare
        for key in usage.ranked(category)
        if usage.named(key) and (known[key].category, known[key].kind) in kinds
    )


def _from_below(held: HeldWindow) -> HeldWindow:
    """Return a window that a base is held to: it is the middle, and may be firm."""
    return held if held.low is None else replace(held, high=None)


def _around(
    amounts: Mapping[str, float],
    kept: Sequence[HeldWindow],
    asked: Sequence[HeldWindow],
    catalogue: Catalogue,
) -> tuple[HeldWindow, ...]:
    """Return the windows that a base keeps, with room at the top for itself."""
    lipids = {
        key: share
        for key, share in amounts.items()
        if catalogue.ingredients[key].category in PARTS["lipids"]
    }
    found = []
    for each in asked[: len(kept)]:
        has = blend_value(PROPERTIES[each.property], lipids, each.at, catalogue).value
        high = each.high
        if high is not None and has is not None:
            high = max(high, float(math.ceil(has)))
        found.append(replace(each, high=high))
    return tuple(found)


def _eased(
    targets: Mapping[str, float],
    recipes: Sequence[Recipe],
    bands: Sequence[Band],
    catalogue: Catalogue,
) -> dict[str, float]:
    """Return the guards of the model that recipes break, and what they hold.

    Percent, rounded up: of lauric fats in the butters of the centre; of waxes in the
    lipids as much as a recipe inside the band has, and never less than the band allows.
    """
    known = catalogue.ingredients

    def total(*categories: str, lauric: bool = False) -> float:
        return sum(
            percent
            for key, percent in targets.items()
            if known[key].category in categories
            and (not lauric or known[key].family == "lauric")
        )

    found = {}
    butters = total(*PARTS["butters"])
    lauric = 100.0 * total(*PARTS["butters"], lauric=True) / butters if butters else 0.0
    if lauric > LAURIC_SHARE:
        found["lauric"] = rounded(lauric, up=True)
    for band in bands:
        if band.category == "wax":
            waxes = max([band.high, *_waxes(recipes, band.high)])
            if waxes > WAX_SHARE:
                found["wax"] = min(100.0, rounded(waxes, up=True))
    return found


def _waxes(recipes: Sequence[Recipe], most: float) -> Iterator[float]:
    """Yield the waxes in the lipids of those with at most so many, percent."""
    for each in recipes:
        waxes = each.share("wax").value
        if 0.0 < waxes <= most:
            yield 100.0 * waxes / each.share(*PARTS["lipids"]).value


def _moved_by(
    amounts: Mapping[str, float], middle: _Centre, scenario: Scenario, usage: Usage
) -> tuple[MovedBy, ...]:
    """Return the rules that the centre breaks, where a base is far from it.

    Those that ``lowered`` tells of are not told twice.
    """
    if _distance(amounts, middle.targets) < FAR:
        return ()
    checked = check(middle.targets, scenario, usage.catalogue)
    told = {each.rule.id for each in _lowered(middle, usage)}
    found = [
        MovedBy(each.rule, each.value)
        for each in checked.lines
        if is_broken(each.rule, each.slack)
        and each.value is not None
        and each.rule.id not in told
        and each.rule.owner != "arithmetic"
    ]
    said = checked.second_opinion
    if said is not None:
        found += [
            MovedBy(each.rule, each.second, by_second_opinion=True)
            for each in said.lines
            if each.holds is False and each.second is not None
        ]
    return tuple(found)


def _without_traces(
    amounts: dict[str, float],
    scenario: Scenario,
    own: Collection[str],
    catalogue: Catalogue,
) -> dict[str, float]:
    """Return a base without traces of what its centre does not hold, if one keeps all.

    Nobody would weigh them: they are there because two rules meet in a corner.
    """
    kept = {key for key, percent in amounts.items() if key in own or percent >= TRACE}
    if len(kept) == len(amounts):
        return amounts
    fewer = replace(scenario, only=frozenset(kept))
    return dict(_closest(fewer, catalogue)[0]) or amounts


def _shared(
    recipes: Sequence[Recipe], structure: Structure, catalogue: Catalogue
) -> list[str]:
    """Return what recipes name, without categories that one of them alone holds."""
    alone = {
        category
        for band in structure.bands
        if len(band.summary.users) == 1 and band.summary.among >= SEVERAL
        for category in members(band.category)
    }
    known = catalogue.ingredients
    return [k for k in seen_ingredients(recipes) if known[k].category not in alone]


def _with_room(band: Band, middle: _Centre, usage: Usage) -> Band:
    """Return a band with room for what is left open: all else is more of the rest.

    Of what is there in small doses limits come before what recipes hold at least.
    """
    left_open, known = middle.left_open, usage.catalogue.ingredients
    missing = sum(left_open.values())
    if band.category in MINOR and band.low is not None and band.high <= SMALL:
        mine = [key for key in middle.targets if known[key].category == band.category]
        allowed = sum(usage.ceiling(key) for key in mine)
        band = replace(band, low=min(band.low, allowed) or None)
    if not missing:
        return band
    high = min(100.0, rounded(band.high * 100.0 / (100.0 - missing), up=True))
    low = None if set(members(band.category)) & left_open.keys() else band.low
    return replace(band, low=low, high=high)


def _unfigured(middle: _Centre, catalogue: Catalogue) -> tuple[str, ...]:
    """Return the lipids of a centre that no firmness is known of."""
    return tuple(
        key
        for key in middle.targets
        if catalogue.ingredients[key].category in PARTS["lipids"]
        and figure(catalogue, "firmness", key, ROOM) is None
    )


def _hand_on(key: str, middle: _Centre, usage: Usage) -> None:
    """Give a share to the largest of its category that recipes hold as much of.

    Where there is none, it stays.
    """
    known, targets = usage.catalogue.ingredients, middle.targets
    among = [
        each
        for each in targets
        if known[each].category == known[key].category
        and each != key
        and targets[each] + targets[key] <= min(usage.held(each), usage.ceiling(each))
    ]
    if not among:
        return
    heir = max(among, key=lambda each: (targets[each], each))
    targets[heir] += targets.pop(key)
    for category, mine in middle.standing.pop(key, {}).items():
        standing = middle.standing.setdefault(heir, {})
        standing[category] = standing.get(category, 0.0) + mine


def _nearest(
    amounts: Mapping[str, float], recipes: Sequence[Recipe], catalogue: Catalogue
) -> NearestRecipe | None:
    """Return the recipe that is nearest to a formula, in points by ingredient."""
    found = [
        NearestRecipe(each.recipe, each.percents, away, each.missing)
        for each in as_formulas(recipes, catalogue, tuple(amounts))
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
    _shorten(found, seen_ingredients(recipes), usage)
    _fill(found)
    return found


def _shorten(middle: _Centre, named: Mapping[str, int], usage: Usage) -> None:
    """Give what fewest name to others of its category until few lines are left."""
    targets = middle.targets
    ranked = sorted(targets, key=lambda k: (named.get(k, 0), targets[k], k))
    for key in ranked:
        if len(targets) <= MOST_LINES:
            return
        _hand_on(key, middle, usage)


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
        aims=(Aim("change"), Aim("kind change")),
        base=dict(targets),
        only=only,
        bands=tuple(_bound(each) for each in rules.bands),
        limits=tuple(
            Bound(
                key,
                rules.least.get(key),
                top,
                "product",
                None,
                Origin(FILE, field=f"limits.{key}"),
            )
            for key, top in rules.tops.items()
            if key in only
        ),
        windows=tuple(_window(each) for each in rules.windows),
        zone=wishes.zone,
        product=wishes.title,
        lauric_guard=_guard("lauric", "butters", rules.guards),
        wax_guard=_guard("wax", "lipids", rules.guards),
    )


def _guard(name: str, of: str, eased: Mapping[str, float]) -> Bound | None:
    """Return a guard at what the recipes hold; None leaves it as it is built in."""
    if name not in eased:
        return None
    return Bound(name, None, eased[name], of, None, Origin(FILE, field=f"guard.{name}"))


def _bound(band: Band) -> Bound:
    origin = Origin(FILE, field=f"bands.{band.category}")
    return Bound(band.category, band.low, band.high, "product", None, origin)


def _window(held: HeldWindow) -> Window:
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
) -> list[Remark]:
    """Say where a base is outside what the middle half of the recipes hold."""
    said: list[Remark] = []
    for band in bands:
        share = sum(
            percent
            for key, percent in amounts.items()
            if catalogue.ingredients[key].category in members(band.category)
        )
        low, high = band.summary.lower, band.summary.upper
        if len(band.summary.users) > 2 and not low - 1.0 <= share <= high + 1.0:
            said.append(OffTheMiddle(band.category, share, low, high))
    return said


def _remarks(
    amounts: Mapping[str, float],
    recipes: Sequence[Recipe],
    catalogue: Catalogue,
    *,
    widened: bool,
) -> list[Remark]:
    """Return what has to be said of a base."""
    held = {catalogue.ingredients[key].category for key in amounts}
    remarks: list[Remark] = [WIDENED] if widened else []
    if "water" in held and "preservative" not in held:
        lines = [line for recipe in recipes for line in recipe.lines if line.unread]
        names = {fold(line.written.name) for line in lines}
        remarks.append(NoPreservative(len(names)))
    return remarks
