"""Property windows and ratios of a scenario."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimiser.domain.material import Origin
from optimiser.domain.scenario import Ratio, Window
from optimiser.reading.asking import GREATEST, Asking
from optimiser.reading.figures import PROPERTIES
from optimiser.reading.names import Names
from optimiser.reading.quantities import COLDEST, HOTTEST, QuantityError, read_quantity

if TYPE_CHECKING:
    from optimiser.reading.scenario_files import RatioTable, WindowTable

__all__ = ["ratios_of", "windows_of"]

# Properties of a whole formula that are worked out from figures of others.
DERIVED = ("firmness", "solids load")
# The part that a window is over unless it says so; else the product.
OVER = {
    "solid fat": "lipids",
    "firmness": "lipids",
    "viscosity": "lipids",
    "required HLB": "lipids",
    "iodine value": "fats",
    "saponification value": "fats",
    "HLB": "emulsifier",
}
# Figures of single ingredients that say nothing about a blend, and what does.
NOT_BLENDED = {
    "melting point": "use solid fat at a temperature",
    "wax firmness": "use firmness at a temperature",
    "particle size": "choose the ingredients by it",
    "shelf life": "choose the ingredients by it",
    "viscosity activation energy": "use viscosity at a temperature",
    "highest addition temperature": "see optimiser pour",
}
NEEDS_AT = ("solid fat", "firmness")
WITHOUT_AT = ("iodine value", "saponification value", "HLB", "required HLB")
NEVER_NEGATIVE = (*OVER, "density", "solids load")
LEAST_RATIO, MOST_RATIO = 1e-4, 1e4
Range = tuple[float | None, float | None]


def windows_of(asking: Asking) -> tuple[Window, ...]:
    """Return the windows; ``at`` in deg C, sides in the unit of the property."""
    found: list[Window] = []
    for place, table in enumerate(asking.file.windows):
        origin = asking.origin("windows", place)
        found += _window(asking, table, origin)
    return tuple(found)


def _window(asking: Asking, table: WindowTable, origin: Origin) -> list[Window]:
    """Return a window, or two where its sides are hardest at two temperatures."""
    name = _property(asking, table, origin)
    low, high = asking.sides(table.min, table.max, origin)
    if name == "solid fat":
        asking.percent(low, origin, ".min")
        asking.percent(high, origin, ".max")
    else:
        least = 0.0 if name in NEVER_NEGATIVE else -GREATEST
        asking.within(low, least, GREATEST, origin, ".min")
        asking.within(high, least, GREATEST, origin, ".max")
    over = OVER.get(name, "product")
    if table.over is not None:
        over = asking.part(table.over, origin, ".over") or over
    cool, warm = _at(asking, table, name, origin)

    def at(degrees: float | None, low: float | None, high: float | None) -> Window:
        return Window(name, degrees, table.at, over, low, high, table.why, origin)

    if cool == warm or high is None:
        return [at(warm, low, high)]
    if low is None:
        return [at(cool, low, high)]
    return [at(warm, low, None), at(cool, None, high)]


def _property(asking: Asking, table: WindowTable, origin: Origin) -> str:
    """Return the property of a window, after saying what is wrong with it."""
    every = (*PROPERTIES, *DERIVED, *asking.catalogue.figures)
    name = Names.of("property", every).find(table.property)
    if name is not None and name not in NOT_BLENDED:
        return name
    if name is not None:
        wrong = "is never averaged over a blend, so no window can hold it"
        asking.say(origin, wrong, NOT_BLENDED[name], table.property, ".property")
    elif "properties.csv" not in asking.shaky:
        known = tuple(each for each in dict.fromkeys(every) if each not in NOT_BLENDED)
        asking.one_of("property", known, table.property, origin, ".property")
    return table.property


def _at(asking: Asking, table: WindowTable, name: str, origin: Origin) -> Range:
    """Return the coolest and the warmest temperature of a window, [deg C].

    Notes
    -----
    Solid fat, firmness and density fall as it gets warmer: a least value is hardest
    to keep at the warm end of a range, a greatest value at the cool end.
    """
    text = None if table.at is None else table.at.strip()
    if not text:
        if name in NEEDS_AT or text is not None:
            fix = 'write at = "30 degC", "storage", "transit" or "skin"'
            asking.say(origin, f"has no temperature, which {name} needs", fix)
        return None, None
    if _without_at(asking, name):
        fix = "take the line at = ... out of this window"
        asking.say(origin, f"is given, but {name} has no temperature", fix, text, ".at")
        return None, None
    if text == "storage":
        return _storage(asking, origin)
    zones = asking.catalogue.zones
    zone = zones.get(text) or next((z for z in zones.values() if z.kind == text), None)
    if zone is not None:
        return zone.low, zone.high
    return _degrees(asking, text, origin)


def _without_at(asking: Asking, name: str) -> bool:
    """Return whether a property is never told of a temperature."""
    known = asking.catalogue.figures.get(name, {})
    if name in (*PROPERTIES, *DERIVED):
        return name in WITHOUT_AT
    told = {at for figures in known.values() for at in figures}
    return "properties.csv" not in asking.shaky and told == {None}


def _storage(asking: Asking, origin: Origin) -> Range:
    """Return the temperatures of the scenario's climate zone, [deg C]."""
    climate = asking.file.climate
    if climate is None:
        if asking.sound("climate"):
            fix = 'write [climate] and, below it, zone = "II"'
            asking.say(origin, "needs a climate zone", fix, "storage", ".at")
        return None, None
    zone = asking.catalogue.zones.get(climate.zone)
    return (None, None) if zone is None else (zone.low, zone.high)


