"""What a label says, market by market: ingredients, names of scents, content, dates."""

from __future__ import annotations

import calendar
import csv
import io
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.caution import CautionLine
from optimiser.domain.label import BORDER, LabelRules, Maker
from optimiser.domain.law import SOON, Duty, SubstanceLimit, holds, strictest
from optimiser.domain.net_content import NetContent
from optimiser.domain.products import LIP, kinds_of
from optimiser.domain.scenario import Scenario
from optimiser.explaining import cautions, facts
from optimiser.explaining.answer import AllergenLine, LabelName
from optimiser.explaining.basis import MayBe, basis, may_be
from optimiser.explaining.declared import (
    COLOUR,
    SCENT,
    Declared,
    Infused,
    declared,
    in_order,
    infused_last,
    same_name,
    shares_to_ask,
)
from optimiser.explaining.overstepped import Overstepped
from optimiser.units import OUNCE

__all__ = [
    "BY_SIZE",
    "Keeping",
    "Label",
    "Later",
    "NameOnLabel",
    "Particulars",
    "keeping",
    "label",
    "net_words",
]

POUND = 16  # ounces
SLIP = 1e-6  # percent: a sum of contents this little over a limit keeps it
SQUARE_INCH = 6.4516  # cm2
ALLERGEN = "scent allergen"
SHARES, SHARES_COLUMNS = (
    "constituents.csv",
    "ingredient,constituent,value,unit,evidence",
)
# What the law goes by for the height of figures, of a label's sides in mm: square
# inches, cm2, the longest side in mm; elsewhere by the net content.
BY_SIZE: Mapping[str, Callable[[float, float], float]] = {
    "US": lambda wide, high: wide * high / 100.0 / SQUARE_INCH,
    "CA": lambda wide, high: wide * high / 100.0,
    "AU": max,
}


class Particulars(Struct, frozen=True):
    """What the maker says of a batch: content in g, code, days, months after opening.

    ``best_before`` is the maker's own day, which stands before that of the lots;
    ``sides`` are those of the label, mm; ``maker`` is who makes it.
    """

    made: date
    net: float | None = None
    lot: str | None = None
    best_before: date | None = None
    after_opening: int | None = None
    sides: tuple[float, float] | None = None
    maker: Maker = Maker()


class Keeping(Struct, frozen=True):
    """Until when the lots of a formula keep.

    ``until`` is the earliest expiry of a lot that had not expired on the day it is
    made, of ``ingredient``, ``lot``; None where no expiry is known. ``unknown`` are
    ingredients without a lot that says so, ``expired`` those of which a lot had;
    ``invented`` tells how many lots on the shelf are: "all" or "some".
    """

    until: date | None
    ingredient: str = ""
    lot: str = ""
    unknown: tuple[str, ...] = ()
    expired: tuple[str, ...] = ()
    invented: str | None = None

    @property
    def whole(self) -> date | None:
        """The day, where all in it has a lot of the maker's own that says so."""
        return None if self.unknown or self.invented else self.until


class NameOnLabel(Struct, frozen=True):
    """One name as it stands in the list; percent of the product.

    ``place`` is "ordered", "any order", "colour" or "end"; ``kind`` as in Declared,
    or "scent allergen". ``percent`` None: a share of a mixture that is not known.
    ``unsure`` says that its place in the order may be another.
    """

    name: str
    percent: float | None
    low: float
    high: float
    kind: str
    place: str
    known: bool
    unsure: bool
    of: tuple[str, ...]


class Later(Struct, frozen=True):
    """A name that a label must carry from a day within a year on; or has to carry.

    Older stock without it may be supplied until ``supply``.
    """

    name: str
    begins: date | None
    supply: date | None


