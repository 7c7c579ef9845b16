"""What a maker states of costs: costs.toml of a workshop, every slip told at once."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any, TypeVar

from msgspec.structs import replace

from optimiser.domain.catalogue import fold
from optimiser.domain.costs import (
    SOLD,
    Costs,
    Fee,
    Labour,
    Overhead,
    Packaging,
    PriceWay,
    Stated,
    Tax,
)
from optimiser.domain.products import NAMES, kinds_told
from optimiser.errors import InputError, Problem, nearest
from optimiser.reading.cells import quoted_advice
from optimiser.reading.currencies import CODE, INVENTED, is_invented
from optimiser.reading.disk import is_file, stands
from optimiser.reading.shapes import shown_value
from optimiser.reading.toml_text import read_toml
from optimiser.reading.workshops import scale_file

__all__ = ["KEYS", "WAYS", "costs_in", "read_costs"]

T = TypeVar("T")
MOST_MONEY, MOST_MINUTES, MOST_COUNT = 1e6, 1e5, 1e6
MOST_TIMES, MOST_PERCENT = 100.0, 100.0
LEAST = 1e-6  # of what has to be above 0, and below the most: others are divided by it
MOST_ENTRIES = 100  # of one list: each is moved by itself, and all counted anew
MOST_NOT_SOLD = 90.0  # percent: a tenth more still leaves some to be sold
SPREAD = ("usual", "low", "high")
# What each way of pricing asks for: its numbers, the most of each, and an example.
WAYS: Mapping[str, Mapping[str, tuple[float, str]]] = {
    "times cost": {"times": (MOST_TIMES, "2.5")},
    "times materials": {"times": (MOST_TIMES, "4")},
    "margin": {"percent": (MOST_PERCENT, "60")},
    "by the hour": {"an_hour": (MOST_MONEY, "25")},
    "wholesale, then retail": {
        "times": (MOST_TIMES, "2"),
        "then_times": (MOST_TIMES, "2"),
    },
}
PER = {"per_month": "month", "per_batch": "batch", "per_unit": "unit"}
KEYS: Mapping[str, tuple[str, ...]] = {
    "evidence": (),
    "note": (),
    "currency": (),
    "packaging": ("name", "price", "for_units", "product"),
    "labour": ("minutes_per_batch", "minutes_per_unit"),
    "making": ("batches_a_month",),
    "overheads": ("name", *PER),
    "sales": ("not_sold", "units_a_sale"),
    "fees": ("name", "percent", "per_sale", "sold"),
    "tax": ("rate", "in_prices"),
    "ways": ("name", "way"),
}
_RATE = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s+([A-Z]{3})\s*/\s*(?:h|hour)")
_RATE_FIX = 'write [labour] and, below it, rate = "18 {}/h"'


def read_costs(scenario: Path, workshop: str, currency: str) -> Costs:
    """Return what the maker states of costs; without a file nothing is stated.

    Parameters
    ----------
    scenario : Path
        The scenario's file; its workshop is found as its catalogue is.
    currency : str
        The money that prices are in. What the maker states in another is refused,
        and what is invented in another does not count.

    Raises
    ------
    InputError
        With every slip of costs.toml, and of the rate of labour in scale.toml.
    """
    return costs_in(*scale_file(scenario, workshop), currency)


def costs_in(scale: Path, shown_scale: str, currency: str) -> Costs:
    """Return what is stated beside a workshop's scale.toml (see `read_costs`)."""
    path = scale.with_name("costs.toml")
    shown = f"{path.parent.name}/{path.name}"
    problems: list[Problem] = []
    uncounted: list[str] = []
    rate = _rate(scale, shown_scale, currency, problems, uncounted)
    there = stands(path)
    content = read_toml(path, shown, problems) if there else None
    top = _Table({} if content is None else content, "", shown, problems)
    costs = _costs(top, rate)
    other = (
        ""
        if _left_alone(top, path, currency)
        else _other_currency(top, costs, currency)
    )
    if problems:
        raise InputError(problems)
    if other:
        uncounted.append(f"{shown}, in {other}")
        costs = Costs(costs.file, invented=True, labour=Labour(rate))
    return replace(costs, there=there, uncounted=tuple(uncounted))


