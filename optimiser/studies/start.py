"""A maker's own recipe as a scenario to start from: bands, pins, windows around it."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping

from msgspec import Struct, field
from msgspec.structs import replace

from optimiser.domain import material
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import PARTS, Origin, rest_of
from optimiser.domain.scenario import Scenario, Window
from optimiser.explaining import facts
from optimiser.explaining.answer import PropertyLine
from optimiser.rules.build import build
from optimiser.rules.doses import least_dose
from optimiser.rules.guards import LAURIC_SHARE, lauric_share
from optimiser.rules.limits import is_told
from optimiser.rules.structure import sets
from optimiser.science.properties import figure
from optimiser.studies.robust.doubt import Doubt
from optimiser.studies.robust.simulation import RuleKept, simulate

__all__ = [
    "BAND",
    "HELD",
    "SMALL",
    "Start",
    "StartWindow",
    "left_aside",
    "start",
]

WAX = "wax"
# Percent of the lipids up to which what lacks a figure is left aside by a window: held
# at its share, it is the same in the base and in what is compared with it.
ASIDE = 5.0
# Of a wax, what the strongest one needs to set as hard a bar (common practice: half as
# much candelilla as beeswax).
STRONGEST = 0.5
BAND = 0.25  # of a category's share, either way: its band
SMALL = 2.0  # percent: an ingredient below it is held as it is
TRACE = 1.0  # percent: nobody weighs less of what comes in, nor buys a bottle for it
# And these, however much there is: nobody moves what he does not know.
HELD = frozenset({*material.MINOR, material.UNKNOWN})
# Never held: of an oil or a wax one stands in for another, however little there is.
MAIN = frozenset(PARTS["lipids"]) - HELD
FIRM, WARM = 25.0, 35.0  # deg C: a room, and skin
ASKED = (("firmness", FIRM), ("solid fat", WARM))
SOLID = 5.0  # of firmness: what is softer pours, or is held by its grains alone
DRAWS = 4000  # of lots; the ends between which nine of ten lie are good to a point


class StartWindow(Struct, frozen=True):
    """A window around what the base reads, or why there is none.

    ``lacking`` is of what a figure lacks, or, where it ``reads`` something, what is
    unknown and so little that it reads that without it.
    ``lots`` are the ends that nine of ten lots of its ingredients stay between,
    ``ends`` those of the softest and the firmest lots of all of them together.
    ``aside`` are the keys of what lacks a figure and is so little that the window is
    held over the rest.
    """

    property: str
    at: float
    reads: float | None = None
    lots: tuple[float, float] | None = None
    low: float | None = None
    high: float | None = None
    lacking: tuple[str, ...] = ()
    aside: tuple[str, ...] = ()
    ends: tuple[float, float] | None = None


class Start(Struct, frozen=True):
    """What is written around a base: percent of the finished product.

    ``priced`` tells whether the workshop has a price for all of it; ``lauric`` is the
    share of lauric fats in its butters, percent, where it is above the usual guard.
    ``most`` are small doses that some limit does not let stand as they are; ``least``
    the shares of the base below ``trace``, of what comes in at no less than that;
    ``alike`` are ingredients that could stand in for those of the base. ``recipe`` is
    the base before its shares were rounded, for limits that have to hold it. With
    ``waxes_by_firmness`` the band of waxes reaches down to a stronger wax's share.
    """

    base: Mapping[str, float]
    bands: Mapping[str, tuple[float, float]]
    pins: Mapping[str, float]
    windows: tuple[StartWindow, ...]
    priced: bool
    lauric: float | None = None
    most: Mapping[str, float] = field(default_factory=dict)
    least: Mapping[str, float] = field(default_factory=dict)
    trace: float = TRACE
    waxes_by_firmness: bool = False
    alike: tuple[str, ...] = ()
    recipe: Mapping[str, float] = field(default_factory=dict)


def start(
    base: Mapping[str, float],
    use: str,
    catalogue: Catalogue,
    recipe: Mapping[str, float] | None = None,
    markets: Collection[str] = (),
) -> Start:
    """Return the rules to start from around a base.

    Parameters
    ----------
    recipe : mapping of ingredient key to percent, optional
        The base before its shares were rounded, where they were.
    markets : collection of str
        Where it is sold.

    Notes
    -----
    Each category's share may move by a quarter of itself, rounded outward to what a
    maker would write, and waxes down to what the strongest of them would take instead,
    where a window holds the firmness; scent, colour, preservative, antioxidant, what is
    unknown and whatever else is below 2 %, fats and waxes apart, are held as they are.
    Firmness stays where nine of ten lots of the base's ingredients have it, and no more
    fat is solid on the skin than they have, by straight sums and the second opinion:
    one lot of a butter differs from the next by more than a maker feels, and a window
    that most lots of the base itself miss is none to hold a formula to.
    """
    category = {key: catalogue.ingredients[key].category for key in base}
    small = {
        key: share
        for key, share in base.items()
        if category[key] in HELD or (share < SMALL and category[key] not in MAIN)
    }
    shares: dict[str, float] = {}
    for key, share in base.items():
        shares[category[key]] = shares.get(category[key], 0.0) + share
    moving = {category[key] for key in base if key not in small}
    over = _over_a_limit(small, use, catalogue, markets)
    under = _under_a_dose(small, use, catalogue)
    bands = {each: band(shares[each]) for each in shares if each in moving}
    windows = _windows(base, catalogue)
    # What a window leaves aside stays as it is, or the rest could not be compared.
    small |= {key: base[key] for each in windows for key in each.aside}
    firm = any(x.property == "firmness" and x.low is not None for x in windows)
    if waxes_by_firmness := WAX in bands and firm:
        bands[WAX] = (band(shares[WAX] * STRONGEST)[0], bands[WAX][1])
    return Start(
        base=base,
        bands=bands,
        waxes_by_firmness=waxes_by_firmness,
        pins={key: x for key, x in small.items() if key not in {*over, *under}},
        windows=windows,
        priced=all(catalogue.price_per_kg(key) is not None for key in base),
        lauric=_lauric(base, catalogue),
        most={key: small[key] for key in over},
        least={
            key: share
            for key, share in base.items()
            if share < TRACE and category[key] not in material.MINOR
        },
        alike=_alike(base, moving, catalogue),
        recipe=base if recipe is None else recipe,
    )


def _alike(
    base: Mapping[str, float], moving: Collection[str], catalogue: Catalogue
) -> tuple[str, ...]:
    """Return what has a price and is of the same kind as something in the base.

    Like replaces like: an oil as light, a wax that melts as warm; nothing that would
    set a bar nobody knows how hard.
    """
    own = [catalogue.ingredients[key] for key in base]
    kinds = {(each.category, each.kind) for each in own if each.category in moving}
    return tuple(
        key
        for key, each in catalogue.ingredients.items()
        if key not in base
        and each.kind is not None
        and (each.category, each.kind) in kinds
        and catalogue.price_per_kg(key) is not None
        and (not sets(each) or figure(catalogue, "firmness", key, FIRM) is not None)
    )


def band(share: float) -> tuple[float, float]:
    """Return a share give or take a quarter, rounded outward.

    >>> band(45.0), band(4.0), band(100.0)
    ((33.0, 57.0), (3.0, 5.0), (75.0, 100.0))
    """
    step = 1.0 if share >= 10.0 else 0.5 if share >= 2.0 else 0.1
    low = math.floor(round(share * (1.0 - BAND) / step, 6)) * step
    high = math.ceil(round(share * (1.0 + BAND) / step, 6)) * step
    return round(low, 1), min(100.0, round(high, 1))


def _windows(
    base: Mapping[str, float], catalogue: Catalogue
) -> tuple[StartWindow, ...]:
    """Return the windows on firmness in a room and on solid fat on the skin."""
    asked = ASKED
    aside = {name: _left_aside(name, at, base, catalogue) for name, at in asked}
    parts = dict(PARTS)
    for name, keys in aside.items():
        parts[_over(name)] = rest_of(PARTS["lipids"], keys, catalogue.ingredients)
    around = Scenario(
        title="",
        file="",
        workshop="",
        use="leave-on",
        markets=(),
        batch_kg=1.0,
        aims=(),
        base=base,
        windows=tuple(
            Window(name, at, None, _over(name), 0.0, None, None, Origin(""))
            for name, at in asked
        ),
        parts=parts,
    )
    lines = facts.properties(base, around, catalogue)
    found = {(x.property, x.at): x for x in lines if x.over == _over(x.property)}
    known = [window for window in around.windows if _known(found, window)]
    lots = _lots(base, replace(around, windows=tuple(known)), catalogue)
    windows = (
        replace(_window(found[each], lots.get(each)), aside=aside[each[0]])
        for each in asked
        if each in found
    )
    return tuple(each for each in windows if not _is_runny(each))


def _over(name: str) -> str:
    """Return what a part of the lipids is called here, for a property."""
    return f"lipids known by {name}"


def left_aside(base: Mapping[str, float], catalogue: Catalogue) -> frozenset[str]:
    """Return what windows around a base leave aside, and hold at its share."""
    found = (_left_aside(name, at, base, catalogue) for name, at in ASKED)
    return frozenset(key for keys in found for key in keys)


def _left_aside(
    name: str, at: float, base: Mapping[str, float], catalogue: Catalogue
) -> tuple[str, ...]:
    """Return what of the lipids lacks a figure, where it is little; else none."""
    lipids = {
        key: share
        for key, share in base.items()
        if catalogue.ingredients[key].category in PARTS["lipids"]
    }
    lacking = {
        key: share
        for key, share in lipids.items()
        if figure(catalogue, name, key, at) is None
    }
    little = sum(lacking.values()) <= ASIDE / 100.0 * sum(lipids.values())
    return tuple(lacking) if little else ()


def _is_runny(window: StartWindow) -> bool:
    """Whether it is about the firmness of what runs: nothing is to be held of it."""
    return window.property == "firmness" and window.high is not None and not window.high


def _known(
    found: Mapping[tuple[str, float | None], PropertyLine], window: Window
) -> bool:
    line = found.get((window.property, window.at))
    return line is not None and line.value is not None


def _lots(
    base: Mapping[str, float], around: Scenario, catalogue: Catalogue
) -> dict[tuple[str, float], RuleKept]:
    """Return how each window's property of a base varies from lot to lot."""
    programme = build(around, catalogue, tuple(base))
    drawn = simulate(programme, base, around, catalogue, Doubt(), draws=DRAWS)
    return {
        (each.rule.about.property, each.rule.about.at): each
        for each in drawn.rules
        if isinstance(each.rule.about, Window) and each.rule.about.at is not None
    }


