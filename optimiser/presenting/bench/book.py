"""All that was recorded: the list of batches, and tables to keep or calibrate with."""

from __future__ import annotations

from typing import Any

from optimiser.domain.record import (
    BatchMade,
    Book,
    Recorded,
    Units,
    VerdictGiven,
    WeighedIn,
)
from optimiser.presenting.bench.facts import batch_facts, cells
from optimiser.presenting.page import (
    Block,
    Item,
    Page,
    Paragraph,
    Table,
    numbers,
    section,
    words,
)
from optimiser.presenting.sheet import Sheet, as_sheet
from optimiser.presenting.words import clean, plural, short

__all__ = [
    "ENTRIES",
    "TRIALS",
    "entries_sheet",
    "list_data",
    "list_page",
    "reweighed",
    "trials_sheet",
]

ENTRIES = (
    "entry", "at", "by", "batch", "kind", "about", "lot", "value", "unit", "text",
    "corrects", "why", "counts",
)  # fmt: skip
TRIALS = ("trial", "room", "verdict", "drop_point", "penetration", "note")
MOST_BATCHES = 25


def list_page(book: Book, shown: str, *, full: bool = False) -> Page:
    """Return the page on all batches, the last first."""
    every = list(reversed(book.batches))
    batches = every if full else every[:MOST_BATCHES]
    title = f"{plural(len(every), 'batch', 'batches')} recorded."
    about = (f"{clean(shown)}; {plural(len(book.entries), 'entry', 'entries')}",)
    if not batches:
        start = (
            "Fill in a batch sheet (`optimiser batch SCENARIO --csv sheet.csv`), then:"
            " optimiser record batch SCENARIO sheet.csv"
        )
        return Page(title, about, section("", [Paragraph(start)]))
    table = Table(
        (
            words("batch", [clean(x.made.number) for x in batches], 10),
            words("made", [str(x.made.made_on) for x in batches], 10, wraps=False),
            words("what", [clean(x.made.title) for x in batches], 12),
            numbers("kg", [x.grams / 1000 for x in batches], short),
            numbers("units", [_count(x) for x in batches], lambda x: f"{x:.0f}", "-"),
            words("firmness", [_firmness(x) for x in batches], 8),
            words("rules, when recorded", [_held(x) for x in batches], 8),
        )
    )
    blocks: list[Block] = [table]
    if len(every) > len(batches):
        more = plural(len(every) - len(batches), "older batch", "older batches")
        blocks.append(Item(f"and {more} (--full)"))
    keep = (
        "All of it is in the one file named above: a copy of that file, while nothing"
        " is being recorded, is a backup."
    )
    return Page(
        title,
        about,
        (*section("", blocks), *section("", [Paragraph(keep)])),
    )


def _count(batch: Recorded) -> float | None:
    return next((float(each.count) for each in batch.of(Units)), None)


def _firmness(batch: Recorded) -> str:
    given = [each.verdict for each in batch.of(VerdictGiven) if each.verdict]
    counts = {each: given.count(each) for each in dict.fromkeys(given)}
    if len(given) == 1:
        return given[0]
    return ", ".join(f"{count} {each}" for each, count in counts.items())


def _held(batch: Recorded) -> str:
    held = batch.made.broken
    told = f"broke {len(held)}" if held else "kept"
    if batch.made.over:
        told += " as eased"
    return f"{told}; corrected since" if reweighed(batch) else told


def reweighed(batch: Recorded) -> bool:
    """Whether a weighing was put right or taken back after it was recorded."""
    weighed = {x.id for x in batch.history if isinstance(x.fact, WeighedIn)}
    return any(each.corrects in weighed for each in batch.history)


def list_data(book: Book, shown: str) -> dict[str, Any]:
    """Return all batches as data."""
    return {
        "status": "answered",
        "file": shown,
        "entries": len(book.entries),
        "batches": [batch_facts(each) for each in book.batches],
    }


def entries_sheet(book: Book) -> Sheet:
    """Return every entry as a table, corrected ones too."""
    names = {each.id: each.made.number for each in book.batches}
    rows = []
    for each in book.entries:
        root = book.entry(book.root(each))
        known = names.get(book.root(each))
        if known is None and root is not None and isinstance(root.fact, BatchMade):
            known = root.fact.number
        counts = each.fact is not None and book.correction(each.id) is None
        rows.append(
            (each.id, each.at, each.by, known, *cells(each.fact), each.corrects,
             each.why, "yes" if counts else "no")
        )  # fmt: skip
    return as_sheet("entries", ENTRIES, rows)


def trials_sheet(book: Book) -> tuple[Sheet, int]:
    """Return the verdicts as `calibrate` reads trials, and how many they are.

    Each has the formula as it was made, in percent.
    """
    given = [
        (batch, each)
        for batch in book.batches
        if batch.formula
        for each in batch.of(VerdictGiven)
    ]
    keys = list(dict.fromkeys(key for batch, _ in given for key in batch.formula))
    head = (*TRIALS, *keys)
    rows = []
    for batch, each in given:
        name = f"{batch.made.number}/{each.unit}" if each.unit else batch.made.number
        shares = (batch.formula.get(key) for key in keys)
        rows.append(
            (name, _degrees(each.room), each.verdict or "", _degrees(each.drop_point),
             each.penetration, each.note, *shares)
        )  # fmt: skip
    return as_sheet("trials", head, rows), len(given)


def _degrees(degrees: float | None) -> str:
    return "" if degrees is None else f"{degrees:.10g} degC"