class Label(Struct, frozen=True):
    """A label for one market.

    Attributes
    ----------
    entries : tuple of NameOnLabel
        The list of ingredients, in its order.
    allergens : tuple of LabelName
        Scent allergens over their threshold, each with its sum.
    net : str or None
        The net content as it is printed; None where none was given.
    net_asked : bool
        Whether the law asks for it.
    digits : float or None
        How high its figures must be, mm; None where that is not known.
    best_before, after_opening : date and months, or None
    date_asked : bool
        Whether this market asks for a date, or months after opening.
    dated_by_lots : bool
        Whether the date is that of the earliest lot.
    spoils : tuple of CautionLine
        Why it may spoil before its lots do, so that none of them dates it.
    warnings : tuple of str
        What is printed.
    to_word : tuple of Duty
        Words that the law asks for and that are not known here.
    contains : tuple of AllergenLine
        Food allergens, by this market's list.
    to_fill_in : tuple of (what, text)
    unjudged : tuple of str
        Scents of which no content of any scent allergen is known.
    later, in_transition : tuples of Later
    checked : bool
        Whether the limits of this market held when the formula was found.
    duties : tuple of Duty
        What the market asks for beside.
    editions : tuple of str
    unlawful : tuple of (SubstanceLimit, float)
        Limits of its law that the formula passes, and what it has, percent.
    may_be : tuple of MayBe
        Ingredients that may be, by their names, what its law limits.
    by_maker : tuple of (what, text)
        What the maker's name, address and contact fill in, as it is printed.
    for_all : tuple of str
        What of it the law asks for, where the workshop names nobody for this market.
    """

    market: str
    rules: LabelRules
    entries: tuple[NameOnLabel, ...]
    allergens: tuple[LabelName, ...]
    net: str | None
    net_asked: bool
    digits: float | None
    lot: str | None
    made: date
    best_before: date | None
    after_opening: int | None
    date_asked: bool
    dated_by_lots: bool
    warnings: tuple[str, ...]
    to_word: tuple[Duty, ...]
    contains: tuple[AllergenLine, ...]
    to_fill_in: tuple[tuple[str, str], ...]
    unjudged: tuple[str, ...]
    later: tuple[Later, ...]
    in_transition: tuple[Later, ...]
    checked: bool
    duties: tuple[Duty, ...]
    editions: tuple[str, ...]
    unlawful: tuple[tuple[SubstanceLimit, float], ...] = ()
    may_be: tuple[MayBe, ...] = ()
    spoils: tuple[CautionLine, ...] = ()
    by_maker: tuple[tuple[str, str], ...] = ()
    for_all: tuple[str, ...] = ()
    over: tuple[Overstepped, ...] = ()
    infused: tuple[Infused, ...] = ()

    @property
    def ingredients(self) -> str:
        """The list as it is printed, without its head."""
        return ", ".join(
            each.name if each.known else f"[INCI name of {each.name}]"
            for each in self.entries
        )


def label(
    amounts: Mapping[str, float],
    scenario: Scenario,
    catalogue: Catalogue,
    rules: LabelRules,
    content: NetContent | None,
    asked: Particulars,
) -> Label:
    """Return the label of a formula for the market of some rules.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent
    scenario : Scenario
        Its use, product and day; its markets are those whose limits held.
    content : NetContent or None
        The market's law of net content; None where the catalogues have none.
    """
    market = rules.market
    here = replace(scenario, markets=(market,))
    names = facts.label_names(amounts, here, catalogue)
    rests = basis(amounts, here, catalogue)
    law = rests.law[0]
    duties = [each for each in law.duties if each.kind == "label"]
    used = [key for key, percent in amounts.items() if percent > 0.0]
    told = cautions.cautions(amounts, scenario, catalogue)
    warnings = [each.words for each in duties if each.words]
    warnings += cautions.on_a_label(told)
    kept = keeping(amounts, catalogue, asked.made)
    spoils = cautions.that_spoil(told)
    by_lots = None if spoils else kept.whole
    until = asked.best_before or by_lots
    long = _keeps_long(until, asked.made, rules)
    limits = [x for x in catalogue.substance_limits if x.is_law and holds(x, here)]
    asks = dict(rules.to_fill_in)
    says = asked.maker.on(market).says
    by_maker = {k: x for k, x in says.items() if k in asks or k == "address"}
    own = market in asked.maker.elsewhere
    found = Label(
        market=market,
        rules=rules,
        entries=_entries(amounts, catalogue, _tasted(rules, scenario), names),
        allergens=names,
        net=None if asked.net is None else net_words(asked.net, ounces=rules.ounces),
        net_asked=asked.net is None or asked.net >= rules.no_content_under,
        digits=_digits(content, asked),
        lot=asked.lot,
        made=asked.made,
        best_before=None if long else until,
        after_opening=asked.after_opening,
        date_asked=rules.durable_months is not None,
        dated_by_lots=asked.best_before is None and until is not None,
        warnings=tuple(dict.fromkeys(warnings)),
        to_word=tuple(each for each in duties if _is_to_word(each)),
        contains=_contains(amounts, catalogue, market),
        to_fill_in=(),
        unjudged=_unjudged(amounts, catalogue, market),
        later=_later(amounts, here, catalogue, names),
        in_transition=_in_transition(here, catalogue, names),
        checked=market in scenario.markets,
        duties=law.duties,
        editions=_editions(duties, catalogue, market),
        unlawful=tuple(
            (each, has)
            for each in strictest(limits)
            if (has := catalogue.content(amounts, each.factors)) > each.high + SLIP
        ),
        may_be=tuple(may_be(used, here, catalogue)),
        spoils=spoils,
        by_maker=tuple(by_maker.items()),
        for_all=() if own else tuple(asks[k] for k in by_maker if k in asks),
        over=rests.over,
        infused=tuple(_infused(amounts, catalogue)),
    )
    lacking = _to_fill_in(found, scenario)
    lacking += _shares_asked(amounts, found.entries, scenario, catalogue)
    return replace(found, to_fill_in=tuple(lacking))