def _window(line: PropertyLine, lots: RuleKept | None) -> StartWindow:
    """Return the window around a property of the base."""
    at = line.at or 0.0
    if line.value is None:
        return StartWindow(line.property, at, lacking=tuple(line.missing))
    spread = (line.value, line.value) if lots is None else (lots.low, lots.high)
    seen = [line.value, *spread] + ([] if line.second is None else [line.second])
    without = tuple(name for name, _ in line.without)
    reads = StartWindow(line.property, at, line.value, spread, lacking=without)
    if line.low is not None and line.high is not None:
        reads = replace(reads, ends=(line.low, line.high))
    high = float(math.ceil(round(max(seen), 6)))
    if line.property != "firmness":
        return replace(reads, high=min(100.0, high))
    if max(seen) < SOLID:  # what pours has no firmness to keep
        return reads
    return replace(reads, low=float(math.floor(round(min(seen), 6))), high=high)


def _lauric(base: Mapping[str, float], catalogue: Catalogue) -> float | None:
    """Return the share of lauric fats in the butters, percent, where it is high."""
    share = lauric_share(base, catalogue)
    if share <= LAURIC_SHARE:
        return None
    # A point of room, for nothing is weighed to the last digit.
    return min(100.0, float(math.ceil(round(share + 1.0, 6))))


def _over_a_limit(
    small: Mapping[str, float],
    use: str,
    catalogue: Catalogue,
    markets: Collection[str],
) -> tuple[str, ...]:
    """Return the small doses above what a rule on them alone lets stand."""
    over = {
        each.ingredient
        for each in catalogue.limits
        if each.of == "product"
        and each.use in {"any", use}
        and each.high is not None
        and small.get(each.ingredient, 0.0) > each.high
        and not is_told(each, catalogue, markets)
    }
    return tuple(key for key in small if key in over)


def _under_a_dose(
    small: Mapping[str, float], use: str, catalogue: Catalogue
) -> tuple[str, ...]:
    """Return the preservatives in doses below what their suppliers ask for."""
    doses = {key: least_dose(catalogue, key, use) for key in small}
    return tuple(
        key
        for key, each in doses.items()
        if each is not None and small[key] < (each.low or 0.0)
    )
