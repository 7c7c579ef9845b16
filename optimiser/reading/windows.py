"""Property windows of a scenario."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.domain.catalogue import fold
from optimiser.domain.exclusions import is_out, leaving_out
from optimiser.domain.material import Origin
from optimiser.domain.properties import GREATEST, PROPERTIES, Property, property_named
from optimiser.domain.scenario import Exclusions, Window
from optimiser.domain.unknown import left_aside, unjudged
from optimiser.domain.wording import number
from optimiser.reading.asking import Asking
from optimiser.reading.cells import COLDEST, HOTTEST, QuantityError, read_quantity
from optimiser.reading.names import Names
from optimiser.science.mixing import blend_value
from optimiser.science.properties import look_up

if TYPE_CHECKING:
    from optimiser.reading.scenario_files import WindowTable

__all__ = ["property_of", "temperatures_of", "windows_of"]

AS_BASE = "as the base"
Range = tuple[float | None, float | None]


def windows_of(
    asking: Asking,
    base: Mapping[str, float],
    exclude: Exclusions,
    markets: Sequence[str],
) -> tuple[Window, ...]:
    """Return the windows; ``at`` in deg C, sides in the unit of the property.

    What is excluded counts in the base that a side is held against, unless its figure
    is not known: then the side says that it is the base without it.
    """
    counted = _Base(asking, base, exclude, markets)
    found: list[Window] = []
    for place, table in enumerate(asking.file.windows):
        origin = asking.origin("windows", place)
        found += _window(asking, table, origin, counted)
    return tuple(found)


def _window(
    asking: Asking, table: WindowTable, origin: Origin, base: _Base
) -> list[Window]:
    """Return a window, or two where its sides are hardest at two temperatures."""
    kind = property_of(asking, table.property, origin)
    over = kind.over
    if table.over is not None:
        over = asking.part(table.over, origin, ".over") or over
    cool, warm = temperatures_of(asking, table.at, kind, origin)
    aside = table.without or _as_another(asking, table, kind, warm)
    over = _without(asking, over, aside, origin)
    held = _Held(asking, kind, over, base, origin)
    low, low_as = held.side(table.min, "min", warm)
    high, high_as = held.side(table.max, "max", cool)
    told = low_as is None and high_as is None  # else one that failed has been said
    if told or (low is not None and high is not None):
        asking.sides(low, high, origin, _crossed(low, low_as, high, high_as))
    for value, key in ((low, ".min"), (high, ".max")):
        if kind.unit == "%":
            asking.percent(value, origin, key)
        else:
            asking.within(value, kind.least, kind.most, origin, key)

    def at(degrees: float | None, low: float | None, high: float | None) -> Window:
        return Window(
            kind.name,
            degrees,
            table.at,
            over,
            low,
            high,
            table.why,
            origin,
            None if low is None else low_as,
            None if high is None else high_as,
        )

    if cool == warm or high is None:
        return [at(warm, low, high)]
    if low is None:
        return [at(cool, low, high)]
    return [at(warm, low, None), at(cool, None, high)]


def _as_another(
    asking: Asking, table: WindowTable, kind: Property, at: float | None
) -> list[str]:
    """Return what another window on the same leaves aside, for it lacks this figure.

    What holds a recipe in a room without its lanolin holds it so on the skin.
    """
    found = []
    for other in asking.file.windows:
        if (other.property, other.over) == (table.property, table.over):
            for text in other.without:
                key = asking.catalogue.find(text)
                if key and look_up(kind, asking.catalogue, key, at) is None:
                    found.append(text)
    return list(dict.fromkeys(found))


def _without(asking: Asking, over: str, names: Sequence[str], origin: Origin) -> str:
    """Return the part of a window without what it leaves aside."""
    aside = []
    for text in names:
        key = asking.ingredient(text, origin, ".without")
        if key is None:
            continue
        if key in asking.keys_of(over) | asking.may_be_in(over):
            aside.append(key)
        else:
            fix = "take it out, or name the part that it is in below over"
            asking.say(origin, f"is not in the {over}", fix, text, ".without")
    return asking.rest_of(over, aside) if aside else over


def _crossed(
    low: float | None, low_as: str | None, high: float | None, high_as: str | None
) -> str:
    """Return how to mend sides that cross: the base's own figure is no slip."""
    if low_as is not None and high_as is None:
        return f"the base reads {low:g}: write a max above that, or take max out"
    if high_as is not None and low_as is None:
        return f"the base reads {high:g}: write a min below that, or take min out"
    return "correct one of the two"


