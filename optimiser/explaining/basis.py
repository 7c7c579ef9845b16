"""What an answer rests on and leaves open, as values: law, prices, figures, easings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from msgspec import Struct, field
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.law import (
    OWN,
    READ,
    Duty,
    SubstanceLimit,
    begins_later,
    begins_soon,
    holds,
    strictest,
)
from optimiser.domain.material import Ingredient, UsageLimit
from optimiser.domain.products import kinds_told
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Scenario
from optimiser.explaining.overstepped import Overstepped, overstepped
from optimiser.rules.limits import is_told
from optimiser.rules.structure import unfirm

__all__ = [
    "Basis",
    "Coming",
    "LawLine",
    "MayBe",
    "NotKnown",
    "basis",
    "laws",
    "may_be",
    "one_a_market",
]

# Words that a label has for all that gives scent or taste, of whatever it is made.
MIXTURES = frozenset({"parfum", "perfume", "fragrance", "aroma", "flavor", "flavour"})


class Coming(Struct, frozen=True):
    """A limit that begins within a year, and what a formula has; percent."""

    limit: SubstanceLimit
    has: float

    @property
    def over(self) -> bool:
        """Whether the formula passes it."""
        return self.has > self.limit.high


class LawLine(Struct, frozen=True):
    """What was looked at of a market's law, for the product and the day asked for.

    ``limits`` is how many limits on amounts there were, thresholds above which the
    law asks for something among them; where nothing of a market is known, nothing
    was checked and ``kept`` is None, as where no limit is in force yet: ``later`` is
    the first day of each of those that are to come. ``held`` is False where there is
    no formula to hold them against, as in a clash: then ``kept`` is None too.
    ``editions`` are the texts they were read in, ``read`` how many were read how.
    ``duties`` are what the market asks for beside limits, of this formula; ``coming``
    limits that begin within a year and that count something in it; ``gaps`` name what
    of the law is not in the catalogues. ``unknown`` is how many ingredients no limit
    was held against, for nothing is known of what they are, or of what is in them.
    """

    market: str
    limits: int
    kept: bool | None
    editions: tuple[str, ...]
    read: Mapping[str, int] = field(default_factory=dict)
    duties: tuple[Duty, ...] = ()
    coming: tuple[Coming, ...] = ()
    later: tuple[date, ...] = ()
    held: bool = True
    gaps: tuple[str, ...] = ()
    unknown: int = 0


class NotKnown(Struct, frozen=True):
    """A limit, and the oils of a formula that have no figure for what it counts.

    ``oils`` are their names; with as much of it as ``relative`` has, which is of their
    kind and holds up to ``high`` percent, one of them would pass the limit.
    """

    limit: SubstanceLimit
    oils: tuple[str, ...]
    relative: str
    high: float


class MayBe(Struct, frozen=True):
    """An ingredient whose name is near that of something a market's law limits."""

    name: str
    limit: SubstanceLimit
    markets: tuple[str, ...]


