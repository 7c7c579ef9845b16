"""Traces: a unit or a batch back to its lots, a lot on to its batches and units."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from optimiser.domain.record import Recorded, Units, UnitWeight, WeighedIn
from optimiser.presenting.bench.facts import (
    batch_facts,
    grams,
    made_lines,
    weighed_table,
)
from optimiser.presenting.page import (
    Block,
    Page,
    Paragraph,
    Table,
    items,
    numbers,
    section,
    words,
)
from optimiser.presenting.words import clean, listed, plural, short
from optimiser.workshop.recording import units_of
from optimiser.workshop.tracing import BatchTrace, LotTrace

__all__ = ["trace_data", "trace_page"]

LITTLE = 0.1  # kg: what is less is told in grams


def trace_page(found: Sequence[BatchTrace | LotTrace], *, full: bool = False) -> Page:
    """Return the page on what a name stands for, back to lots or on to batches."""
    parts = [
        _from_batch(each, full=full)
        if isinstance(each, BatchTrace)
        else _from_lot(each, full=full)
        for each in found
    ]
    first, *more = parts
    return Page(
        first.title,
        first.about,
        (
            *first.sections,
            *(
                part
                for page in more
                for part in (*section("", [Paragraph(page.title)]), *page.sections)
            ),
        ),
    )


def _from_batch(trace: BatchTrace, *, full: bool) -> Page:
    made = trace.batch.made
    title = f"Batch {clean(made.number)}: {clean(made.title)}, made {made.made_on}."
    if trace.unit is not None:
        weight = "" if trace.unit_grams is None else f", {grams(trace.unit_grams)} g"
        title = f"Unit {clean(trace.unit)}{weight}, of batch{title[5:]}"
    lots = sum(bool(each.lot) for each in trace.batch.of(WeighedIn))
    lines = len(trace.batch.of(WeighedIn))
    told = f"{lots} of {plural(lines, 'line')} with a lot"
    if lots < lines:
        told += "; what has none cannot be traced"
    return Page(
        title,
        (told,),
        (
            *section("From these lots", [weighed_table(trace)]),
            *section("Made", items(list(made_lines(trace.batch, full=full)))),
        ),
    )


def _from_lot(trace: LotTrace, *, full: bool) -> Page:
    title = f"Lot {clean(trace.lot)} of {clean(trace.name)}: "
    title += f"in {plural(len(trace.uses), 'batch', 'batches')}."
    about = []
    if trace.counted is not None and trace.left is not None:
        left = f"{_mass(trace.counted)} in stock.csv, {_mass(trace.left)} left"
        about.append(left)
    else:
        about.append("not in stock.csv")
    if trace.expiry is not None:
        about.append(f"expires {trace.expiry}")
    none = "No batch that was recorded took of it."
    went: list[Block] = [_uses(trace.uses, full=full)] if trace.uses else []
    perhaps: list[Block] = [_uses(trace.perhaps, full=full)] if trace.perhaps else []
    return Page(
        title,
        ("; ".join(about),),
        (
            *section("", [] if went else [Paragraph(none)]),
            *section("Went into these batches", went),
            *section("Perhaps into these, whose lot nobody wrote down", perhaps),
        ),
    )


def _mass(kg: float) -> str:
    """Return a mass as a maker weighs it.

    >>> _mass(1.5), _mass(0.0368), _mass(0.0)
    ('1.5 kg', '36.8 g', '0 kg')
    """
    return f"{short(1000.0 * kg)} g" if 0.0 < kg < LITTLE else f"{short(kg)} kg"


def _uses(uses: Sequence[tuple[Recorded, float]], *, full: bool) -> Table:
    return Table(
        (
            words("batch", [clean(x.made.number) for x, _ in uses], 10),
            words("made", [str(x.made.made_on) for x, _ in uses], 10, wraps=False),
            words("what", [clean(x.made.title) for x, _ in uses], 12),
            numbers("g of it", [taken for _, taken in uses], grams),
            words("units", [_units(x, full=full) for x, _ in uses], 10),
        )
    )


def _units(batch: Recorded, *, full: bool) -> str:
    """Return the units of a batch: its numbers, and those with names of their own."""
    number = clean(batch.made.number)
    count = max((each.count for each in batch.of(Units)), default=0)
    told = [f"{number}/1 to /{count}" if count > 1 else f"{number}/1"] if count else []
    named = [
        clean(each.unit)
        for each in batch.of(UnitWeight)
        if not (each.unit.isdigit() and 1 <= int(each.unit) <= count)
    ]
    if named:
        told.append("/" + listed(named, None if full else 6))
    return "; ".join(told) or "not counted"


def trace_data(found: Sequence[BatchTrace | LotTrace]) -> dict[str, Any]:
    """Return traces as data."""
    return {"status": "answered", "found": [_trace(each) for each in found]}


def _trace(each: BatchTrace | LotTrace) -> dict[str, Any]:
    if isinstance(each, BatchTrace):
        expiries = [
            {"ingredient": key, "lot": lot, "expiry": day}
            for (key, lot), day in each.expiries.items()
        ]
        return {
            "is": "batch" if each.unit is None else "unit",
            "unit": each.unit,
            "unit_grams": each.unit_grams,
            **batch_facts(each.batch),
            "expiries": expiries,
        }
    return {
        "is": "lot",
        "ingredient": each.ingredient,
        "lot": each.lot,
        "counted_kg": each.counted,
        "left_kg": each.left,
        "expiry": each.expiry,
        "batches": _use_data(each.uses),
        "perhaps": _use_data(each.perhaps),
    }


def _use_data(uses: Sequence[tuple[Recorded, float]]) -> list[dict[str, Any]]:
    return [
        {
            "batch": batch.made.number,
            "made_on": batch.made.made_on,
            "title": batch.made.title,
            "grams": taken,
            "units": units_of(batch),
        }
        for batch, taken in uses
    ]
