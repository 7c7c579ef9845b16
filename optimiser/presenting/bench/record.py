"""A recorded batch as a page and as data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import msgspec
from msgspec import Struct

from optimiser.domain.record import Book, Entry, Recorded, Units, WeighedIn
from optimiser.explaining.check import DIGIT, TO_THE_DIGIT
from optimiser.presenting.bench.book import reweighed
from optimiser.presenting.bench.facts import (
    batch_facts,
    fact_words,
    grams,
    made_lines,
    weighed_table,
)
from optimiser.presenting.check import broken, broken_items, verdict
from optimiser.presenting.notes import past_told
from optimiser.presenting.page import (
    Block,
    Item,
    Page,
    Paragraph,
    Section,
    Table,
    items,
    numbers,
    section,
    words,
)
from optimiser.presenting.rules import with_unit
from optimiser.presenting.words import clean, listed, plural, short
from optimiser.workshop.recording import Unusable
from optimiser.workshop.tracing import BatchTrace

if TYPE_CHECKING:
    from optimiser.explaining.answer import Checked

__all__ = [
    "BatchSeen",
    "batch_data",
    "batch_page",
    "taken_back_data",
    "taken_back_page",
    "told_rules",
    "within_the_scale",
]

MUCH = 2.0  # times what the units hold: the rest is no loss any more
FAR = 5.0  # percent away from what was planned that is worth a word


class BatchSeen(Struct, frozen=True):
    """A batch to show; ``added`` are entries that this command wrote.

    ``checked`` is the formula as made against the scenario as it is today; None, with
    ``unchecked`` saying why, where it cannot be read any more. ``over`` tells g that
    batches took of a lot beyond what it held, by ingredient and lot. ``missing`` are
    names of what its formula has and nothing was weighed of, when it was recorded.
    ``untold`` was weighed from lots that neither stock.csv nor an earlier batch names.
    """

    batch: Recorded
    book: Book
    trace: BatchTrace
    checked: Checked | None
    unchecked: str
    over: Mapping[tuple[str, str], float]
    added: tuple[Entry, ...] = ()
    missing: tuple[str, ...] = ()
    unusable: tuple[Unusable, ...] = ()
    untold: tuple[WeighedIn, ...] = ()

    @property
    def is_new(self) -> bool:
        """Whether the batch itself was recorded just now."""
        return any(each.id == self.batch.id for each in self.added)


def told_rules(checked: Checked) -> tuple[str, ...]:
    """Return the rules that a formula breaks, as sentences to keep."""
    return tuple(each.rule.sentence for each in broken(checked.lines))


def batch_page(seen: BatchSeen, *, full: bool = False) -> Page:
    """Return the page on one batch: what went in, and how it kept the rules."""
    made = seen.batch.made
    title = f"Batch {clean(made.number)}: {clean(made.title)}, made {made.made_on}."
    if seen.added:
        title = f"Recorded: {_entries(seen.added)}. {title}"
    about = "; ".join(
        clean(each)
        for each in (
            made.scenario,
            made.use,
            f"for {', '.join(made.markets)}" if made.markets else "",
            f"checked by {made.checked_by}" if made.checked_by else "",
        )
        if each
    )
    # What was weighed is shown when that is recorded, and when the batch is looked at.
    weighed = full or not seen.added or seen.is_new
    return Page(
        title,
        (about,),
        (
            *section("Look again", items(_doubtful(seen))),
            *section("", _rules(seen, full=full)),
            *section("Weighed", [weighed_table(seen.trace)] if weighed else []),
            *section("Made", items(list(made_lines(seen.batch, full=full)))),
            *section("Mind", items(list(_minding(seen))) if weighed else []),
            *section("Corrected", items(_corrections(seen))),
            *_every(seen, full=full),
            *section("", [Paragraph("", typed=_next(seen))]),
        ),
    )


def _entries(added: Sequence[Entry]) -> str:
    if len(added) == 1:
        return f"entry {added[0].id}"
    return f"entries {added[0].id} to {added[-1].id}"


def _next(seen: BatchSeen) -> str:
    number = clean(seen.batch.made.number)
    return (
        f"Next: `optimiser record show {number} --full` numbers every entry, to correct"
        f" one; `optimiser trace {number}`."
    )


def _rules(seen: BatchSeen, *, full: bool) -> Iterator[Block]:
    if not seen.batch.of(WeighedIn):
        yield Paragraph("Nothing weighed of it counts, so no rule was looked at.")
        return
    checked = seen.checked
    if not seen.is_new:
        yield from _when_recorded(seen)
    if checked is None:
        unchecked = f"Not held against its rules today: {clean(seen.unchecked)}."
        yield Paragraph(unchecked)
        return
    as_it_was = not seen.is_new and told_rules(checked) == seen.batch.made.broken
    when = "As made" if seen.is_new else "By its rules as they are today"
    yield Paragraph(f"{when} it {verdict(checked)}.")
    for told in past_told(checked.basis.over):
        if seen.is_new or told.text not in seen.batch.made.over:
            yield told
    if not as_it_was:
        yield from broken_items(checked, full=full)
    yield from items(list(within_the_scale(checked)))
    if full:
        yield from items(checked.missing)


def _when_recorded(seen: BatchSeen) -> Iterator[Block]:
    """Yield how it kept the rules as the book has it, whatever they say today."""
    made = seen.batch.made
    since = " (a weight was corrected since)" if reweighed(seen.batch) else ""
    if made.broken:
        yield Paragraph(f"When it was recorded{since} it broke:")
        yield from items([clean(each) for each in made.broken])
    else:
        yield Paragraph(f"When it was recorded{since} it broke no rule.")
    yield from (Paragraph(clean(each)) for each in made.over)


def _doubtful(seen: BatchSeen) -> Iterator[str | Item]:
    """Yield what speaks for a slip in the sheet: lines left out, far too much of it."""
    if seen.missing:
        yield Item(
            f"nothing was weighed of {listed(seen.missing, most=12)}, which the formula"
            " has: correct the sheet, or take this batch back and record it whole",
            typed="(`optimiser record correct ENTRY --withdraw` takes it back)",
        )
    went_in = seen.batch.grams
    for each in seen.batch.of(Units):
        held = each.count * (each.net or 0.0)
        if held and went_in > MUCH * held:
            yield (
                f"{grams(went_in)} g was weighed, {short(went_in / held, 2)} times what"
                f" {plural(each.count, 'unit')} of {grams(each.net or 0.0)} g hold"
                f" ({grams(held)} g): is a weight or the count wrong?"
            )
    for told in seen.unusable:
        at = "no room is one where it is"
        if told.known is not None:
            low, high = told.known
            at = f"judge a bar in a room between {low} and {high} °C, where it is"
        yield (
            f"the verdict at {short(told.room)} °C says nothing to `calibrate`: no"
            f" firmness is known there of {listed(told.unknown)}; {at}"
        )


def within_the_scale(checked: Checked) -> Iterator[str]:
    """Yield doses of one's own that were missed by less than the scale can show."""
    for each in checked.lines:
        if each.rule.kind not in TO_THE_DIGIT or each.value is None:
            continue
        if each.slack == 0.0 and abs(each.value - each.rule.limit) > DIGIT:
            now = with_unit(each.value, each.rule.unit)
            yield f"{each.rule.sentence}: now {now}, which is within the scale's step"