def _left_alone(top: _Table, path: Path, currency: str) -> bool:
    """Whether nothing beside costs.toml names a currency; tell of files not there."""
    if currency or "currency" not in top.content:
        return False
    names = ("prices.csv", "scale.toml")
    lacking = [name for name in names if not is_file(path.with_name(name))]
    if lacking:
        wrong = f"stands alone: its folder has no {' and no '.join(lacking)}"
        fix = f"copy the whole folder {path.parent.name}, not costs.toml alone"
        top.problems.append(Problem(wrong, top.shown, fix=fix))
    return True


def _other_currency(top: _Table, costs: Costs, currency: str) -> str:
    """Return the currency of invented figures that are not in the workshop's, if so.

    The maker's own in another currency are told as a problem.
    """
    said = top.content.get("currency")
    if said is None or said == currency:
        return ""
    if not (isinstance(said, str) and re.fullmatch(CODE, said)):
        wrong = "is not a currency of three capital letters"
        top.say("currency", said, wrong, f'write currency = "{currency or "EUR"}"')
        return ""
    if costs.invented:
        return said
    wrong = f"is not {currency}, as prices are"
    fix = f'convert its figures, and write currency = "{currency}"'
    top.say("currency", said, wrong, fix)
    return ""


def _costs(top: _Table, rate: Stated | None) -> Costs:
    top.refuse_others(KEYS)
    labour, making, sales = (top.table(n) for n in ("labour", "making", "sales"))
    a_sale = None
    if sales.has("units_a_sale"):
        a_sale = sales.number("units_a_sale", MOST_COUNT, "1.5", above=True)
    return Costs(
        file=top.shown,
        note=top.text("note", "whose numbers these are") if top.has("note") else "",
        invented=is_invented(top.content, top.shown, top.problems),
        packaging=top.each("packaging", _packaging),
        labour=Labour(
            rate,
            labour.stated("minutes_per_batch", MOST_MINUTES, "90"),
            labour.stated("minutes_per_unit", MOST_MINUTES, "2.5"),
        ),
        overheads=top.each("overheads", _overhead),
        batches_a_month=making.stated("batches_a_month", 1e4, "6", above=True),
        not_sold=sales.stated("not_sold", MOST_NOT_SOLD, "4"),
        units_a_sale=a_sale,
        fees=top.each("fees", _fee),
        tax=_tax(top),
        ways=top.each("ways", _way) or (),
    )


def _packaging(table: _Table) -> Packaging:
    table.refuse_others(KEYS["packaging"])
    price = table.stated("price", MOST_MONEY, "0.45", needed=True)
    units = Decimal(1)
    if table.has("for_units"):
        units = table.number("for_units", MOST_COUNT, "12", above=True)
    product = _product(table) if table.has("product") else ""
    return Packaging(table.text("name", "tin"), price or _NOTHING, units, product)


def _product(table: _Table) -> str:
    """Return for which product alone it is: its name must tell a kind of product."""
    product = table.text("product", "lip balm")
    if product and not kinds_told(product):
        fix = (
            'write it as the scenario does, as in "lip balm"; or a kind of product:'
            f" {', '.join(NAMES)}"
        )
        table.say("product", product, "is no product that is known here", fix)
    return product


def _overhead(table: _Table) -> Overhead:
    table.refuse_others(KEYS["overheads"])
    said = [key for key in PER if table.has(key)]
    if len(said) != 1:
        wrong = "says how much twice" if said else "says not how much it is"
        table.say("", None, wrong, "write one of per_month, per_batch, per_unit")
    key = said[0] if said else "per_month"
    amount = table.stated(key, MOST_MONEY, "30")
    return Overhead(table.text("name", "insurance"), amount or _NOTHING, PER[key])


def _fee(table: _Table) -> Fee:
    table.refuse_others(KEYS["fees"])
    if not (table.has("percent") or table.has("per_sale")):
        table.say("", None, "says not how much it is", "write percent, or per_sale")
    percent = per_sale = Decimal(0)
    if table.has("percent"):
        percent = table.number("percent", MOST_PERCENT, "1.5", below=True)
    if table.has("per_sale"):
        per_sale = table.number("per_sale", MOST_MONEY, "0.25")
    sold = table.one_of("sold", SOLD) if table.has("sold") else "both"
    return Fee(table.text("name", "card"), percent, per_sale, sold)