class Basis(Struct, frozen=True):
    """What some formulas rest on.

    ``unknown_contents`` names scents and preservatives of whose substances nothing is
    known, so that limits on them were not checked; ``calibrated`` what is as firm as
    the workshop's own trials say. ``workshop`` is whose prices are told, None where
    there are none. ``dropped`` are the ids of rules that do not count here, each with
    the file that says so; ``eased`` rules whose limit was moved there; ``silent``
    rules about nothing that can be chosen. ``cautious`` says that windows hold at the
    worse end of each figure. ``invented`` tells how many prices are, as in a catalogue,
    ``invented_lots`` how many lots, where what is on the shelf has a say;
    ``by_spoon`` names what is priced by volume and has no density of its own.
    ``over`` are limits of suppliers and of practice that hold as eased here alone.
    ``beyond`` are habits that a formula goes beyond, which are told and not enforced,
    each with the name and percent. ``kinds`` are the kinds of product whose law was
    looked at, ``kind_told`` whether the product's name tells them. ``not_known`` are
    contents that a limit counts and that are known of a relative only, ``may_be`` names
    near that of something limited; ``strangers`` name ingredients of which not even the
    INCI name is known, ``infusions`` those of which that is so, and which are as the
    oils they are made in. ``invented_of`` names what of the formulas has an invented
    price alone, ``unfirm`` what nothing is known of that sets them, where no window
    holds their firmness.
    """

    law: tuple[LawLine, ...]
    unknown_contents: tuple[str, ...]
    calibrated: tuple[str, ...]
    workshop: str | None
    dropped: tuple[tuple[str, str], ...]
    eased: tuple[Rule, ...]
    silent: tuple[Rule, ...]
    cautious: bool
    over: tuple[Overstepped, ...] = ()
    beyond: tuple[tuple[str, float, UsageLimit], ...] = ()
    invented: str | None = None
    invented_lots: str | None = None
    by_spoon: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    kind_told: bool = True
    not_known: tuple[NotKnown, ...] = ()
    may_be: tuple[MayBe, ...] = ()
    strangers: tuple[str, ...] = ()
    infusions: tuple[str, ...] = ()
    invented_of: tuple[str, ...] = ()
    unfirm: tuple[str, ...] = ()


def _by_the_shelf(scenario: Scenario) -> bool:
    """Whether what is on the shelf has a say in a scenario's answer."""
    return scenario.stock_only is not None or any(
        aim.name == "bought" for aim in scenario.aims
    )


def basis(
    amounts: Mapping[str, float],
    scenario: Scenario,
    catalogue: Catalogue,
    rules: Iterable[Rule] = (),
    broken: Iterable[Rule] = (),
) -> Basis:
    """Return what a formula rests on.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent
        Of a formula, or the most of each in several.
    rules, broken : iterable of Rule
        The rules that it was held against, and those of them that it breaks.
    """
    rules = tuple(rules)
    used = _used(amounts)
    unknown = tuple(_strangers(used, catalogue))
    return Basis(
        law=laws(amounts, scenario, catalogue, broken),
        unknown_contents=tuple(
            sorted(
                catalogue.ingredients[key].name
                for key in used
                if catalogue.ingredients[key].category in {"scent", "preservative"}
                and not any(key in rows for rows in catalogue.contents.values())
            )
        ),
        calibrated=tuple(
            catalogue.ingredients[key].name
            for key in used
            if _is_calibrated(key, catalogue)
        ),
        workshop=scenario.workshop if catalogue.prices else None,
        dropped=tuple(
            (rule_id, origin.file)
            for rule_id, (limit, origin) in scenario.eased.items()
            if limit is None
        ),
        eased=tuple(rule for rule in rules if rule.eased_from is not None),
        silent=tuple(rule for rule in rules if rule.empty and rule.told_empty),
        cautious=scenario.cautious,
        over=overstepped(amounts, scenario, catalogue),
        beyond=tuple(
            (catalogue.ingredients[usage.ingredient].name, percent, usage)
            for usage in catalogue.limits
            if (percent := amounts.get(usage.ingredient, 0.0)) > (usage.high or 100.0)
            and usage.use in {"any", scenario.use}
            and is_told(usage, catalogue, scenario.markets)
        ),
        invented=catalogue.invented_prices,
        invented_lots=catalogue.invented_lots if _by_the_shelf(scenario) else None,
        by_spoon=tuple(
            catalogue.ingredients[key].name
            for key in used
            if key not in catalogue.figures.get("density", {})
            and any(pack.by_volume for pack in catalogue.prices.get(key, ()))
        ),
        kinds=scenario.product_kinds,
        kind_told=bool(kinds_told(scenario.product or "")),
        not_known=tuple(_not_known(amounts, scenario, catalogue)),
        may_be=tuple(may_be(used, scenario, catalogue)),
        strangers=tuple(x.name for x in unknown if not x.made_in and not x.inci),
        invented_of=catalogue.invented_among(used),
        infusions=tuple(x.name for x in unknown if x.made_in and not x.inci),
        unfirm=unfirm(amounts, scenario, catalogue),
    )