def _degrees(asking: Asking, text: str, origin: Origin) -> Range:
    """Return a temperature that is written out, [deg C], twice."""
    if not any(each.isdigit() for each in text):
        if "climate.csv" not in asking.shaky:
            known = ("storage", "transit", "skin", *asking.catalogue.zones)
            wrong = Names.of("temperature", dict.fromkeys(known)).wrong(text)
            fix = 'write "storage", "transit", "skin", or a temperature like "30 degC"'
            asking.say(origin, wrong, fix, text, ".at")
        return None, None
    try:
        degrees = read_quantity(text, "degC", "30 degC")
    except QuantityError as error:
        asking.say(origin, str(error), error.fix, text, ".at")
        return None, None
    if not COLDEST <= degrees <= HOTTEST:
        wrong = f"is not between {COLDEST:g} and {HOTTEST:g} degC"
        asking.say(origin, wrong, 'write a temperature like "30 degC"', text, ".at")
        return None, None
    return degrees, degrees


def ratios_of(asking: Asking) -> tuple[Ratio, ...]:
    """Return the ratios, each side as the keys of its ingredients."""
    found: list[Ratio] = []
    for place, table in enumerate(asking.file.ratios):
        origin = asking.origin("ratios", place)
        found.append(_ratio(asking, table, origin))
    return tuple(found)


def _ratio(asking: Asking, table: RatioTable, origin: Origin) -> Ratio:
    """Return one ratio, after saying what is wrong with it."""
    low, high = asking.sides(table.min, table.max, origin)
    for key, value in ((".min", low), (".max", high)):
        if value:
            _ratio_limit(asking, value, origin, key)
    first = _keys(asking, table.first, origin, ".first")
    second = _keys(asking, table.second, origin, ".second")
    if first and first == second:
        fix = "name on one side what the other does not hold"
        asking.say(origin, "is about the same thing on both sides", fix)
    name = table.name or f"{' + '.join(table.first)} to {' + '.join(table.second)}"
    return Ratio(name, first, second, low, high, table.why, origin)


def _ratio_limit(asking: Asking, value: float, origin: Origin, key: str) -> None:
    """Say what is wrong with a limit of a ratio that is not 0."""
    if LEAST_RATIO <= value <= MOST_RATIO:
        return
    wrong = f"is more than {MOST_RATIO:g}"
    if value < LEAST_RATIO:
        wrong = "is negative" if value < 0 else f"is less than {LEAST_RATIO:g}"
    fix = f"write 0, or a number from {LEAST_RATIO:g} to {MOST_RATIO:g}"
    asking.say(origin, wrong, fix, f"{value:g}", key)


def _keys(asking: Asking, names: list[str], origin: Origin, key: str) -> frozenset[str]:
    """Return the keys of ingredients that names, categories and parts stand for."""
    if not names:
        asking.say(origin, "has nothing in it", "list what is counted", key=key)
    found: frozenset[str] = frozenset()
    for number, text in enumerate(names, start=1):
        part = asking.part(text, origin, f"{key}[{number}]")
        if part is not None:
            found |= asking.keys_of(part)
    return found