def _tax(top: _Table) -> Tax | None:
    if not top.has("tax"):
        return None
    table = top.table("tax")
    rate = table.number("rate", MOST_PERCENT, "20", needed=True)
    inside = table.content.get("in_prices")
    if not isinstance(inside, bool):
        wrong = "is missing" if inside is None else "is neither true nor false"
        fix = (
            "write in_prices = true if your prices are what the buyer pays, else false"
        )
        table.say("in_prices", inside, wrong, fix)
    return Tax(rate, bool(inside))


def _way(table: _Table) -> PriceWay:
    way = table.one_of("way", tuple(WAYS))
    name = table.text("name", "my shop") if table.has("name") else way
    asked = WAYS.get(way, {})
    if asked:
        table.refuse_others((*KEYS["ways"], *asked))
    numbers = {
        key: table.number(key, most, example, needed=True, above=True, below=True)
        for key, (most, example) in asked.items()
    }
    return PriceWay(name, way, numbers)


_NOTHING = Stated(Decimal(0))  # stands where a problem has been told


class _Table:
    """A table as written, and how its slips are told."""

    def __init__(
        self,
        content: dict[str, Any],
        place: str,
        shown: str,
        problems: list[Problem],
    ) -> None:
        self.content, self.place, self.shown = content, place, shown
        self.problems = problems

    def has(self, key: str) -> bool:
        return key in self.content

    def say(self, key: str, found: object, wrong: str, fix: str) -> None:
        """Tell what is wrong at a key, or of the table where it is blank."""
        field = self._at(key)
        told = None if found is None else shown_value(found)
        self.problems.append(Problem(wrong, self.shown, None, field, told, fix))

    def _at(self, key: str) -> str:
        if not key:
            return self.place
        joint = ": " if ", number " in self.place else "."
        return f"{self.place}{joint}{key}" if self.place else key

    def refuse_others(self, known: Iterable[str]) -> None:
        known = tuple(known)
        for key in self.content:
            if key in known:
                continue
            fix = f"{nearest(key, known)}; known are {', '.join(known)}"
            if self.place == "labour" and key == "rate":
                fix = "write it in scale.toml, where [labour] rate stands"
            wrong, field = "is not a key here", self.place or None
            self.problems.append(Problem(wrong, self.shown, None, field, key, fix))

    def table(self, key: str) -> _Table:
        """Return a table inside; an empty one where there is none."""
        inside = self.content.get(key, {})
        if not isinstance(inside, dict):
            self.say(key, inside, "is no table", f"write [{key}] in a line of its own")
            inside = {}
        found = _Table(inside, key, self.shown, self.problems)
        found.refuse_others(KEYS[key])
        return found

    def each(self, key: str, read: Callable[[_Table], T]) -> tuple[T, ...] | None:
        """Return what is read of each table of a list; None where it is not there."""
        if not self.has(key):
            return None
        inside = self.content[key]
        if not isinstance(inside, list) or not all(isinstance(t, dict) for t in inside):
            fix = f"write [[{key}]] with two brackets on each side, or {key} = []"
            self.say(key, inside, "is no list of tables", fix)
            return ()
        if len(inside) > MOST_ENTRIES:
            wrong = f"holds {len(inside)} entries, more than {MOST_ENTRIES}"
            self.say(key, None, wrong, "put those together that go together")
            return ()
        places = [f"{key}, number {number}" for number in range(1, len(inside) + 1)]
        tables = [
            _Table(table, place, self.shown, self.problems)
            for table, place in zip(inside, places, strict=True)
        ]
        found = tuple(read(table) for table in tables)
        self._refuse_twice(tables)
        return found

    def _refuse_twice(self, tables: Iterable[_Table]) -> None:
        seen: set[str] = set()
        for each in tables:
            name = each.content.get("name")
            if not isinstance(name, str):
                continue
            if fold(name) in seen:
                each.say("name", name, "is there twice", "give each a name of its own")
            seen.add(fold(name))

    def text(self, key: str, example: str) -> str:
        value = self.content.get(key)
        if isinstance(value, str) and value.strip():
            return value.strip()
        wrong = "is missing" if value is None else "is no text in quotes"
        self.say(key, value, wrong, f'write {key} = "{example}"')
        return ""

    def one_of(self, key: str, known: tuple[str, ...]) -> str:
        value = self.content.get(key)
        if isinstance(value, str):
            for each in known:
                if fold(each) == fold(value):
                    return each
        wrong = "is missing" if value is None else "is not known here"
        self.say(key, value, wrong, f"write one of {'; '.join(known)}")
        return ""

    def number(
        self,
        key: str,
        most: float,
        example: str,
        *,
        needed: bool = False,
        above: bool = False,
        below: bool = False,
    ) -> Decimal:
        """Return a number from 0 to ``most``; above, below: these are out too."""
        value = self.content.get(key)
        if value is None:
            if needed:
                self.say(key, None, "is missing", f"write {key} = {example}")
            return Decimal(0)
        found = self._decimal(key, value, most, example, above=above, below=below)
        return Decimal(0) if found is None else found

    def stated(
        self,
        key: str,
        most: float,
        example: str,
        *,
        needed: bool = False,
        above: bool = False,
        below: bool = False,
    ) -> Stated | None:
        """Return a number, or a table of usual, low and high; None if not stated."""
        value = self.content.get(key)
        if not isinstance(value, dict):
            number = self.number(
                key, most, example, needed=needed, above=above, below=below
            )
            return None if value is None else Stated(number)
        before = len(self.problems)
        found: dict[str, Decimal | None] = {}
        for name in value:
            if name not in SPREAD:
                fix = f"write {key} = {{ usual = {example}, low = ..., high = ... }}"
                self.say(f"{key}.{name}", None, "is not a key here", fix)
        for name in SPREAD:
            said = value.get(name)
            at = f"{key}.{name}"
            if said is not None:
                found[name] = self._decimal(
                    at, said, most, example, above=above, below=below
                )
            elif name == "usual":
                self.say(at, None, "is missing", f"write usual = {example} in it")
        if len(self.problems) > before:
            return Stated(Decimal(0))
        usual, low, high = (found.get(name) for name in SPREAD)
        usual = usual or Decimal(0)
        if (low is not None and low > usual) or (high is not None and high < usual):
            wrong = "does not go from low over usual to high"
            self.say(key, value, wrong, "write them in that order of size")
        return Stated(usual, low, high)

    def _decimal(
        self,
        key: str,
        value: object,
        most: float,
        example: str,
        *,
        above: bool,
        below: bool,
    ) -> Decimal | None:
        fix = f"write {key.rpartition('.')[2]} = {example}"
        if isinstance(value, bool) or not isinstance(value, int | float):
            wrong = "is not a number"
            if isinstance(value, str):
                wrong, fix = quoted_advice(value)
            self.say(key, value, wrong, fix)
            return None
        low = value < LEAST if above else value < 0
        high = value > most - LEAST if below else value > most
        if not math.isfinite(value) or low or high:
            least = "above 0" if above else "from 0"
            upto = "below" if below else "up to"
            wrong = f"is not a number {least} {upto} {most:g}"
            if above and 0 < value < LEAST:
                wrong = f"is less than {LEAST:g}"
            self.say(key, value, wrong, fix)
            return None
        return Decimal(str(value))


