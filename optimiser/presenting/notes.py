"""What an answer rests on and leaves open, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from optimiser.domain.wording import Measured
from optimiser.presenting.page import Paragraph
from optimiser.presenting.words import beside, listed, plural, short

if TYPE_CHECKING:
    from optimiser.domain.law import Duty
    from optimiser.domain.material import UsageLimit
    from optimiser.explaining.answer import PropertyLine
    from optimiser.explaining.basis import Basis, Coming, LawLine, MayBe, NotKnown
    from optimiser.explaining.overstepped import Overstepped

__all__ = [
    "AGREED",
    "as_weighed_told",
    "beyond_told",
    "calibrated_told",
    "coming_begun",
    "coming_told",
    "duty_begun",
    "duty_told",
    "how_read",
    "law_in_short",
    "law_line",
    "law_lines",
    "lots_told",
    "may_be_told",
    "notes",
    "past_told",
    "prices_told",
    "unfirm_told",
]

AGREED = "only if the supplier agrees in writing"
_WHOSE = {
    "supplier": ("the supplier's", f"eased here; {AGREED}"),
    "practice": ("common practice's", "eased here"),
}
UNCHECKED = "pH, microbes, stability and packaging were not checked"


def law_line(line: LawLine, *, brief: bool = False, whole: bool = True) -> str:
    """Return what was checked of a market's law, in one line.

    With the edition, unless it is to be ``brief``, and with how each limit was read, in
    few words unless ``whole``.

    >>> from optimiser.explaining.basis import LawLine
    >>> law_line(LawLine("CA", 0, None, ()))
    'CA: not in the catalogues, NOT checked'
    >>> law_line(LawLine("GB", 9, True, ("Act",), {"retrieved": 8, "memory": 1}))
    'GB: 9 limits kept (Act; 8 read in the text, 1 from memory)'
    >>> law_line(LawLine("GB", 9, None, (), {"retrieved": 9}, held=False))
    'GB: 9 limits to be kept (9 read in the text)'
    >>> law_line(LawLine("CA", 1, True, (), {"retrieved": 1}, gaps=("the rest",)))
    'CA: 1 limit kept (1 read in the text; NOT here: the rest)'
    >>> law_line(LawLine("GB", 9, True, (), {"retrieved": 9}, unknown=2))
    'GB: 9 limits kept but for 2 unknown ingredients, NOT checked (9 read in the text)'
    """
    if line.kept is None and line.later and line.held:
        day, many = line.later[0], len(line.later)
        told = f"1 begins {day}" if many == 1 else f"{many} to come, first {day}"
        return f"{line.market}: no limit in force yet ({told}): NOT checked"
    if line.kept is None and line.held:
        return f"{line.market}: not in the catalogues, NOT checked"
    told = _kept(line)
    more = len(line.editions) - 1
    texts = [
        f"{each}{f' and {more} more' if more else ''}"
        for each in line.editions[: 0 if brief else 1]
    ]
    gaps = [f"NOT here: {listed(line.gaps)}"] if line.gaps else []
    # What is to come has to go on the line too.
    brief = brief and bool(_coming_kept(line))
    said = "; ".join((*texts, *how_read(line, whole=whole, brief=brief), *gaps))
    return f"{told} ({said})" if said else told


def _kept(line: LawLine) -> str:
    """Return how many of a market's limits are kept, without what that rests on."""
    kept = "kept" if line.kept else "looked at, NOT all kept"
    if not line.held:
        kept = "to be kept"
    told = f"{line.market}: {plural(line.limits, 'limit')} {kept}"
    if line.unknown:
        told += f" but for {plural(line.unknown, 'unknown ingredient')}, NOT checked"
    return told


def law_in_short(
    law: Sequence[LawLine], *, brief: bool = True, of: str = ""
) -> Iterator[Paragraph]:
    """Yield the law in one line a market, or that no market is named.

    ``of`` is the product that it is about, where a page has several.
    """
    about = f" of {of}" if of else ""
    for line in law:
        told = law_line(line, brief=brief, whole=False)
        core = _kept(line) if line.kept is not None or not line.held else told
        coming = _coming_kept(line, brief=brief)
        yield Paragraph(f"Law{about}, {told}{coming}.", core)
    if not law:
        yield Paragraph(f"Law{about}: NOT checked, for no market is named.")


def unfirm_told(names: Sequence[str]) -> Iterator[Paragraph]:
    """Yield that nothing tells how firm a formula is, for nothing is known of these."""
    if names:
        told = f"Firmness is not judged: nothing is known of {listed(names, 3)}."
        yield Paragraph(told)