def _tasted(rules: LabelRules, scenario: Scenario) -> LabelRules:
    """Return rules by which scents of what goes on lips stand as flavours.

    The law gives a word for each and leaves open where one ends; lips taste both.
    """
    if LIP in kinds_of(scenario.product, scenario.use):
        return replace(rules, scent=rules.flavour)
    return rules


def _is_to_word(duty: Duty) -> bool:
    """Whether a duty asks for words that are not known, of this product above all."""
    return not duty.words and bool(duty.substance or duty.scope.products)


def _entries(
    amounts: Mapping[str, float],
    catalogue: Catalogue,
    rules: LabelRules,
    names: Sequence[LabelName],
) -> tuple[NameOnLabel, ...]:
    """Return the list: ordered, in any order, colours; what is exactly 1 % is ordered.

    That order is right in every market: those that let 1 % stand anywhere let it
    stand there too.
    """
    found = in_order(
        declared(
            amounts,
            catalogue,
            scent=rules.scent,
            flavour=rules.flavour,
            names=rules.names,
        )
    )
    there = {same_name(each.name) for each in found}
    found += [
        Declared(
            each.name, each.percent, 0.0, each.percent, each.percent, ALLERGEN,
            of=each.from_ingredients,
        )
        for each in names
        if same_name(each.name) not in there
    ]  # fmt: skip
    ends = [
        each
        for each in found
        if rules.scent_last and each.kind in {SCENT, "flavour"}
    ]  # fmt: skip
    colours = [each for each in found if each.kind == COLOUR]
    rest = [each for each in found if each not in ends and each not in colours]
    ordered = in_order(each for each in rest if each.at >= BORDER - 1e-6)
    ordered.sort(key=lambda each: (-round(each.at, 3), each.kind == ALLERGEN))
    small = [each for each in rest if each.at < BORDER - 1e-6]
    # Scents and the names they bring stand together at the end of the small ones.
    small.sort(key=lambda each: (each.kind == ALLERGEN, each.kind != ""))
    return (
        *(_entry(each, rest, rules) for each in (*ordered, *small)),
        *(_entry(each, (), rules, "colour") for each in colours),
        *(_entry(each, (), rules, "end") for each in ends),
    )


def _entry(
    each: Declared, among: Sequence[Declared], rules: LabelRules, place: str = ""
) -> NameOnLabel:
    free = rules.in_any_order(each.at)
    unsure = each.kind != ALLERGEN and any(
        (each.unplaced or other.unplaced)
        and other is not each
        and other.kind != ALLERGEN
        and max(each.high, other.high) >= BORDER
        and each.low < other.high
        and other.low < each.high
        for other in among
    )
    return NameOnLabel(
        name=each.name,
        percent=each.percent,
        low=each.low,
        high=each.high,
        kind=each.kind,
        place=place or ("any order" if free else "ordered"),
        known=each.known,
        unsure=unsure and each.unplaced,
        of=each.of,
    )