def _strangers(used: Iterable[str], catalogue: Catalogue) -> Iterator[Ingredient]:
    """Yield what nothing is known of that a limit could count.

    What is infused in an oil is not known by what the oil holds, nor what is in a
    mixture by the word that a label has for all of it.
    """
    for key in used:
        each = catalogue.ingredients[key]
        held = any(key in rows for rows in catalogue.contents.values())
        if (not held and is_a_mixture(each.inci)) or (
            not each.inci and (each.made_in or not held)
        ):
            yield each


def is_a_mixture(inci: str | None) -> bool:
    """Whether a name on a label is a word for whatever gives scent or taste.

    >>> is_a_mixture("Parfum (Fragrance)"), is_a_mixture("Mentha Piperita Oil")
    (True, False)
    """
    words = (inci or "").casefold()
    for sign in "()/,;":
        words = words.replace(sign, " ")
    return bool(words.split()) and MIXTURES.issuperset(words.split())


def may_be(
    used: Iterable[str], scenario: Scenario, catalogue: Catalogue
) -> Iterator[MayBe]:
    """Yield which ingredients may be what a limit counts, by their names alone."""
    limits = strictest(x for x in catalogue.substance_limits if holds(x, scenario))
    for key in used:
        near = {*catalogue.may_be.get(key, ())}
        found: dict[str, list[SubstanceLimit]] = {}
        for limit in limits:
            if limit.is_law and near & {*limit.factors}:
                found.setdefault(limit.name, []).append(limit)
        for rows in found.values():
            low = min(rows, key=lambda x: x.high)
            markets = tuple(x.market for x in rows if x.high == low.high)
            yield MayBe(catalogue.ingredients[key].name, low, markets)