def beyond_told(basis: Basis) -> Iterator[Paragraph]:
    """Yield the habits that a formula goes beyond, and the line that holds it to one.

    They are told and not enforced.
    """
    told = tuple(
        f"{short(percent, 3)} % {name} (at most {short(usage.high or 0.0)} %"
        f" {_habit(usage)})"
        for name, percent, usage in basis.beyond
    )
    if told:
        _, name, usage = basis.beyond[0]
        line = f'"{name}" = {{ max = {short(usage.high or 0.0)} }}'
        yield Paragraph(
            f"More than is usual: {listed(told, 2)}. To hold it to that, write {line}"
            " below [limits]."
        )


def _habit(usage: UsageLimit) -> str:
    """Return whose habit a limit is that is told and not enforced."""
    if usage.market:
        return f"by an opinion for {usage.market}, no law"
    if usage.written_for:
        return f"for {usage.written_for}"
    return "by assumed practice"


def law_lines(basis: Basis, *, brief: bool = False) -> Iterator[Paragraph]:
    """Yield the law in one line a market, and what could not be judged."""
    yield from law_in_short(basis.law, brief=brief)
    yield from past_told(basis.over)
    if not basis.law:
        return
    if not basis.kind_told:
        kinds = " and ".join(basis.kinds)
        told = f"Taken as {kinds}, for no product is named: lips, face, eyes, children"
        yield Paragraph(f"{told} and others have limits of their own.")
    blind = []
    if basis.strangers:
        blind.append(f"nothing is known of {listed(basis.strangers, 3)}")
    if basis.infusions:
        blind.append(f"not known what is infused in {listed(basis.infusions, 3)}")
    strange = {*basis.strangers, *basis.infusions}
    scents = [each for each in basis.unknown_contents if each not in strange]
    if scents:
        blind.append(f"no figure for what is in {listed(scents, 3)}")
    blind += [_not_known(each) for each in basis.not_known[:1]]
    if len(basis.not_known) > 1:
        more = plural(len(basis.not_known) - 1, "more content")
        blind.append(f"and {more} of oils")
    if blind:
        typed = "(--full)" if len(basis.not_known) > 1 else ""
        yield Paragraph(f"Not judged: {'; '.join(blind)}.", typed=typed)
    for each in basis.may_be:
        yield Paragraph(may_be_told(each))


def past_told(over: Sequence[Overstepped]) -> Iterator[Paragraph]:
    """Yield each limit of others that a formula goes past, as it is eased here."""
    for each in over:
        rule = each.rule
        most = rule.side == "max"
        limit = f"{short(rule.limit, 3)} %"
        if most and isinstance(rule.wording, Measured) and rule.wording.after:
            limit += f" {rule.wording.after}"
        has = beside(each.value, rule.limit)
        whose, eased = _WHOSE[rule.owner]
        yield Paragraph(
            f"{'Over' if most else 'Under'} {whose} {'limit' if most else 'least'} of"
            f" {limit}: {rule.wording.what} {has} % ({eased})."
        )


def as_weighed_told(grams: float) -> str:
    """Return that a filled-in batch sheet counts by what the scale showed, g in all."""
    return (
        f"as weighed: {short(grams)} g in all, by the column weighed_grams, not by what"
        " was planned"
    )


def may_be_told(each: MayBe) -> str:
    """Return what an ingredient may be by its name, and what the law says of that."""
    markets, many = listed(each.markets), len(each.markets) > 1
    said = f"{markets} {'do' if many else 'does'} not allow"
    if each.limit.high:
        high = short(each.limit.high)
        said = f"{markets} {'limit' if many else 'limits'} to {high} % of the product"
    return f"{each.name} may be {each.limit.name}, which {said}: ask the supplier."


def _not_known(each: NotKnown) -> str:
    """Return what is not known of some oils, in short."""
    return f"no figure for {each.limit.name} in {listed(each.oils, 2)}"


def how_read(line: LawLine, *, whole: bool = True, brief: bool = False) -> list[str]:
    """Return how many of a market's limits were read how, if that is known.

    >>> from optimiser.explaining.basis import LawLine
    >>> read = {"retrieved": 48, "secondary": 11, "memory": 1}
    >>> how_read(LawLine("EU", 60, True, (), read))
    ['48 read in the text, 11 in what restates it, 1 from memory']
    >>> how_read(LawLine("EU", 60, True, (), read), whole=False)
    ['48 read in the text, 11 second-hand, 1 from memory']
    """
    words = _READ
    if line.read.get("retrieved"):  # which says already that they were read
        words = {**_READ, "secondary": "in what restates it"}
    if not whole:
        words = {**words, "secondary": "second-hand"}
    if brief and not whole:
        words["retrieved"] = "read"
    told = [f"{line.read[way]} {words[way]}" for way in words if line.read.get(way)]
    return [", ".join(told)] if told else []


