"""Properties and constituents: the rows of each, read and checked one by one."""

from __future__ import annotations

from difflib import get_close_matches

from msgspec import Struct

from optimiser.domain.catalogue import fold
from optimiser.domain.material import Origin
from optimiser.domain.properties import GREATEST, PROPERTIES, Property
from optimiser.reading.curves import check_curves
from optimiser.reading.names import Names
from optimiser.reading.places import Ground, Place
from optimiser.reading.quantities import (
    COLDEST,
    HOTTEST,
    QuantityError,
    in_unit,
    read_quantity,
)
from optimiser.reading.tables import Columns, Row

__all__ = [
    "CALIBRATION",
    "COLUMNS",
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
Spread = tuple[float | None, float | None, float | None]


class Reading(Struct, frozen=True):
    """One row's figure, in canonical units; any of the three may be unknown."""

    low: float | None
    value: float | None
    high: float | None
    unit: str
    evidence: str
    sources: tuple[str, ...]
    origin: Origin


def read_properties(
    place: Place, ground: Ground, name: str = "properties.csv"
) -> dict[PropertySubject, list[Reading]]:
    """Return readings by (ingredient, property, at); at in deg C or None."""
    table = place.table(name, COLUMNS)
    found: dict[PropertySubject, list[Reading]] = {}
    kinds = dict(PROPERTIES)
    names = Names.of("property", [each.name for each in _held()])
    if table is None:
        return found
    for subject, reading in table.each(
        lambda row: _property(row, ground, names, kinds)
    ):
        found.setdefault(subject, []).append(reading)
    if name != CALIBRATION:
        check_curves(table.rows)
    return found


def _property(
    row: Row, ground: Ground, names: Names, kinds: dict[str, Property]
) -> tuple[PropertySubject, Reading] | None:
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
    reading = Reading(low, value, high, kind.unit, evidence, sources, row.origin)
    return (ingredient, name, at), reading


def _held() -> list[Property]:
    """Return the properties that a catalogue holds; the rest is worked out."""
    return [each for each in PROPERTIES.values() if not each.read_from]


def _plain(row: Row) -> str:
    """Return the unit of a row; "1" says, as blank does, that it is a plain number."""
    text = row.text("unit")
    return "" if text == "1" else text


def _name(row: Row, names: Names) -> str | None:
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
    if get_close_matches(text.casefold(), [each.name for each in _held()], 1, 0.75):
        fix = "correct the name, or choose one that is less like it"
        row.say("property", names.wrong(text), fix)
        return None
    return fold(text)


def _plausible(row: Row, kind: Property, spread: Spread) -> Spread:
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


def _at(row: Row, name: str | None, kind: Property) -> float | None:
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


def _spread(row: Row, least: float | None, most: float | None) -> Spread:
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


def _in_unit(row: Row, kind: Property, spread: Spread) -> Spread:
    """Return a spread in the unit of its property, or as it is after a problem."""
    written, unit = _plain(row), kind.unit
    if written == unit:
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
    place: Place, ground: Ground
) -> dict[ContentSubject, list[Reading]]:
    """Return readings by (ingredient, constituent), percent of the ingredient."""
    table = place.table("constituents.csv", CONSTITUENTS)
    found: dict[ContentSubject, list[Reading]] = {}
    if table is None:
        return found
    for subject, reading in table.each(lambda row: _constituent(row, ground)):
        found.setdefault(subject, []).append(reading)
    return found


def _constituent(row: Row, ground: Ground) -> tuple[ContentSubject, Reading] | None:
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
    reading = Reading(low, value, high, "%", evidence, row.parts("source"), row.origin)
    return (ingredient, fold(name)), reading