def _minding(seen: BatchSeen) -> Iterator[str | Item]:
    weighed = seen.batch.of(WeighedIn)
    loose = dict.fromkeys(each.name for each in weighed if not each.lot)
    if loose:
        yield f"no lot is written for {listed(loose)}: that cannot be traced"
    if seen.untold:
        lots = listed([f"{x.lot} of {x.name}" for x in seen.untold], most=12)
        yield Item(
            f"neither in stock.csv nor in an earlier batch: lot {lots}. A slip here is"
            " missed in a recall: compare with the pack, and add a row to stock.csv",
            typed="(`optimiser record correct ENTRY --lot LOT` puts one right)",
        )
    for each in weighed:
        if each.planned and abs(each.grams / each.planned - 1.0) > FAR / 100.0:
            yield (
                f"{clean(each.name)}: {grams(each.grams)} g was weighed,"
                f" {grams(each.planned)} g was planned"
            )
    for (ingredient, lot), expiry in seen.trace.expiries.items():
        if expiry < seen.batch.made.made_on:
            name = _name(weighed, ingredient)
            yield f"lot {clean(lot)} of {name} expired on {expiry}"
    for ingredient, lot in dict.fromkeys((x.ingredient, x.lot) for x in weighed):
        over = seen.over.get((ingredient, lot))
        if over is not None:
            yield (
                f"lot {clean(lot)} of {_name(weighed, ingredient)}: batches took"
                f" {short(over)} g more than stock.csv says it held; count it"
            )