_READ = {
    "retrieved": "read in the text",
    "secondary": "read in what restates it",
    "memory": "from memory",
    "own": "of your own",
}


def coming_told(line: LawLine) -> Iterator[str]:
    """Yield what begins within a year and counts something in a formula."""
    for each in line.coming:
        limit, scope = each.limit, each.limit.scope
        told = _coming(line.market, each)
        if scope.supply is not None:
            told += f" (older stock may be supplied until {scope.supply})"
        yield f"{told}. {limit.instrument}{_graded(scope.read)}"


def coming_begun(line: LawLine) -> Iterator[str]:
    """Yield what begins within a year and is passed; its line counts what is kept."""
    for each in line.coming:
        if each.over:
            yield f"{_coming(line.market, each)} (--full)"


def _coming_kept(line: LawLine, *, brief: bool = False) -> str:
    kept = sum(not each.over for each in line.coming)
    if not kept:
        return ""
    if brief:
        return f" and {kept} to come"
    begin, is_kept = ("begins", "is") if kept == 1 else ("begin", "are")
    return f"; {kept} more {begin} within a year and {is_kept} kept"


def _coming(market: str, each: Coming) -> str:
    limit = each.limit
    high = f"at most {short(limit.high)} %" if limit.high else "not allowed"
    told = f"{market} from {limit.scope.begins}: {limit.name} {high}; here up to"
    return told + f" {short(each.has, 2)} %{', which is OVER it' if each.over else ''}"


def duty_told(duty: Duty) -> str:
    """Return what a market asks for, or leaves free, with where that stands."""
    where = f"{duty.instrument}{f', {duty.entry}' if duty.entry else ''}"
    return (
        f"{duty.market}, {_kind(duty)}{duty.about}: {duty.text}"
        f" ({where}{_graded(duty.scope.read)})"
    )


def duty_begun(duty: Duty) -> str:
    """Return what a market asks for, to its first pause: the full page has the rest."""
    text = duty.text.partition(";")[0].partition(", ")[0].removesuffix(".")
    return f"{duty.market}, {_kind(duty)}{duty.about}: {text} (--full)"


def _kind(duty: Duty) -> str:
    """Return what kind of thing a market asks for, as it stands before what about."""
    return _DUTIES[duty.kind]


_DUTIES = {"pending": "pending, ", "free": "not limited: ", "claim": "claims: "}
_DUTIES |= {"gap": "NOT here, "}
_DUTIES |= dict.fromkeys(("label", "notify", "none pending", "condition"), "")


def _graded(read: str) -> str:
    return "" if read in {"retrieved", "own"} else f"; {_READ[read]}"


def prices_told(
    invented: str | None, of: Sequence[str] | None = None
) -> tuple[str, ...]:
    """Return what is said of invented prices below a title: nothing where none is.

    ``of`` names what of the formula is priced so, where it is about one.

    >>> prices_told("some"), prices_told(None), prices_told("some", ["beeswax"])
    (('some prices invented',), (), ('price of beeswax invented',))
    >>> prices_told("some", [])
    ('prices invented only of what is not in it',)
    >>> prices_told("noted")
    ('prices that a note calls invented count as yours: a column evidence marks them',)
    >>> prices_told("uncounted")
    ('invented prices, in another currency, do not count',)
    """
    if invented == "uncounted":
        return ("invented prices, in another currency, do not count",)
    if invented == "noted":
        told = "prices that a note calls invented count as yours"
        return (f"{told}: a column evidence marks them",)
    if invented == "some" and of is not None:
        if not of:
            return ("prices invented only of what is not in it",)
        return (f"price{'' if len(of) == 1 else 's'} of {listed(of, 2)} invented",)
    return _told_invented("prices", invented)


def lots_told(invented: str | None) -> tuple[str, ...]:
    """Return what is said of invented lots where a page goes by the shelf.

    >>> lots_told("all"), lots_told(None)
    (('lots invented',), ())
    """
    return _told_invented("lots", invented)


def _told_invented(what: str, how_many: str | None) -> tuple[str, ...]:
    if how_many is None:
        return ()
    return (f"{'some ' if how_many == 'some' else ''}{what} invented",)


def notes(
    basis: Basis, formulas: Sequence[tuple[str, Sequence[PropertyLine]]]
) -> tuple[str, ...]:
    """Return what a reader must know beside the figures.

    Parameters
    ----------
    formulas : sequence of (title, properties)
        The formulas that are shown; one alone needs no title.
    """
    return tuple(_notes(basis, formulas))


