"""How much of the fat is solid from a cool room to a hot day: a page, and data."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from optimiser.presenting.following import following
from optimiser.presenting.page import (
    Block,
    Item,
    Page,
    Paragraph,
    Plot,
    Section,
    Series,
    Table,
    items,
    numbers,
    section,
)
from optimiser.presenting.words import clean, decimals, listed, short

if TYPE_CHECKING:
    from optimiser.explaining.solid_fat import MeltCurve, MeltPoint

__all__ = ["fats_data", "fats_page"]

ROOMS = (20.0, 30.0, 35.0)  # deg C: a room, a hot day, the skin
SHORT = "A model, good to 8 points of solid fat: make 100 g and test."
MODEL = (
    "A melting model, not a measurement: good to 8 points of solid fat, 12 where the"
    " curve is steep, and to some kelvin where the last crystals melt. For a stable,"
    " tempered bar that has come to rest. Make 100 g and test."
)


def fats_page(curve: MeltCurve, *, full: bool = False) -> Page:
    """Return the curve as a page: what is solid where, the plot, and what is open."""
    blocks: list[Block] = [Paragraph(_answer(curve)), *items(_open(curve))]
    if curve.points:
        blocks.append(Item(MODEL if full else SHORT))
    sections = [Section("", tuple(blocks))]
    sections += section("Solid fat, % of the lipids", _figure(curve))
    if full:
        sections += section("In figures, % of the lipids", [_table(curve)])
    else:
        sections += following("fats")
    about = (f"lipids are {short(curve.lipids)} % of the product", *_not_told(curve))
    return Page(curve.title, about, tuple(sections))


def _not_told(curve: MeltCurve) -> list[str]:
    """Return how much more may be lipids, for nobody has told what it is."""
    if curve.not_told <= 0.0:
        return []
    return [f"of {short(curve.not_told, 3)} % it is not known what it is"]


def _answer(curve: MeltCurve) -> str:
    """Return how much is solid in a room, on a hot day and on the skin."""
    told: list[str] = []
    for room in ROOMS if curve.points else ():
        point = min(curve.points, key=lambda each: abs(each.at - room))
        value = point.value if curve.unknown else point.second
        if value is not None:
            of = "" if told else " of the fat"
            told.append(f"{decimals(value, 0)} %{of} at {short(point.at)} °C")
    whose = "by straight sum" if curve.unknown else "by the second opinion"
    said = f"Solid {whose}: {listed(dict.fromkeys(told))}." if told else ""
    if curve.waxes:
        said += (
            " Where all is melted is not known, for it is not how"
            f" {listed(curve.waxes)} melts in oil: ask the supplier."
        )
    if curve.melts_at is not None:
        said += (
            f" All is melted at {decimals(curve.melts_at, 1)} °C, wax included"
            " (2 % left)."
        )
    return said.strip() or "Nothing is known of how this fat melts."


def _open(curve: MeltCurve) -> list[str]:
    """Return what the curve does not know."""
    told = []
    if curve.unknown:
        told.append(
            f"No second opinion: too little is known of {listed(curve.unknown)}."
        )
    if curve.left_out:
        told.append(
            f"Left aside, for their melting is not known: {listed(curve.left_out)}."
        )
    if curve.firming:
        (name, value), *rest = curve.firming[:3]
        firm = "".join(f", 1 % {clean(x)} as {short(y, 2)} %" for x, y in rest)
        told.append(
            f"1 % of {clean(name)} that has set firms a bar as {short(value, 2)} % of"
            f" solid fat does{firm}: one with less that is solid may be the firmer."
        )
    if curve.no_figure:
        alone = [point.at for point in curve.points if point.value is None]
        span = f" from {short(min(alone))} to {short(max(alone))} °C" if alone else ""
        told.append(
            f"No straight sum{span}, for a figure is missing of"
            f" {listed(curve.no_figure, 6)}."
        )
    return told


def _figure(curve: MeltCurve) -> list[Plot]:
    if not curve.points:
        return []
    at = tuple(point.at for point in curve.points)

    def of(part: Callable[[MeltPoint], float | None]) -> tuple[float | None, ...]:
        return tuple(part(point) for point in curve.points)

    known = any(point.second is not None for point in curve.points)
    series = [Series("straight sum of the fats' own figures", at, of(_sum))]
    if known:
        doubts = of(lambda point: point.doubt)
        series.insert(0, Series("second opinion", at, of(_second), doubts))
    if not curve.waxes:
        series.append(Series("all that is solid, wax too", at, of(lambda p: p.melt)))
    return [Plot(_steepest(curve), "°C", "% of the lipids", tuple(series), 0)]


def _sum(point: MeltPoint) -> float | None:
    return point.value


def _second(point: MeltPoint) -> float | None:
    return point.second


def _steepest(curve: MeltCurve) -> str:
    """Return where the fat softens fastest: the message of the plot."""
    part = _sum if curve.unknown else _second
    falls = [
        ((one_value - other_value) / (other.at - one.at), one.at, other.at)
        for one, other in pairwise(curve.points)
        if (one_value := part(one)) is not None
        and (other_value := part(other)) is not None
    ]
    fastest = max(falls, default=(0.0, 0.0, 0.0))
    if fastest[0] <= 0.0:
        return "It does not soften here."
    return f"It softens fastest from {short(fastest[1])} to {short(fastest[2])} °C."


def _table(curve: MeltCurve) -> Table:
    def show(value: float) -> str:
        return decimals(value, 1)

    rows = curve.points
    melts = [row.melt for row in rows]
    return Table(
        (
            numbers("°C", [row.at for row in rows], short),
            numbers("sum, low", [row.low for row in rows], show, "-"),
            numbers("straight sum", [row.value for row in rows], show, "-"),
            numbers("sum, high", [row.high for row in rows], show, "-"),
            numbers("second opinion", [row.second for row in rows], show, "-"),
            numbers("+-", [row.doubt for row in rows], show, "-"),
            *([] if curve.waxes else [numbers("wax too", melts, show)]),
        )
    )


def fats_data(curve: MeltCurve) -> dict[str, Any]:
    """Return the curve as data; temperatures in degrees Celsius, solids in percent."""
    return {
        "status": "answered",
        "title": clean(curve.title),
        "lipids_percent": curve.lipids,
        "not_told_percent": curve.not_told,
        "points": [
            {
                "degC": point.at,
                "low": point.low,
                "straight_sum": point.value,
                "high": point.high,
                "second_opinion": point.second,
                "doubt": point.doubt,
                "model_alone": point.alone,
                "all_solids_by_model": None if curve.waxes else point.melt,
            }
            for point in curve.points
        ],
        "melted_at_degC": curve.melts_at,
        "unknown": curve.unknown,
        "no_figure": curve.no_figure,
        "left_out": curve.left_out,
        "note": MODEL,
    }