class _Base:
    """The base that sides are held against, and what the scenario excludes of it."""

    def __init__(
        self,
        asking: Asking,
        base: Mapping[str, float],
        exclude: Exclusions,
        markets: Sequence[str],
    ) -> None:
        self.catalogue, self.shares, self.exclude = asking.catalogue, base, exclude
        known = self.catalogue.ingredients
        self.out = frozenset(
            key
            for key in base
            if key in known and is_out(exclude, markets, self.catalogue, key)
        )

    def names(self, keys: Iterable[str]) -> str:
        return ", ".join(self.catalogue.ingredients[key].name for key in keys)


class _Held:
    """What the sides of one window are held against where they name the base."""

    def __init__(
        self,
        asking: Asking,
        kind: Property,
        over: str,
        base: _Base,
        origin: Origin,
    ) -> None:
        self.asking, self.kind, self.over = asking, kind, over
        self.base, self.origin = base, origin

    def side(
        self, value: float | str | None, key: str, at: float | None
    ) -> tuple[float | None, str | None]:
        """Return a side as a number, and the words for it if it is the base's own.

        ``at`` is the temperature at which the side is hardest to keep, [deg C].
        """
        if not isinstance(value, str):
            return value, None
        if self.kind.at:
            from optimiser.reading.scenario_files import AS_THE_BASE  # noqa: PLC0415 - pydantic is slow to import

            text = AS_THE_BASE.fullmatch(value)
            named = None if text is None else text[1]
            if named is not None:
                at, _ = _degrees(self.asking, named, self.origin, f".{key}")
            if at is None:  # said already
                return None, AS_BASE
        found, without = self._read(value, key, at)
        words = f"{AS_BASE} without {without}" if without else AS_BASE
        return found, words if at is None else f"{words} at {number(at)} °C"

    def _read(self, text: str, key: str, at: float | None) -> tuple[float | None, str]:
        """Return the base's figure, rounded so that the base keeps it; None if none.

        Beside it, the names of what is left out of it: excluded, and not known.
        """
        asking, base = self.asking, self.base
        if not asking.file.base and asking.sound("base"):
            fix = "write a [base], or a number here"
            asking.say(self.origin, "needs a base", fix, text, f".{key}")
        if not base.shares or asking.shaky & {"properties.csv", "ingredients.csv"}:
            return None, ""
        keys = asking.keys_of(self.over)
        whole = {each: share for each, share in base.shares.items() if each in keys}
        may_be = asking.may_be_in(self.over)
        much = unjudged(base.shares, asking.catalogue)
        whole |= {each: share for each, share in much.items() if each in may_be}
        for each in left_aside(base.shares, asking.catalogue):
            whole.pop(each, None)
        lacking = [
            each
            for each in whole
            if look_up(self.kind, asking.catalogue, each, at) is None
        ]
        gone = [each for each in lacking if each in base.out]
        part = {each: share for each, share in whole.items() if each not in gone}
        blend = blend_value(self.kind, part, at, asking.catalogue)
        if blend.value is None:
            self._say_unknown([each for each in lacking if each in part], text, key)
            return None, ""
        fine = 10.0 if abs(blend.value) >= 1.0 else 100.0
        outward = math.floor if key == "min" else math.ceil
        return outward(round(blend.value * fine, 6)) / fine, base.names(gone)

    def _say_unknown(self, lacking: Sequence[str], text: str, key: str) -> None:
        """Say why the base's figure cannot be told, and each way to have an answer."""
        asking, base, name = self.asking, self.base, self.kind.name
        wrong = f"cannot be told: the base has none of the {self.over}"
        fix = "write a number, or another part"
        if lacking:
            names = base.names(lacking)
            known = asking.catalogue.ingredients
            rows = dict.fromkeys(
                self.kind.source(known[each].category).name for each in lacking
            )
            wrong = f"cannot be told: no {name} is known of {names}"
            keep = self._keeping(lacking, names)
            fix = (
                f"to make it without {names},"
                f" {leaving_out(base.exclude, asking.catalogue, lacking)} (the window"
                " then holds it to the rest of the base); to keep"
                f" {'it' if len(lacking) == 1 else 'them'}, {keep} add"
                f" {' and '.join(rows)} to properties.csv with its source"
            )
        asking.say(self.origin, wrong, fix, text, f".{key}")

    def _keeping(self, lacking: Sequence[str], names: str) -> str:
        """Return what to write to keep what a window knows nothing of."""
        asking, shares = self.asking, self.base.shares
        keys = asking.keys_of(self.over)
        whole = sum(share for key, share in shares.items() if key in keys)
        if sum(shares[key] for key in lacking) > whole / 2.0:  # no rest to speak of
            return (
                f"take this window out (no formula with {names} can be held to it); or"
            )
        known = asking.catalogue.ingredients
        pins = [f'"{known[x].name}" = {number(shares[x])}' for x in lacking]
        quoted = ", ".join(f'"{known[x].name}"' for x in lacking)
        return (
            f"write without = [{quoted}] into this window (which then holds the rest)"
            f" and, below [pins], {' and '.join(pins)}; or"
        )


