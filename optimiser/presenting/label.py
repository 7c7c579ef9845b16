"""The page on a label: what is printed, what is to fill in, what is not known."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import date
from typing import Any

from msgspec import Struct
from msgspec.structs import asdict

from optimiser.explaining.answer import AllergenLine
from optimiser.explaining.declared import FLAVOUR
from optimiser.presenting.care import first_sentence
from optimiser.presenting.facts import allergen_words, allergens_in_short
from optimiser.presenting.following import next_told
from optimiser.presenting.label_sheet import Fitted, LabelLine, LabelSize
from optimiser.presenting.notes import duty_told, lots_told, may_be_told, past_told
from optimiser.presenting.page import (
    Block,
    Item,
    Page,
    Paragraph,
    Table,
    items,
    numbers,
    section,
    words,
)
from optimiser.presenting.words import clean, listed, plural, short
from optimiser.workshop.label import BY_SIZE, SHARES, Keeping, Label, NameOnLabel

__all__ = ["CHECK", "Labelled", "label_data", "label_page"]

CHECK = "Draft: to be checked by a qualified person before it is printed."
_PLACES = {
    "ordered": "by weight",
    "any order": "may stand in any order",
    "colour": "colour, at the end",
    "end": "at the end",
}


class Labelled(Struct, frozen=True):
    """Labels of a formula, one a market, with their words and whether they fit.

    ``batch`` is the recorded batch whose formula and lots they tell; blank: none.
    ``unwritten`` are names of what went into it without a lot that was written down.
    ``told`` is what reading the formula took for granted; ``workshop`` is whose.
    ``broken`` are rules that the weighed amounts break, as sentences, ``once`` those
    that they broke when the batch was recorded and do not break today.
    """

    title: str
    file: str
    use: str
    day: date
    reading: str
    keeping: Keeping
    food: tuple[AllergenLine, ...]
    labels: tuple[Label, ...]
    lines: tuple[tuple[LabelLine, ...], ...]
    size: LabelSize | None
    fits: tuple[Fitted, ...]
    batch: str = ""
    unwritten: tuple[str, ...] = ()
    told: tuple[str, ...] = ()
    workshop: str = ""
    broken: tuple[str, ...] = ()
    once: tuple[str, ...] = ()


def label_page(found: Labelled, *, full: bool = False) -> Page:
    """Return the page on labels."""
    over = [told for each in found.labels[:1] for told in past_told(each.over)]
    sections = [*section("", [*_broken(found), *over])]
    for place, each in enumerate(found.labels):
        sections += section(f"On the label: {each.market}", _printed(found, place))
        workshop = found.workshop if full else ""
        to_fill_in = _to_fill_in(each, workshop)
        sections += section("To fill in", items(to_fill_in))
        sections += section("How large", items(_large(found, place)))
        sections += section("Mind", items(list(_mind(each, full=full))))
        if full:
            sections += section("Ingredients in order", _in_order(each))
            sections += section("Scent names", items(list(_names(each))))
            sections += section("Asked by law", items(list(_law(each))))
    food = items(list(_food(found))) if full else allergens_in_short(found.food)
    sections += section("Dates and food allergens", [*items(_dates(found)), *food])
    last = [Paragraph(CHECK)]
    if not full:
        rest = "shares, places, sums of scent names, duties, editions"
        last.append(Paragraph("", typed=f"With --full: {rest}."))
        last.append(Paragraph("", typed=next_told("label")))
    sections += section("", last)
    about = f"{clean(found.file)}, {found.use}, by the law of {found.day}"
    made = (f"as batch {clean(found.batch)} was made",) if found.batch else ()
    top = (about, *made, *map(clean, found.told), *lots_told(found.keeping.invented))
    return Page(f"Label: {clean(found.title)}", top, tuple(sections))


def _broken(found: Labelled) -> Iterator[Block]:
    """Yield which rules are broken by what was weighed, and were when recorded."""
    for when, rules in (
        ("As weighed it breaks", found.broken),
        ("When it was recorded it broke, and by its rules of today keeps,", found.once),
    ):
        if rules:
            yield Paragraph(f"{when} {plural(len(rules), 'rule')}:")
            yield from items([clean(each) for each in rules])


def _printed(found: Labelled, place: int) -> Iterator[Block]:
    """Yield what is printed; what is still open is told below it."""
    for line in found.lines[place]:
        named = line.what in {"name", "function"}
        if line.what == "ingredients" or not (named or line.open):
            yield Paragraph(line.text)


# How the command takes what is to be filled in.
_OPTIONS = {
    "content": "(--net)",
    "batch": "(--lot)",
    "date": "(--best-before, --after-opening)",
}
_TOGETHER = ("address", "country", "contact", "function", "language")


# What the workshop's own table fills in.
_MAKER = 'name = "", address = "", contact = ""'


def _to_fill_in(label: Label, workshop: str) -> Iterator[str | Item]:
    """Yield what is open; where the ``workshop`` tells its maker, if it is named."""
    for what, text in label.to_fill_in:
        if what not in _TOGETHER:
            yield Item(clean(text), typed=_OPTIONS.get(what, ""))
    rest = [text for what, text in label.to_fill_in if what in _TOGETHER]
    if not rest:
        return
    told = "; ".join(rest)
    if {"address", "contact"} & {what for what, _ in label.to_fill_in}:
        folder = f"catalogues/workshops/{clean(workshop)}/" if workshop else ""
        told += f" ([maker] of {folder}scale.toml: {_MAKER})"
    yield told


def _large(found: Labelled, place: int) -> Iterator[str | Item]:
    label = found.labels[place]
    if label.net is not None and not label.net_asked:
        yield "A net content so small is not asked for by law."
    if label.net is not None:
        by_size = label.market in BY_SIZE
        told = "figures of the net content"
        if label.digits is not None:
            told += f" at least {short(label.digits)} mm high"
            yield (
                f"{told}, by the label; the pack's own size counts" if by_size else told
            )
        elif by_size and found.size is None:
            yield Item(f"{told}: by the size of the label", typed="(--size)")
        else:
            yield f"{told}: no height in the catalogues, NOT checked"
    if found.size is None:
        return
    fits, size = found.fits[place], found.size
    least = f"a small x at least {short(fits.least)} mm"
    if not label.rules.letters.law:
        least += ", as on food: no law read here gives one"
    where = f"{short(size.wide)} x {short(size.high)} mm"
    if fits.fits:
        yield f"It fits on {where} with letters of {short(fits.letters)} mm ({least})."
        return
    yield (
        f"It does NOT fit on {where} ({least}): {short(size.wide)} x"
        f" {short(fits.needs)} mm would do."
    )
    yield from (
        f"Else: {text}." for what, text in label.rules.told if what == "too small"
    )


def _mind(label: Label, *, full: bool) -> Iterator[str]:
    """Yield what is not known of a label, and what else is to be minded."""
    for limit, has in label.unlawful:
        high = f"at most {short(limit.high)} %" if limit.high else "not allowed"
        yield (
            f"NOT to be sold in {label.market}: {limit.name} {high}, here"
            f" {short(has, 3)} % ({limit.instrument})."
        )
    yield from (may_be_told(each) for each in label.may_be)
    if label.for_all:
        asked = listed(map(clean, label.for_all))
        yield (
            f"Your [maker] stands for: {asked}; who else does in {label.market} goes"
            f" below [maker.{label.market}]."
        )
    if not label.checked:
        yield (
            f"{label.market} is no market of the scenario: its limits were NOT checked"
            " for this formula."
        )
    for each in label.entries:
        if each.unsure:
            yield (
                f"Place not sure: {clean(each.name)}, {_span(each)} %, for how much is"
                f" in {listed(each.of)} is not known."
            )
    for infused in label.infused:
        of, names = clean(infused.of), listed(infused.names)
        yield (
            f"{names}: last, as infused; the oil of {of} stands by the weight of the"
            f" whole. Only if more than {short(infused.least, 2)} % of {of} is that,"
            f" write its share into {SHARES}."
        )
    if label.unjudged:
        yield (
            f"Scent names not known: what is in {listed(label.unjudged)}; ask the"
            " supplier for its list of allergens."
        )
    yield from (
        f"{clean(each.name)} stands for what lips taste; {clean(label.rules.scent)} is"
        " the law's other word."
        for each in label.entries
        if each.kind == FLAVOUR
    )
    if label.later:
        told = listed(f"{each.name} from {each.begins}" for each in label.later)
        yield f"Needed later: {told}."
    if label.in_transition:
        most = None if full else 3
        names = listed([each.name for each in label.in_transition], most)
        days = listed(dict.fromkeys(str(each.supply) for each in label.in_transition))
        yield f"Older stock without {names} may be supplied until {days}."
    for what, text in label.rules.told:
        if full or what in {"names", "language"}:
            yield f"{what}: {text}"
    colours = [each for each in label.entries if each.kind == "colour"]
    unnumbered = [each.name for each in colours if not _is_number(each, label)]
    if unnumbered:
        told = listed(unnumbered)
        yield f"Colours stand by their CI number where they have one: {told}."


def _is_number(each: NameOnLabel, label: Label) -> bool:
    return each.name.startswith("CI ") or each.name in label.rules.names.values()


def _dates(found: Labelled) -> Iterator[str | Item]:
    """Yield what the date rests on: the same in every market but for its months."""
    kept, label = found.keeping, found.labels[0]
    for each in found.labels:
        if each.dated_by_lots and each.best_before is None:
            yield Item(
                f"{each.market}: the earliest lot keeps until {kept.until}, over"
                f" {each.rules.durable_months} months: no date, but a period after"
                " opening",
                typed="(--after-opening).",
            )
    if label.dated_by_lots:
        yield (
            f"Lot {clean(kept.lot)} of {kept.ingredient} keeps shortest:"
            f" {kept.until}, at the latest."
        )
    elif kept.until and label.best_before and label.best_before > kept.until:
        yield (
            f"Your date is later than lot {clean(kept.lot)} of {kept.ingredient} keeps"
            f" ({kept.until})."
        )
    if found.unwritten and label.best_before is None:
        batch, names = clean(found.batch), listed(map(clean, found.unwritten), 4)
        yield Item(
            f"Batch {batch} was recorded without lots for {names}, so none of theirs"
            " tells a date.",
            typed=f"`optimiser record show {batch} --full` has the entries, `optimiser"
            " record correct ENTRY --lot LOT` writes one; or leave --lot out.",
        )
    yield from _undated(kept, label, found.unwritten)
    if kept.expired:
        yield f"A lot had expired when it was made: {listed(kept.expired)}."


def _undated(kept: Keeping, label: Label, unwritten: Collection[str]) -> Iterator[str]:
    """Yield why the lots do not date it, and what they tell all the same.

    Of what has no lot written down that is told already.
    """
    names = [each for each in kept.unknown if each not in unwritten]
    unknown = listed(names)
    rest = f"the rest keep until {kept.until} (lot {clean(kept.lot)})"
    if label.spoils:
        yield (
            "No date from the lots, for it may spoil before any of them:"
            f" {first_sentence(label.spoils[0].text)} How long it keeps is for a"
            " qualified assessor to say, from tests of the finished product."
        )
        if names and kept.until:
            yield f"No expiry known: {unknown}; {rest}."
    elif kept.until is None and names:
        yield "No lot on the shelf of these ingredients says until when it keeps."
    elif names:
        yield f"No date: none is known of {unknown}; {rest}."
    elif kept.invented and not kept.unknown:
        yield "No date from the lots, for they are invented."


def _span(each: NameOnLabel) -> str:
    return f"{short(each.low, 3)} to {short(each.high, 3)}"


def _in_order(label: Label) -> Iterator[Block]:
    rows = label.entries
    yield Table(
        (
            words("", [clean(each.name) for each in rows], 20),
            numbers("%", [x.percent for x in rows], lambda x: short(x, 3), "unknown"),
            words("place", [_place(each) for each in rows], 12),
            words("from", [listed(each.of) for each in rows], 16),
        )
    )


def _place(each: NameOnLabel) -> str:
    return "not sure" if each.unsure else _PLACES[each.place]


def _names(label: Label) -> Iterator[str]:
    for each in label.allergens:
        yield (
            f"{each.name}: up to {short(each.percent)} %, named over"
            f" {short(each.threshold)} %; from {listed(each.from_ingredients)}"
        )


def _law(label: Label) -> Iterator[str]:
    rules = label.rules
    border = "1 % or less" if rules.border_free else "below 1 %"
    restated, recalled = (rules.reads.count(x) for x in ("secondary", "memory"))
    yield (
        f"{label.market}: {border} may stand in any order; {listed(rules.instruments)}"
        f" (of {len(rules.reads)} rows {restated} read in what restates it, {recalled}"
        " from memory)"
    )
    yield from (duty_told(each) for each in label.duties if each.kind == "label")
    yield from (f"edition: {each}" for each in label.editions)


def _food(found: Labelled) -> Iterator[str]:
    """Yield food allergens with who lists them; in the cautious reading what may be."""
    yield (
        f"A courtesy: cosmetics law asks for INCI names only. Reading: {found.reading}."
    )
    yield from (
        allergen_words(each)
        for each in found.food
        if each.listed or not each.flag or found.reading == "cautious"
    )


def label_data(found: Labelled) -> dict[str, Any]:
    """Return labels as data; percent of the product, mm, months."""
    return {
        "status": "answered",
        "title": found.title,
        "use": found.use,
        "on": found.day,
        "batch": found.batch or None,
        "told": found.told,
        "broken": found.broken,
        "broken_when_recorded": found.once,
        "reading": found.reading,
        "keeping": asdict(found.keeping),
        "size": None if found.size is None else asdict(found.size),
        "labels": [
            {
                **{k: v for k, v in asdict(each).items() if k != "rules"},
                "ingredients": each.ingredients,
                "lines": [asdict(line) for line in found.lines[place]],
                "fit": asdict(found.fits[place]) if found.fits else None,
            }
            for place, each in enumerate(found.labels)
        ],
        "note": CHECK,
    }
