"""What the book of a workshop holds, in words, tables and data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from msgspec.structs import asdict

from optimiser.domain.record import (
    BatchMade,
    Note,
    Recorded,
    Temperature,
    Units,
    UnitWeight,
    VerdictGiven,
    WeighedIn,
    Yielded,
)
from optimiser.presenting.page import Table, numbers, words
from optimiser.presenting.words import clean, decimals, plural, short
from optimiser.workshop.tracing import BatchTrace

__all__ = [
    "Cells",
    "batch_facts",
    "cells",
    "fact_words",
    "grams",
    "made_lines",
    "verdict_words",
    "weighed_table",
]

MOST_VERDICTS = 6


def grams(grams: float) -> str:
    """Return grams with the digits that they were written with."""
    text = decimals(grams, 3).rstrip("0")
    return f"{text}0" if text.endswith(".") else text


def weighed_table(trace: BatchTrace) -> Table:
    """Return what went in, with a line for the total."""
    batch = trace.batch
    lines = sorted(batch.of(WeighedIn), key=lambda each: -each.grams)
    total = batch.grams
    columns = [
        words("", [*(clean(x.name) for x in lines), "total"], 12),
        words("lot", [*(clean(x.lot) or "not written" for x in lines), ""], 8),
        numbers("g", [*(x.grams for x in lines), total], grams),
    ]
    if any(each.planned is not None for each in lines):
        planned = [each.planned for each in lines]
        known = [each for each in planned if each is not None]
        whole = sum(known) if len(known) == len(planned) else None
        columns.append(numbers("planned g", [*planned, whole], grams, "-"))
    shares = [100.0 * each.grams / total for each in lines] if total else []
    columns.append(numbers("%", [*shares, 100.0], lambda x: decimals(x, 2)))
    if trace.expiries:
        days = [
            str(trace.expiries.get((each.ingredient, each.lot), "")) for each in lines
        ]
        columns.append(words("expires", [*days, ""], 10, wraps=False))
    return Table(tuple(columns), (len(lines),))


def made_lines(batch: Recorded, *, full: bool) -> Iterator[str]:
    """Yield what came of a batch, a line each."""
    for out in batch.of(Yielded):
        lost = batch.grams - out.grams
        share = 100.0 * lost / batch.grams if batch.grams else 0.0
        yield (
            f"came out: {grams(out.grams)} g of {grams(batch.grams)} g;"
            f" {decimals(max(0.0, share), 1)} % stayed behind"
        )
    for filled in batch.of(Units):
        net = f" of {grams(filled.net)} g net" if filled.net is not None else ""
        if filled.net is None and batch.grams and filled.count:
            net = f"; {grams(batch.grams / filled.count)} g went in for each"
        yield f"filled: {plural(filled.count, 'unit')}{net}"
    weights = batch.of(UnitWeight)
    if weights:
        every = [one.grams for one in weights]
        mean = sum(every) / len(every)
        yield (
            f"weighed: {plural(len(every), 'unit')}, mean {short(mean)} g,"
            f" {grams(min(every))} to {grams(max(every))} g"
        )
        if full:
            yield ", ".join(f"{clean(x.unit)}: {grams(x.grams)} g" for x in weights)
    read = [f"{clean(x.stage)} {short(x.degrees)} °C" for x in batch.of(Temperature)]
    if read:
        yield f"temperatures: {', '.join(read)}"
    given = batch.of(VerdictGiven)
    for each in given if full else given[-MOST_VERDICTS:]:
        yield verdict_words(each)
    if not full and len(given) > MOST_VERDICTS:
        yield f"and {plural(len(given) - MOST_VERDICTS, 'verdict')} before (--full)"
    for note in batch.of(Note):
        yield f"note: {clean(note.text)}"


def verdict_words(given: VerdictGiven) -> str:
    """Return a verdict in a line."""
    what = f"unit {clean(given.unit)}" if given.unit else "bar"
    return f"{what}: {_observed(given)}"


def _observed(given: VerdictGiven) -> str:
    """Return what was observed, parted by semicolons."""
    seen = []
    at = "" if given.room is None else f" at {short(given.room)} °C"
    if given.verdict:
        seen.append(f"{given.verdict}{at}")
    if given.penetration is not None:
        seen.append(f"penetration {short(given.penetration)} (0.1 mm){at}")
    if given.drop_point is not None:
        seen.append(f"drops at {short(given.drop_point)} °C")
    note = f" ({clean(given.note)})" if given.note else ""
    return f"{'; '.join(seen)}{note}"


def fact_words(fact: object) -> str:
    """Return a fact in a few words."""
    kind, about, lot, value, unit, text = cells(fact)
    told = [kind, about, f"lot {lot}" if lot else "", text]
    if value is not None:
        told.insert(
            2, f"{grams(value) if unit == 'g' else short(value)} {unit}".strip()
        )
    return " ".join(clean(each) for each in told if each)


Cells = tuple[str, str, str, float | None, str, str]


def cells(fact: object) -> Cells:
    """Return kind, subject, lot, value, its unit and words of a fact."""
    found: Cells = ("taken back", "", "", None, "", "")
    match fact:
        case BatchMade():
            day = f"{fact.title}, {fact.made_on}"
            found = ("batch", fact.number, "", None, "", day)
        case WeighedIn():
            found = ("weighed", fact.name, fact.lot, fact.grams, "g", "")
        case Temperature():
            found = ("temperature", fact.stage, "", fact.degrees, "degC", "")
        case Yielded():
            found = ("yield", "", "", fact.grams, "g", "")
        case Units():
            net = "" if fact.net is None else f"net {grams(fact.net)} g"
            found = ("units", "", "", float(fact.count), "", net)
        case UnitWeight():
            found = ("unit weight", fact.unit, "", fact.grams, "g", "")
        case VerdictGiven():
            found = ("verdict", fact.unit, "", None, "", _observed(fact))
        case Note():
            found = ("note", "", "", None, "", fact.text)
    return found


def batch_facts(batch: Recorded) -> dict[str, Any]:
    """Return what counts of a batch as data."""
    made = batch.made
    return {
        "batch": made.number,
        "made_on": made.made_on,
        "title": made.title,
        "scenario": made.scenario,
        "broken_when_recorded": made.broken,
        "weighed": [asdict(each) for each in batch.of(WeighedIn)],
        "grams": batch.grams,
        "yield_grams": next((x.grams for x in batch.of(Yielded)), None),
        "units": next((x.count for x in batch.of(Units)), None),
        "net_grams": next((x.net for x in batch.of(Units)), None),
        "unit_weights": [asdict(x) for x in batch.of(UnitWeight)],
        "temperatures": [asdict(x) for x in batch.of(Temperature)],
        "verdicts": [asdict(x) for x in batch.of(VerdictGiven)],
        "notes": [each.text for each in batch.of(Note)],
    }
