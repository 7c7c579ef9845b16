"""Properties and constituents: their rows, checked, and made into one figure each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import fold
from optimiser.domain.material import EVIDENCE, Figure, Origin
from optimiser.domain.properties import GREATEST, PROPERTIES, Property
from optimiser.errors import alike
from optimiser.reading.cells import (
    COLDEST,
    HOTTEST,
    QuantityError,
    in_unit,
    read_quantity,
    to_number,
)
from optimiser.reading.folders import Folder, Ground
from optimiser.reading.names import Names
from optimiser.reading.tables import Columns, TableRow

__all__ = [
    "CALIBRATION",
    "COLUMNS",
    "contents_of",
    "figures_of",
    "read_constituents",
    "read_properties",
]

# What ``optimiser calibrate`` writes into a workshop, in the columns of properties.csv.
CALIBRATION = "calibration.csv"
COLUMNS = Columns(
    "ingredient,property,at,value,low,high,unit,basis,variant,evidence,source,note",
    "at low high basis variant source note",
)
CONSTITUENTS = Columns(
    "ingredient,constituent,low,value,high,unit,evidence,source,note",
    "low high source note",
)
PropertySubject = tuple[str, str, float | None]
ContentSubject = tuple[str, str]
_RANK = {word: rank for rank, word in enumerate(EVIDENCE)}
Ends = tuple[float, float, TableRow]  # low, high, and where they stand
Spread = tuple[float | None, float | None, float | None]


class FigureRow(Struct, frozen=True):
    """One row's figure, in canonical units; any of the three may be unknown."""

    low: float | None
    value: float | None
    high: float | None
    unit: str
    evidence: str
    sources: tuple[str, ...]
    origin: Origin
    calibrated: bool = False


def read_properties(
    folder: Folder, ground: Ground, name: str = "properties.csv"
) -> dict[PropertySubject, list[FigureRow]]:
    """Return readings by (ingredient, property, at); at in deg C or None."""
    table = folder.table(name, COLUMNS)
    found: dict[PropertySubject, list[FigureRow]] = {}
    kinds = dict(PROPERTIES)
    names = Names.of("property", [each.name for each in _held()])
    if table is None:
        return found
    for subject, reading in table.each(
        lambda row: _property(row, ground, names, kinds)
    ):
        found.setdefault(subject, []).append(reading)
    if name != CALIBRATION:
        _check_curves(table.rows)
        return found
    return {
        subject: [replace(each, calibrated=True) for each in rows]
        for subject, rows in found.items()
    }


def _property(
    row: TableRow, ground: Ground, names: Names, kinds: dict[str, Property]
) -> tuple[PropertySubject, FigureRow] | None:
    """Return the subject and the reading of a row of properties.csv.

    ``kinds`` gains a property that is new: all its rows must have the first's unit.
    """
    ingredient, name = ground.ingredient(row), _name(row, names)
    kind = kinds.get(name or "", Property("", _plain(row), least=-GREATEST))
    at = _at(row, name, kind)
    spread = _spread(row, kind.least, kind.most)
    evidence = ground.evidence(row)
    ground.source(row)
    if ingredient is None or name is None:
        return None
    kind = kinds.setdefault(name, kind)
    low, value, high = _in_unit(row, kind, spread)
    if value is None:
        if low is None or high is None:
            if not row.text("value"):
                row.say("value", "is blank", "write the value, or both low and high")
            return None
        value = (low + high) / 2
    sources = row.parts("source")
    reading = FigureRow(low, value, high, kind.unit, evidence, sources, row.origin)
    return (ingredient, name, at), reading


def _held() -> list[Property]:
    """Return the properties that a catalogue holds; the rest is worked out."""
    return [each for each in PROPERTIES.values() if not each.read_from]


def _plain(row: TableRow) -> str:
    """Return the unit of a row; "1" says, as blank does, that it is a plain number."""
    text = row.text("unit")
    return "" if text == "1" else text


def _name(row: TableRow, names: Names) -> str | None:
    """Return the property of a row; a new one unless it looks like a slip."""
    text = row.need("property")
    if text is None:
        return None
    found = names.find(text)
    if found is not None:
        return found
    computed = PROPERTIES.get(fold(text))
    if computed is not None:
        row.say("property", "is computed", computed.write)
        return None
    if alike(text, [each.name for each in _held()], least=75):
        fix = "correct the name, or choose one that is less like it"
        row.say("property", names.wrong(text), fix)
        return None
    return fold(text)


def _plausible(row: TableRow, kind: Property, spread: Spread) -> Spread:
    """Return a spread, after saying what cannot be: mostly a wrong unit."""
    least, most = kind.likely or (-GREATEST, GREATEST)
    for column, number in zip(("low", "value", "high"), spread, strict=True):
        if number is None or least <= number <= most:
            continue
        wrong, fix = f"makes {number:g} {kind.unit}", "correct the figure or its unit"
        if kind.likely is not None:
            wrong = f"makes a {kind.name} of {number:g} {kind.unit}"
            fix = f"write it in {kind.unit}, as in {kind.as_in}"
        row.say(column, wrong, fix)
    return spread


def _at(row: TableRow, name: str | None, kind: Property) -> float | None:
    """Return the temperature of a row, [deg C]; None if it has none."""
    text = row.text("at")
    if not text:
        if kind.needs_at:
            row.say("at", f"is blank, but {name} needs a temperature", "write 30 degC")
        return None
    try:
        degrees = read_quantity(text, "degC", "30 degC")
    except QuantityError as error:
        row.say("at", str(error), error.fix)
        return None
    if not COLDEST <= degrees <= HOTTEST:
        wrong = f"is not between {COLDEST:g} and {HOTTEST:g} degC"
        row.say("at", wrong, "write it like 30 degC")
    return degrees