def net_words(grams: float, *, ounces: bool) -> str:
    """Return a net content as it is printed; ounces never more than there is.

    From one pound to under four both ounces and pounds stand, then pounds.

    >>> net_words(60, ounces=False), net_words(1250, ounces=False)
    ('60 g', '1.25 kg')
    >>> net_words(60, ounces=True), net_words(500, ounces=True)
    ('Net Wt 2.11 oz (60 g)', 'Net Wt 17.63 oz (1 lb 1.63 oz) 500 g')
    """
    metric = f"{grams / 1000:.4g} kg" if grams >= 1000.0 else f"{grams:.4g} g"
    if not ounces:
        return metric
    hundredths = math.floor(grams / 1000.0 / OUNCE * 100.0 + 1e-9)
    whole = f"{hundredths / 100.0:g} oz"
    pounds, rest = divmod(hundredths, 100 * POUND)
    if pounds == 0:
        return f"Net Wt {whole} ({metric})"
    parted = f"{pounds} lb" + (f" {rest / 100.0:g} oz" if rest else "")
    if pounds < 4:
        return f"Net Wt {whole} ({parted}) {metric}"
    return f"Net Wt {parted} ({metric})"


def _digits(content: NetContent | None, asked: Particulars) -> float | None:
    """Return how high the figures of the content must be, mm; None if not known."""
    if content is None or not content.heights:
        return None
    measure = BY_SIZE.get(content.market)
    by = asked.net
    if measure is not None:
        by = None if asked.sides is None else measure(*asked.sides)
    if by is None:
        return None
    return next(
        (x.millimetres for x in content.heights if x.over < by <= x.up_to), None
    )


def keeping(amounts: Mapping[str, float], catalogue: Catalogue, made: date) -> Keeping:
    """Return until when the lots on the shelf of a formula's ingredients keep.

    Which of several lots goes in is not known: the earliest counts. A lot that had
    expired on the day it is made is not taken.
    """
    lots: dict[str, list[tuple[date, str]]] = {}
    expired: list[str] = []
    for each in catalogue.stock:
        if amounts.get(each.ingredient, 0.0) <= facts.TRACE or each.expiry is None:
            continue
        if each.expiry < made:
            expired.append(catalogue.ingredients[each.ingredient].name)
            continue
        lots.setdefault(each.ingredient, []).append((each.expiry, each.lot))
    used = [key for key, percent in amounts.items() if percent > facts.TRACE]
    unknown = tuple(catalogue.ingredients[x].name for x in used if x not in lots)
    found = Keeping(
        None,
        unknown=unknown,
        expired=tuple(dict.fromkeys(expired)),
        invented=catalogue.invented_lots,
    )
    if not lots:
        return found
    (until, lot), key = min((min(dated), key) for key, dated in lots.items())
    name = catalogue.ingredients[key].name
    return replace(found, until=until, ingredient=name, lot=lot)


def _months_after(day: date, months: int) -> date:
    """Return the day so many months later, or the last of that month.

    >>> _months_after(date(2026, 8, 31), 30)
    datetime.date(2029, 2, 28)
    """
    year, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + year, month + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def _keeps_long(until: date | None, made: date, rules: LabelRules) -> bool:
    """Whether it keeps so long that the law wants no date."""
    months = rules.durable_months
    return (
        until is not None and months is not None and until > _months_after(made, months)
    )


def _editions(
    duties: Sequence[Duty], catalogue: Catalogue, market: str
) -> tuple[str, ...]:
    """Return the texts that the scent names and the words of a label were read in."""
    keys = [each.source for each in catalogue.scent_allergens if each.market == market]
    keys += [each.source for each in duties]
    known = (catalogue.sources.get(key) for key in dict.fromkeys(keys))
    return tuple(each.reference for each in known if each is not None)


def _contains(
    amounts: Mapping[str, float], catalogue: Catalogue, market: str
) -> tuple[AllergenLine, ...]:
    return tuple(
        each for each in facts.allergens(amounts, catalogue) if market in each.listed
    )