def _not_known(
    amounts: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> Iterator[NotKnown]:
    """Yield the limits that some oil of a formula might pass, for all that is known.

    Nothing is counted for what has no figure. It is told where an oil of the same kind
    has one, and so much of it would pass the limit. What is a substance by itself
    holds no other, and is no relative of what holds it.
    """
    scents = {
        key: percent
        for key, percent in amounts.items()
        if percent > 0.0
        and catalogue.ingredients[key].category == "scent"
        and catalogue.ingredients[key].kind
        and _is_mixed(key, catalogue)
    }
    lowest: dict[str, SubstanceLimit] = {}
    for limit in catalogue.substance_limits if scents else ():
        known_of = lowest.get(limit.name)
        if holds(limit, scenario) and (known_of is None or limit.high < known_of.high):
            lowest[limit.name] = limit
    for limit in lowest.values():
        held = {
            key: high
            for key, high in _contents(limit, catalogue).items()
            if high < 100.0 and catalogue.ingredients[key].category == "scent"
        }
        known = _known(limit, catalogue)
        oils: dict[str, str] = {}
        for key, percent in scents.items():
            kind = catalogue.ingredients[key].kind
            alike = [x for x in held if catalogue.ingredients[x].kind == kind]
            most = max(alike, key=lambda x: held[x], default=None)
            if key in known or most is None:
                continue
            if percent * held[most] / 100.0 > limit.high:
                oils[key] = most
        if oils:
            nearest = max(oils.values(), key=lambda x: held[x])
            names = tuple(catalogue.ingredients[key].name for key in oils)
            relative = catalogue.ingredients[nearest].name
            yield NotKnown(limit, names, relative, held[nearest])


def _is_mixed(key: str, catalogue: Catalogue) -> bool:
    """Whether more than one substance is known in an ingredient, or none is."""
    return sum(key in rows for rows in catalogue.contents.values()) > 1


def _contents(limit: SubstanceLimit, catalogue: Catalogue) -> dict[str, float]:
    """Return what each ingredient counts toward a limit, percent, at its high end."""
    found: dict[str, float] = {}
    for substance, factor in limit.factors.items():
        for key, figure in catalogue.contents.get(substance, {}).items():
            if figure.high > 0.0:
                found[key] = found.get(key, 0.0) + factor * figure.high
    return found


def _known(limit: SubstanceLimit, catalogue: Catalogue) -> set[str]:
    """Return the ingredients with a figure, if only none, for what a limit counts."""
    return {
        key
        for substance in limit.factors
        for key in catalogue.contents.get(substance, {})
    }


def laws(
    amounts: Mapping[str, float],
    scenario: Scenario,
    catalogue: Catalogue,
    broken: Iterable[Rule] = (),
) -> tuple[LawLine, ...]:
    """Return what was looked at of each market's law.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent
        Of a formula, or the most of each in several; empty where there is none.
    broken : iterable of Rule
        The rules that it breaks: none, where it was proved to keep every one.
    """
    unlawful = [rule.about for rule in broken if rule.owner == "law"]
    lines = (
        _law(market, amounts, scenario, catalogue, unlawful)
        for market in scenario.markets
    )
    if amounts:
        return tuple(lines)
    return tuple(
        replace(line, kept=None, held=False) if line.kept is not None else line
        for line in lines
    )


def one_a_market(lines: Iterable[LawLine]) -> tuple[LawLine, ...]:
    """Return one line for each market of those on several formulas.

    The one with the most limits, with as many unknown ingredients as any has, and with
    all that any is to keep within a year.
    """
    found: dict[str, LawLine] = {}
    for line in lines:
        known = found.setdefault(line.market, line)
        most = line if line.limits > known.limits else known
        both = sorted((*known.coming, *line.coming), key=lambda each: each.has)
        found[line.market] = replace(
            most,
            unknown=max(line.unknown, known.unknown),
            coming=tuple({each.limit.name: each for each in both}.values()),
        )
    return tuple(found.values())


def _law(
    market: str,
    amounts: Mapping[str, float],
    scenario: Scenario,
    catalogue: Catalogue,
    unlawful: Sequence[object],
) -> LawLine:
    if market not in catalogue.markets():
        return LawLine(market, 0, None, ())
    rows = [row for row in catalogue.substance_limits if row.market == market]
    limits = strictest(row for row in rows if holds(row, scenario))
    duties = [
        row for row in catalogue.duties if row.market == market and holds(row, scenario)
    ]
    counted: list[SubstanceLimit | Duty] = [*limits]
    counted += [row for row in duties if row.above > 0.0]
    sources = dict.fromkeys([row.source for row in limits])
    sources |= dict.fromkeys([row.source for row in duties])
    broken = any(
        isinstance(each, SubstanceLimit) and each.market == market for each in unlawful
    )
    later = strictest(row for row in rows if begins_soon(row, scenario))
    days = [row.scope.begins for row in rows if begins_later(row, scenario)]
    nothing_yet = not counted and bool(days)
    coming = (Coming(row, catalogue.content(amounts, row.factors)) for row in later)
    return LawLine(
        market,
        len(counted),
        None if nothing_yet else not broken,
        tuple(
            catalogue.sources[key].reference
            for key in sources
            if key in catalogue.sources
        ),
        {way: sum(row.scope.read == way for row in counted) for way in (*READ, OWN)},
        tuple(row for row in duties if _is_asked(row, amounts, catalogue)),
        tuple(each for each in coming if each.has > 0.0),
        tuple(sorted(day for day in days if day is not None)),
        gaps=tuple(row.about for row in duties if row.kind == "gap"),
        unknown=sum(1 for _ in _strangers(_used(amounts), catalogue)),
    )


def _used(amounts: Mapping[str, float]) -> list[str]:
    """Return what there is some of, by its key."""
    return [key for key, percent in amounts.items() if percent > 0.0]


def _is_asked(duty: Duty, amounts: Mapping[str, float], catalogue: Catalogue) -> bool:
    """Whether a duty holds for a formula, by the high end of what is known of it."""
    if duty.substance is None:
        return True
    return catalogue.content(amounts, {duty.substance: 1.0}) > duty.above


def _is_calibrated(key: str, catalogue: Catalogue) -> bool:
    """Whether some figure of an ingredient comes from the workshop's calibration."""
    return any(
        figure.calibrated
        for name in ("solid fat", "wax firmness")
        for figure in catalogue.figures.get(name, {}).get(key, {}).values()
    )
