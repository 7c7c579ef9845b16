"""Rows of several sources made into one figure each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimiser.domain.material import EVIDENCE, Figure
from optimiser.reading.figures import ContentSubject, PropertySubject, Reading

__all__ = ["contents_of", "figures_of"]

_RANK = {word: rank for rank, word in enumerate(EVIDENCE)}


def figures_of(
    readings: Mapping[PropertySubject, list[Reading]],
) -> dict[str, dict[str, dict[float | None, Figure]]]:
    """Return property -> ingredient -> at -> figure.

    Notes
    -----
    Of several rows the value is the median, ``low`` the least of all lows and
    values, ``high`` the greatest of all highs and values.
    """
    found: dict[str, dict[str, dict[float | None, Figure]]] = {}
    for (ingredient, name, at), rows in readings.items():
        value = _median([one.value for one in rows if one.value is not None])
        figure = _figure(rows, value)
        found.setdefault(name, {}).setdefault(ingredient, {})[at] = figure
    return found


def _median(values: list[float]) -> float:
    """Return the median; the module statistics would take long to import.

    >>> _median([3.0, 1.0, 2.0]), _median([4.0, 1.0])
    (2.0, 2.5)
    """
    ordered, middle = sorted(values), len(values) // 2
    if len(values) % 2:
        return ordered[middle]
    return (ordered[middle - 1] + ordered[middle]) / 2


def contents_of(
    readings: Mapping[ContentSubject, list[Reading]],
) -> dict[str, dict[str, Figure]]:
    """Return constituent -> ingredient -> figure, percent of the ingredient.

    Notes
    -----
    Of several rows the value is the highest, for contents are limited from above;
    without any value it is the middle of the range. A missing low is 0.
    """
    found: dict[str, dict[str, Figure]] = {}
    for (ingredient, name), rows in readings.items():
        low = min((one.low for one in rows if one.low is not None), default=0.0)
        high = max((one.high for one in rows if one.high is not None), default=100.0)
        values = [one.value for one in rows if one.value is not None]
        value = max(values) if values else (low + high) / 2
        found.setdefault(name, {})[ingredient] = _figure(rows, value)
    return found


def _figure(rows: Sequence[Reading], value: float) -> Figure:
    """Return the figure of rows around a value, with the weakest evidence."""
    lows = [one.value if one.low is None else one.low for one in rows]
    highs = [one.value if one.high is None else one.high for one in rows]
    low = min((each for each in lows if each is not None), default=0.0)
    high = max((each for each in highs if each is not None), default=value)
    evidence = max((one.evidence for one in rows), key=_RANK.__getitem__)
    sources = tuple(dict.fromkeys(key for one in rows for key in one.sources))
    first = rows[0]
    return Figure(value, low, high, first.unit, evidence, sources, first.origin)