def _unjudged(
    amounts: Mapping[str, float], catalogue: Catalogue, market: str
) -> tuple[str, ...]:
    """Return scents without a figure for any substance that a name counts."""
    counted = {
        substance
        for each in catalogue.scent_allergens
        if each.market == market
        for substance in each.substances
    }
    return tuple(
        catalogue.ingredients[key].name
        for key, percent in amounts.items()
        if counted
        and percent > facts.TRACE
        and catalogue.ingredients[key].category == SCENT
        and not any(key in catalogue.contents.get(each, {}) for each in counted)
    )


def _later(
    amounts: Mapping[str, float],
    here: Scenario,
    catalogue: Catalogue,
    names: Sequence[LabelName],
) -> tuple[Later, ...]:
    """Return the names that a label must carry within a year, and does not yet."""
    now = {each.name for each in names}
    soon = replace(here, on=here.day + SOON)
    scopes = _scopes(here, catalogue)
    return tuple(
        Later(each.name, *scopes[each.name])
        for each in facts.label_names(amounts, soon, catalogue)
        if each.name not in now
    )


def _in_transition(
    here: Scenario, catalogue: Catalogue, names: Sequence[LabelName]
) -> tuple[Later, ...]:
    """Return the names without which older stock may still be supplied."""
    scopes = _scopes(here, catalogue)
    found = (Later(each.name, *scopes[each.name]) for each in names)
    return tuple(x for x in found if x.supply is not None and x.supply >= here.day)


def _scopes(
    here: Scenario, catalogue: Catalogue
) -> dict[str, tuple[date | None, date | None]]:
    return {
        each.label_name: (each.scope.begins, each.scope.supply)
        for each in catalogue.scent_allergens
        if each.market in here.markets
    }


def _to_fill_in(found: Label, scenario: Scenario) -> list[tuple[str, str]]:
    """Return what has to stand there and is not known here."""
    rules, told = found.rules, dict(found.by_maker)
    lacking = [each for each in rules.to_fill_in if each[0] not in told]
    if scenario.product is None:
        lacking.append(("function", "what it is for, unless obvious"))
    if found.net is None:
        lacking.append(("content", "net content"))
    if found.lot is None:
        lacking.append(("batch", "batch code"))
    dated = found.best_before or found.after_opening
    if rules.durable_months is not None and not dated:
        what = f"best-before date, or beyond {rules.durable_months} months the period"
        lacking.append(("date", f"{what} after opening"))
    lacking += [
        ("INCI name", f"INCI name of {each.name}")
        for each in found.entries
        if not each.known
    ]
    lacking += [("warning", f"{x.about}: {x.text}") for x in found.to_word]
    return lacking


def _infused(amounts: Mapping[str, float], catalogue: Catalogue) -> Iterator[Infused]:
    """Yield what stands last as infused in an oil, and might reach another place."""
    for key, percent in amounts.items():
        if percent > facts.TRACE:
            each = catalogue.ingredients[key]
            found = infused_last(each, percent, BORDER, catalogue)
            if found is not None:
                yield found


def _shares_asked(
    amounts: Mapping[str, float],
    entries: Sequence[NameOnLabel],
    scenario: Scenario,
    catalogue: Catalogue,
) -> Iterator[tuple[str, str]]:
    """Yield which shares of mixtures the order waits for, with a row for each."""
    unsure = {of for each in entries if each.unsure for of in each.of}
    file = f"catalogues/workshops/{scenario.workshop or 'NAME'}/{SHARES}"
    for key, percent in amounts.items():
        each = catalogue.ingredients[key]
        if percent <= facts.TRACE or each.name not in unsure:
            continue
        names = shares_to_ask(each, catalogue)
        if names:
            row = io.StringIO()
            csv.writer(row).writerow((key, names[0], "SHARE", "%", "supplier"))
            yield (
                "share",
                f"share of {' and of '.join(names)} in {each.name}, percent: a row in"
                f" {file} (columns {SHARES_COLUMNS}), such as:"
                f" {row.getvalue().strip()}",
            )
