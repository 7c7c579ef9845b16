"""Solid fat over temperature: a curve that rises on warming is a slip."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from optimiser.domain.catalogue import fold
from optimiser.reading.cells import to_number
from optimiser.reading.quantities import QuantityError, read_quantity
from optimiser.reading.tables import Row

__all__ = ["check_curves"]

Point = tuple[float, float, Row]  # low, high, and where they stand


def check_curves(rows: Iterable[Row]) -> None:
    """Say where solid fat rises with temperature, beyond what low and high allow.

    Rows of one ingredient and variant are one curve. Where several stand at one
    temperature, all of the warmer must lie above all of the cooler.
    """
    curves: dict[tuple[str, str], dict[float, list[Point]]] = {}
    for row in rows:
        if fold(row.text("property")) != "solid fat":
            continue
        point, degrees = _point(row), _degrees(row)
        if point is not None and degrees is not None:
            subject = fold(row.text("ingredient")), fold(row.text("variant"))
            curves.setdefault(subject, {}).setdefault(degrees, []).append(point)
    for curve in curves.values():
        for cool, warm in pairwise(sorted(curve)):
            _check(cool, curve[cool], curve[warm])


def _check(degrees: float, cool: list[Point], warm: list[Point]) -> None:
    """Say that a curve rises from one temperature to the next, if it does."""
    most = max(high for _, high, _ in cool)
    least, _, row = min(warm, key=lambda point: point[0])
    if least > most:
        before = cool[0][2].number
        wrong = f"is more than at {degrees:g} degC (row {before}: {most:g})"
        fix = "correct one of the two; fat melts as it gets warmer"
        row.say("value", wrong, fix)


def _point(row: Row) -> Point | None:
    """Return the spread of a row; None if it has none that can be read."""
    value = to_number(row.text("value"))
    low, high = to_number(row.text("low")), to_number(row.text("high"))
    low, high = value if low is None else low, value if high is None else high
    return None if low is None or high is None else (low, high, row)


def _degrees(row: Row) -> float | None:
    """Return the temperature of a row, [deg C]; None if it cannot be read."""
    try:
        return read_quantity(row.text("at"), "degC", "30 degC")
    except QuantityError:
        return None