def _rate(
    path: Path,
    shown: str,
    currency: str,
    problems: list[Problem],
    uncounted: list[str],
) -> Stated | None:
    """Return the rate of labour of scale.toml, in money an hour; None if not stated.

    ``uncounted`` gains an invented one in another currency than prices are in.
    """
    content = read_toml(path, shown, problems) if stands(path) else None
    inside = (content or {}).get("labour", {})
    if not isinstance(inside, dict):
        fix = _RATE_FIX.format(currency)
        problems.append(Problem("is no table", shown, field="labour", fix=fix))
        return None
    table = _Table(inside, "labour", shown, problems)
    value = inside.get("rate")
    if value is None:
        return None
    if not isinstance(value, str):
        return table.stated("rate", MOST_MONEY, "18")
    found = _RATE.fullmatch(value.strip())
    fix = _RATE_FIX.format(currency)
    if found is None:
        table.say("rate", value, "is no money an hour", fix)
    elif found[2] != currency and (content or {}).get("evidence") == INVENTED:
        uncounted.append(f"{shown}, labour.rate {value}")
    elif found[2] != currency:
        table.say("rate", value, f"is not in {currency}, as prices are", fix)
    elif float(found[1]) > MOST_MONEY:
        table.say("rate", value, "is no rate of an hour", fix)
    else:
        return Stated(Decimal(found[1]))
    return None