def property_of(
    asking: Asking, text: str, origin: Origin, key: str = ".property"
) -> Property:
    """Return a property that blends have, after saying what is wrong with its name."""
    known = dict(PROPERTIES)
    for each in asking.catalogue.figures:
        found = property_named(each, asking.catalogue)
        if found is not None:
            known[each] = found
    name = Names.of("property", known).find(text)
    if name is not None and known[name].mixing:
        return known[name]
    if name is not None:
        wrong = "is never averaged over a blend, so no window can hold it"
        instead = known[name].instead
        asking.say(origin, wrong, instead, text, key)
    elif "properties.csv" not in asking.shaky:
        blended = tuple(each.name for each in known.values() if each.mixing)
        asking.one_of("property", blended, text, origin, key)
    return Property(text, at=True, least=-GREATEST)


def temperatures_of(
    asking: Asking, written: str | None, kind: Property, origin: Origin
) -> Range:
    """Return the coolest and the warmest temperature of a window, [deg C].

    Parameters
    ----------
    written : str or None
        What stands at ``at``: a temperature, a place that has one, or nothing.

    Notes
    -----
    Solid fat, firmness and density fall as it gets warmer: a least value is hardest
    to keep at the warm end of a range, a greatest value at the cool end.
    """
    text = None if written is None else written.strip()
    if not text:
        if kind.needs_at or text is not None:
            fix = 'write at = "30 degC", "storage", "transit" or "skin"'
            asking.say(origin, f"has no temperature, which {kind.name} needs", fix)
        return None, None
    shaky = kind.name not in PROPERTIES and "properties.csv" in asking.shaky
    if not kind.at and not shaky:
        fix = "take the line at = ... out of this window"
        asking.say(
            origin, f"is given, but {kind.name} has no temperature", fix, text, ".at"
        )
        return None, None
    if fold(text) == "storage":
        return _storage(asking, origin)
    zone = asking.catalogue.zone(text)
    if zone is not None:
        return zone.low, zone.high
    return _degrees(asking, text, origin)


def _storage(asking: Asking, origin: Origin) -> Range:
    """Return the temperatures of the scenario's climate zone, [deg C]."""
    climate = asking.file.climate
    if climate is None:
        if asking.sound("climate"):
            fix = 'write [climate] and, below it, zone = "II"'
            asking.say(origin, "needs a climate zone", fix, "storage", ".at")
        return None, None
    zone = asking.catalogue.zone(climate.zone)
    return (None, None) if zone is None else (zone.low, zone.high)


def _degrees(asking: Asking, text: str, origin: Origin, key: str = ".at") -> Range:
    """Return a temperature that is written out, [deg C], twice."""
    if not any(each.isdigit() for each in text):
        if "climate.csv" not in asking.shaky:
            known = ("storage", "transit", "skin", *asking.catalogue.zones)
            wrong = Names.of("temperature", dict.fromkeys(known)).wrong(text)
            fix = 'write "storage", "transit", "skin", or a temperature like "30 degC"'
            asking.say(origin, wrong, fix, text, key)
        return None, None
    try:
        degrees = read_quantity(text, "degC", "30 degC")
    except QuantityError as error:
        asking.say(origin, str(error), error.fix, text, key)
        return None, None
    if not COLDEST <= degrees <= HOTTEST:
        wrong = f"is not between {COLDEST:g} and {HOTTEST:g} degC"
        asking.say(origin, wrong, 'write a temperature like "30 degC"', text, key)
        return None, None
    return degrees, degrees