def _notes(
    basis: Basis, formulas: Sequence[tuple[str, Sequence[PropertyLine]]]
) -> Iterator[str]:
    for rule_id, file in basis.dropped:
        yield f"'{rule_id}' does not count here (dropped in {file})"
    for rule in basis.eased:
        yield f"eased here: {rule.sentence}"
    for rule in basis.silent:
        yield (
            f"'{rule.sentence}' says nothing here: no ingredient that it is about can"
            " be chosen"
        )
    yield from _of_the_law(basis)
    yield from calibrated_told(basis)
    for name, percent, usage in basis.beyond:
        yield (
            f"{short(percent)} % of {name} is more than the"
            f" {short(usage.high or 0.0)} %"
            f" {_habit(usage)}: told, not enforced"
        )
    if not basis.cautious:
        yield from _at_an_end(formulas)
    if basis.workshop is not None:
        yield (
            f"prices are those of workshop '{basis.workshop}', each at its cheapest"
            " pack per kg; buying for this batch alone may cost more"
        )
    if basis.invented in {"uncounted", "noted"}:
        yield f"{prices_told(basis.invented)[0]} (GUIDE.md, Change prices)"
    elif basis.invented is not None:
        some = "some prices" if basis.invented == "some" else "all prices"
        yield f"{some} of workshop '{basis.workshop}' are invented: put in your own"
    if basis.invented_lots is not None:
        some = "some lots" if basis.invented_lots == "some" else "all lots"
        yield f"{some} on the shelf are invented: write your own into stock.csv"
    if basis.by_spoon:
        yield (
            f"{listed(basis.by_spoon)}: sold by volume, and weighed as a spoon of it is"
            " (volumes.csv), for no density is known; some 10 % either way"
        )
    yield UNCHECKED


def calibrated_told(basis: Basis) -> tuple[str, ...]:
    """Return whose firmness is as the workshop's own trials say; nothing if none's."""
    if not basis.calibrated:
        return ()
    return (
        f"firmness of {listed(basis.calibrated)} is as calibrated on the workshop's"
        " own trials (calibration.csv), not as published",
    )


def _of_the_law(basis: Basis) -> Iterator[str]:
    """Yield what was checked of the law, and what of it could not be judged."""
    for line in basis.law:
        told = law_line(line)
        yield told if line.kept is None else f"{told}; later amendments may be missing"
    if not basis.law:
        yield "no market is named, so no legal limit was checked"
    if basis.unknown_contents:
        yield (
            f"the substances in {', '.join(basis.unknown_contents)} are not known, so"
            " limits on them were not checked: ask for the certificate"
        )
    for each in basis.not_known:
        yield (
            f"{each.limit.name} in {listed(each.oils)} is not known and counts as"
            f" none: with as much as {each.relative} may hold"
            f" ({short(each.high, 3)} %) the limit of {short(each.limit.high)} % would"
            " be passed; ask for the certificate"
        )


def _at_an_end(
    formulas: Sequence[tuple[str, Sequence[PropertyLine]]],
) -> Iterator[str]:
    """Say which windows hold at the typical figures but not over their spread.

    Of several formulas the one that is furthest out is told, by its title.
    """
    asked: dict[tuple[str, float | None, str], list[tuple[str, PropertyLine]]] = {}
    for title, lines in formulas:
        for line in lines:
            if line.least is not None or line.most is not None:
                place = (line.property, line.at, line.over)
                asked.setdefault(place, []).append((title, line))
    for each in asked.values():
        first = each[0][1]
        lows = [(x.low, title) for title, x in each if x.low is not None]
        highs = [(x.high, title) for title, x in each if x.high is not None]
        low, high = min(lows, default=None), max(highs, default=None)
        if first.least is not None and low is not None and low[0] < first.least:
            yield _end(first, "low", low, first.least)
        if first.most is not None and high is not None and high[0] > first.most:
            yield _end(first, "high", high, first.most)


def _end(line: PropertyLine, end: str, worst: tuple[float, str], limit: float) -> str:
    value, title = worst
    at = "" if line.at is None else f" at {short(line.at)} °C"
    unit = f" {line.unit}" if line.unit else ""
    whose = f" ({title})" if title else ""
    side = "under" if end == "low" else "over"
    return (
        f"at the {end} end of its figures {line.property}{at} over the {line.over}"
        f" would be {short(value, 3)}{unit}{whose}, {side} the {short(limit)} asked for"
        " (cautious = true holds it there)"
    )
