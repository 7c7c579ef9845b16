"""The solid-fat curve as numbers with a plot beside them, and as data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optimiser.presenting.layout import item, paragraph, width
from optimiser.presenting.words import clean, decimals, listed, short

if TYPE_CHECKING:
    from optimiser.explaining.solid_fat import MeltCurve, MeltPoint

__all__ = ["curve_data", "curve_report"]

HEAD = "    °C    sum  2nd opinion"
KEY = (
    "o second opinion, with - for its doubt; | straight sum of the fats' own figures;"
    " X both; ~ all that is solid in the melt, wax too, where that is more."
)
MODEL = (
    "A melting model, not a measurement: good to 8 points of solid fat, 12 where the"
    " curve is steep, and to some kelvin where the last crystals melt. For a stable,"
    " tempered bar that has come to rest. Make 100 g and test."
)


def curve_report(curve: MeltCurve, columns: int | None = None) -> str:
    """Return the curve as text in at most ``columns`` characters."""
    wide = columns or width()
    room = wide - len(HEAD) - 4
    lines = paragraph(curve.title, wide)
    lines += paragraph(
        f"Solid fat, percent of the lipids ({short(curve.lipids)} % of the product).",
        wide,
    )
    lines += ["", f"{HEAD}  {_axis(room)}"]
    lines += [
        f"{_numbers(point)}  {_bar(point, room)}".rstrip() for point in curve.points
    ]
    lines += ["", *item(KEY, wide)]
    for told in _notes(curve):
        lines += item(told, wide)
    return "\n".join([*lines, *item(MODEL, wide)]) + "\n"


def _notes(curve: MeltCurve) -> list[str]:
    told = []
    if curve.melts_at is not None:
        told.append(
            "By the model 2 % of the lipids is still solid at"
            f" {short(curve.melts_at)} °C, wax included;"
            " above that it is liquid for all that matters."
        )
    if curve.unknown:
        told.append(
            f"No second opinion: too little is known of {listed(curve.unknown)}."
        )
    if curve.left_out:
        told.append(
            f"Left aside, for their melting is not known: {listed(curve.left_out)}."
        )
    if curve.no_figure:
        told.append(
            "No straight sum where a figure is missing, for"
            f" {listed(curve.no_figure, 6)}; there the model stands alone (*)."
        )
    return told


def _numbers(point: MeltPoint) -> str:
    total = "-" if point.value is None else decimals(point.value, 0)
    second = "-"
    if point.second is not None and point.doubt is not None:
        star = "*" if point.alone else ""
        second = f"{decimals(point.second, 0)}{star} +-{decimals(point.doubt, 0)}"
    return f"{short(point.at):>6}{total:>7}{second:>13}"


def _axis(room: int) -> str:
    """Return the scale from 0 to 100 %."""
    marks = [" "] * (room + 1)
    for share in (0, 25, 50, 75, 100):
        text = str(share)
        place = min(_place(share, room), room + 1 - len(text))
        marks[place : place + len(text)] = text
    return "".join(marks)


def _place(share: float, room: int) -> int:
    return round(min(100.0, max(0.0, share)) / 100.0 * (room - 1))


def _bar(point: MeltPoint, room: int) -> str:
    """Return a point as marks along a line of ``room`` characters."""
    marks = [" "] * room
    if point.second is not None and point.doubt is not None:
        first = _place(point.second - point.doubt, room)
        last = _place(point.second + point.doubt, room)
        marks[first : last + 1] = "-" * (last + 1 - first)
    if point.melt > (point.second or 0.0) + 1.0:
        marks[_place(point.melt, room)] = "~"
    if point.second is not None:
        marks[_place(point.second, room)] = "o"
    if point.value is not None:
        place = _place(point.value, room)
        marks[place] = "X" if marks[place] == "o" else "|"
    return "".join(marks)


def curve_data(curve: MeltCurve) -> dict[str, Any]:
    """Return the curve as data; temperatures in degrees Celsius, solids in percent."""
    return {
        "status": "answered",
        "title": clean(curve.title),
        "lipids_percent": curve.lipids,
        "points": [
            {
                "degC": point.at,
                "low": point.low,
                "straight_sum": point.value,
                "high": point.high,
                "second_opinion": point.second,
                "doubt": point.doubt,
                "model_alone": point.alone,
                "all_solids_by_model": point.melt,
            }
            for point in curve.points
        ],
        "melted_at_degC": curve.melts_at,
        "unknown": curve.unknown,
        "no_figure": curve.no_figure,
        "left_out": curve.left_out,
        "note": MODEL,
    }