def _name(weighed: Sequence[WeighedIn], ingredient: str) -> str:
    return clean(next(x.name for x in weighed if x.ingredient == ingredient))


def _corrections(seen: BatchSeen) -> list[str]:
    found = []
    for each in seen.batch.history:
        before = None if each.corrects is None else seen.book.entry(each.corrects)
        if before is None or before.fact is None:
            continue
        now = "taken back" if each.fact is None else fact_words(each.fact)
        why = f" ({clean(each.why)})" if each.why else ""
        text = f"entry {each.id} for {before.id}: {fact_words(before.fact)} -> {now}"
        found.append(f"{text}{why}")
    return found


def _every(seen: BatchSeen, *, full: bool) -> tuple[Section, ...]:
    if not full:
        return ()
    history = seen.batch.history
    counts = {each.id for each in seen.batch.standing}
    table = Table(
        (
            numbers("entry", [float(x.id) for x in history], lambda x: f"{x:.0f}"),
            words("what", [fact_words(x.fact) for x in history], 16),
            words("by", [clean(x.by) for x in history], 6),
            words("written", [x.at[:16].replace("T", " ") for x in history], 10),
            words("", ["" if x.id in counts else "counts no more" for x in history], 8),
        )
    )
    return section("Every entry", [table])


def batch_data(seen: BatchSeen) -> dict[str, Any]:
    """Return a batch as data."""
    batch, checked = seen.batch, seen.checked
    now = None
    if checked is not None and batch.of(WeighedIn):
        now = {
            "status": checked.status,
            "broken": told_rules(checked),
            "missing": checked.missing,
        }
    return {
        "status": "recorded" if seen.added else "shown",
        "added": [each.id for each in seen.added],
        **batch_facts(batch),
        "formula": [
            {"ingredient": key, "percent": percent}
            for key, percent in batch.formula.items()
        ],
        "check": now,
        "unchecked": seen.unchecked or None,
        "mind": [x.whole for x in items([*_doubtful(seen), *_minding(seen)])],
        "entries": [_entry(each, seen.book) for each in batch.history],
    }


def _entry(entry: Entry, book: Book) -> dict[str, Any]:
    return {
        "entry": entry.id,
        "at": entry.at,
        "by": entry.by,
        "corrects": entry.corrects,
        "why": entry.why or None,
        "counts": book.correction(entry.id) is None and entry.fact is not None,
        "fact": None if entry.fact is None else msgspec.to_builtins(entry.fact),
    }


def taken_back_page(entry: Entry) -> Page:
    """Return the page on a batch of which nothing counts any more."""
    title = f"Recorded: entry {entry.id}. The batch was taken back"
    why = f": {clean(entry.why)}." if entry.why else "."
    kept = "What was written of it stays in the book, and counts no more."
    return Page(title + why, (), section("", [Paragraph(kept)]))


def taken_back_data(book: Book, entry: Entry) -> dict[str, Any]:
    """Return the taking back of a batch as data."""
    return {
        "status": "recorded",
        "added": [entry.id],
        "entries": [_entry(entry, book)],
    }