def _spread(row: TableRow, least: float | None, most: float | None) -> Spread:
    """Return low, value and high of a row, each checked and in order."""
    low = row.number_in("low", least, most)
    value = row.number_in("value", least, most)
    high = row.number_in("high", least, most)
    if low is not None and high is not None and low > high:
        row.say("low", "is more than high", "swap the two")
    elif low is not None and value is not None and low > value:
        row.say("low", "is more than value", "correct one of the two")
    elif high is not None and value is not None and high < value:
        row.say("high", "is less than value", "correct one of the two")
    return low, value, high


def _in_unit(row: TableRow, kind: Property, spread: Spread) -> Spread:
    """Return a spread in the unit of its property, or as it is after a problem."""
    written, unit = _plain(row), kind.unit
    if written in {unit, kind.once}:
        return _plausible(row, kind, spread) if kind.likely else spread
    fix = (
        f"give the figure in {unit}"
        if unit
        else "leave it blank, for it is a plain number"
    )
    if not kind.convertible or not written:
        row.say("unit", f"is not the unit of {row.text('property')}", fix)
        return spread
    try:
        low, value, high = (
            None if each is None else in_unit(each, written, unit) for each in spread
        )
    except ValueError:
        row.say("unit", f"is not a unit of {row.text('property')}", fix)
        return spread
    return _plausible(row, kind, (low, value, high))


def read_constituents(
    folder: Folder, ground: Ground
) -> dict[ContentSubject, list[FigureRow]]:
    """Return readings by (ingredient, constituent), percent of the ingredient."""
    table = folder.table("constituents.csv", CONSTITUENTS)
    found: dict[ContentSubject, list[FigureRow]] = {}
    if table is None:
        return found
    for subject, reading in table.each(lambda row: _constituent(row, ground)):
        found.setdefault(subject, []).append(reading)
    return found


def _constituent(
    row: TableRow, ground: Ground
) -> tuple[ContentSubject, FigureRow] | None:
    """Return the subject and the reading of a row of constituents.csv."""
    ingredient, name = ground.ingredient(row), row.need("constituent")
    low, value, high = _spread(row, least=0, most=100)
    if row.text("unit") != "%":
        row.say("unit", "is not the unit of a constituent", "give the figure in %")
    evidence, _ = ground.evidence(row), ground.source(row)
    if not row.text("value") and not row.text("high"):
        row.say("value", "is blank, and so is high", "write one of the two")
    if ingredient is None or name is None:
        return None
    reading = FigureRow(
        low, value, high, "%", evidence, row.parts("source"), row.origin
    )
    return (ingredient, fold(name)), reading


def figures_of(
    readings: Mapping[PropertySubject, list[FigureRow]],
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
    readings: Mapping[ContentSubject, list[FigureRow]],
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


def _figure(rows: Sequence[FigureRow], value: float) -> Figure:
    """Return the figure of rows around a value, with the weakest evidence."""
    lows = [one.value if one.low is None else one.low for one in rows]
    highs = [one.value if one.high is None else one.high for one in rows]
    low = min((each for each in lows if each is not None), default=0.0)
    high = max((each for each in highs if each is not None), default=value)
    evidence = max((one.evidence for one in rows), key=_RANK.__getitem__)
    sources = tuple(dict.fromkeys(key for one in rows for key in one.sources))
    first = rows[0]
    calibrated = any(one.calibrated for one in rows)
    return Figure(
        value, low, high, first.unit, evidence, sources, first.origin, calibrated
    )


def _check_curves(rows: Iterable[TableRow]) -> None:
    """Say where solid fat rises with temperature, beyond what low and high allow.

    Rows of one ingredient and variant are one curve. Where several stand at one
    temperature, all of the warmer must lie above all of the cooler.
    """
    curves: dict[tuple[str, str], dict[float, list[Ends]]] = {}
    for row in rows:
        if fold(row.text("property")) != "solid fat":
            continue
        ends, degrees = _ends(row), _degrees(row)
        if ends is not None and degrees is not None:
            subject = fold(row.text("ingredient")), fold(row.text("variant"))
            curves.setdefault(subject, {}).setdefault(degrees, []).append(ends)
    for curve in curves.values():
        for cool, warm in pairwise(sorted(curve)):
            _check(cool, curve[cool], curve[warm])


def _check(degrees: float, cool: list[Ends], warm: list[Ends]) -> None:
    """Say that a curve rises from one temperature to the next, if it does."""
    most = max(high for _, high, _ in cool)
    least, _, row = min(warm, key=lambda ends: ends[0])
    if least > most:
        before = cool[0][2].number
        wrong = f"is more than at {degrees:g} degC (row {before}: {most:g})"
        fix = "correct one of the two; fat melts as it gets warmer"
        row.say("value", wrong, fix)


def _ends(row: TableRow) -> Ends | None:
    """Return the spread of a row; None if it has none that can be read."""
    value = to_number(row.text("value"))
    low, high = to_number(row.text("low")), to_number(row.text("high"))
    low, high = value if low is None else low, value if high is None else high
    return None if low is None or high is None else (low, high, row)


def _degrees(row: TableRow) -> float | None:
    """Return the temperature of a row, [deg C]; None if it cannot be read."""
    try:
        return read_quantity(row.text("at"), "degC", "30 degC")
    except QuantityError:
        return None
