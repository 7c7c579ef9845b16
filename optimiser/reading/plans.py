"""Plans: a file that lists batches of several scenarios to buy for together."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any

from msgspec import Struct, field

from optimiser.domain.bench import Bench, to_make
from optimiser.domain.catalogue import Catalogue, Scale
from optimiser.domain.material import Origin
from optimiser.domain.plan import Batch, Plan, Product
from optimiser.domain.scenario import Scenario
from optimiser.errors import InputError, Problem, nearest
from optimiser.reading.bench import MOST_LOSS, MOST_OVERFILL, read_bench
from optimiser.reading.cells import QuantityError, date_advice, read_quantity, to_date
from optimiser.reading.disk import today
from optimiser.reading.folders import outside
from optimiser.reading.layers import Overlay
from optimiser.reading.scenario import read_scenario, wrong_batch
from optimiser.reading.shapes import shown_value
from optimiser.reading.text import absent
from optimiser.reading.toml_text import read_toml

__all__ = ["BATCH_KEYS", "KEYS", "read_plan"]

KEYS = ("title", "today", "reformulate", "within", "batches")
BATCH_KEYS = (
    "scenario",
    "size",
    "count",
    "units",
    "net",
    "overfill",
    "loss",
    "date",
    "reformulate",
    "within",
)
MOST_BATCHES, MOST_COUNT, MOST_UNITS = 200, 1000, 1_000_000
EXAMPLE = 'write [[batches]] and, below it, scenario = "massage_bar.toml"'
LEAST_NET, MOST_NET = 1e-4 * (1 - 1e-9), 1e3 * (1 + 1e-9)  # kg


Overfill = Callable[[Bench, Path, Scenario, float, int], float | None]


class _Written(Struct):
    """One of ``[[batches]]`` as it was written, and its place in messages."""

    table: Mapping[str, Any]
    place: str


class _Reading(Struct):
    """A plan being read: its file as shown, and all problems so far."""

    path: Path
    shown: str
    problems: list[Problem] = field(default_factory=list)
    overfill: Overfill | None = None

    def say(self, key: str, wrong: str, fix: str, found: object = None) -> None:
        told = None if found is None else shown_value(found)
        self.problems.append(Problem(wrong, self.shown, None, key, told, fix))

    def unknown(self, table: Mapping[str, Any], keys: tuple[str, ...], of: str) -> None:
        """Say which keys are not known."""
        for key in table:
            if key not in keys:
                wrong = f"is not a known key of {of}; {nearest(key, keys)}"
                self.say(key, wrong, f"the known ones are {', '.join(keys)}", key)

    def number(
        self,
        table: Mapping[str, Any],
        key: str,
        place: str,
        least: float,
        most: float,
        *,
        whole: bool = False,
    ) -> float | None:
        """Return a number in a range, or None after saying what is wrong with it."""
        value = table.get(key)
        if value is None:
            return None
        kinds = int if whole else (int, float)
        kind = "a whole number" if whole else "a number"
        if isinstance(value, bool) or not isinstance(value, kinds):
            self.say(f"{place}{key}", f"is not {kind}", f"write {kind}", value)
            return None
        if not least <= value <= most:
            fix = f"write {kind} from {least:g} to {most:g}"
            self.say(f"{place}{key}", "is out of range", fix, value)
            return None
        return float(value)

    def truth(self, table: Mapping[str, Any], key: str, place: str) -> bool | None:
        """Return true or false, or None after saying that it is neither."""
        value = table.get(key)
        if value is None or isinstance(value, bool):
            return value
        self.say(f"{place}{key}", "is neither true nor false", "write true", value)
        return None

    def day(self, table: Mapping[str, Any], key: str, place: str) -> date | None:
        """Return a date, in quotes or not, or None after saying that it is none."""
        value = table.get(key)
        if value is None:
            return None
        if isinstance(value, date) and not isinstance(value, datetime):
            return value
        found = to_date(value) if isinstance(value, str) else None
        if found is None:
            fix = date_advice(str(value)) if isinstance(value, str) else ""
            fix = fix or "write a date like 2026-12-01"
            self.say(f"{place}{key}", "is not a date", fix, value)
        return found

    def kg(
        self, table: Mapping[str, Any], key: str, place: str, example: str
    ) -> float | None:
        """Return a mass in quotes, or None after saying what is wrong with it."""
        value = table.get(key)
        if value is None:
            return None
        if not isinstance(value, str):
            fix = f'write it like {key} = "{example}"'
            self.say(f"{place}{key}", "is not a mass in quotes", fix, value)
            return None
        try:
            return read_quantity(value, "kg", example)
        except QuantityError as error:
            self.say(f"{place}{key}", str(error), error.fix, value)
            return None


def read_plan(path: Path, overfill: Overfill | None = None) -> Plan:
    """Return what a plan file asks for.

    Parameters
    ----------
    path : Path
        A TOML file; its scenarios stand beside it or are named from there.
    overfill : function, optional
        Returns the least overfill that keeps the law, percent, of a bench, a scenario
        and its file, kg net and a count of units; None where nothing tells it: then
        the workshop's habit counts.

    Raises
    ------
    InputError
        With every problem of the plan, of its scenarios and of their catalogue.
    """
    reading = _Reading(path, str(path), overfill=overfill)
    content = read_toml(path, reading.shown, reading.problems)
    if content is None:
        raise InputError(reading.problems)
    reading.unknown(content, KEYS, "a plan")
    title = content.get("title", path.stem)
    if not isinstance(title, str):
        reading.say("title", "is no text", 'write title = "Autumn markets"', title)
    named = reading.day(content, "today", "")
    day = named or today()
    moves = reading.truth(content, "reformulate", "") or False
    within = reading.number(content, "within", "", 0, 100)
    written = _batches(reading, content)
    scenarios = _scenarios(reading, written, named)
    bench = _bench(reading, scenarios)
    batches: dict[Path, list[Batch]] = {}
    own: dict[Path, tuple[list[bool], list[float]]] = {}
    for each in written:
        file = _file(reading, each)
        scenario = None if file is None else scenarios.get(file)
        asked = None if scenario is None else scenario[0]
        found = _made(reading, each, asked, day, bench)
        free = reading.truth(each.table, "reformulate", each.place)
        near = reading.number(each.table, "within", each.place, 0, 100)
        if file is not None and found is not None:
            batches.setdefault(file, []).extend(found)
            truths, limits = own.setdefault(file, ([], []))
            truths.append(moves if free is None else free)
            limits += [x for x in (within if near is None else near,) if x is not None]
    catalogue = _catalogue(reading, scenarios)
    if reading.problems or catalogue is None:
        raise InputError(reading.problems)
    products = tuple(
        Product(
            scenario=scenarios[file][0],
            batches=tuple(made),
            moves=all(own[file][0]),
            within=min(own[file][1], default=None),
            path=str(file),
        )
        for file, made in batches.items()
    )
    return Plan(title, reading.shown, day, products, catalogue)


def _batches(reading: _Reading, content: Mapping[str, Any]) -> list[_Written]:
    """Return the tables of batches."""
    tables = content.get("batches")
    if not isinstance(tables, list) or not tables:
        wrong = "is missing" if tables is None else "is no list of batches"
        reading.say("batches", wrong, EXAMPLE)
        return []
    if len(tables) > MOST_BATCHES:
        wrong = f"holds {len(tables)} batches, more than {MOST_BATCHES}"
        reading.say("batches", wrong, "write another plan for some of them")
        return []
    found = []
    for number, table in enumerate(tables, start=1):
        if not isinstance(table, dict):
            reading.say(f"batches.{number}", "is no table", EXAMPLE, table)
            continue
        reading.unknown(table, BATCH_KEYS, f"batch {number}")
        found.append(_Written(table, f"batches.{number}."))
    return found


def _file(reading: _Reading, each: _Written) -> Path | None:
    name = each.table.get("scenario")
    if not isinstance(name, str):
        return None
    return Path(os.path.normpath(reading.path.parent / name))


def _scenarios(
    reading: _Reading, written: list[_Written], named: date | None
) -> dict[Path, tuple[Scenario, Catalogue]]:
    """Return the scenarios of a plan and their catalogues, each read once."""
    on_the_day = []
    if named is not None:
        content = {"stock": {"today": named}}
        on_the_day = [Overlay("plan", reading.shown, reading.path, content)]
    found: dict[Path, tuple[Scenario, Catalogue]] = {}
    seen: set[Path] = set()
    for each in written:
        file = _file(reading, each)
        key = f"{each.place}scenario"
        if file is None:
            name = each.table.get("scenario")
            wrong = "is missing" if name is None else "is no file"
            reading.say(key, wrong, 'write scenario = "massage_bar.toml"', name)
            continue
        if file in seen:
            continue
        seen.add(file)
        if said := absent(file) or outside(reading.path.parent, file):
            reading.say(key, *said, each.table["scenario"])
            continue
        try:
            found[file] = read_scenario(file, on_the_day)
        except InputError as error:
            reading.problems += error.problems
    return found


def _catalogue(
    reading: _Reading, scenarios: Mapping[Path, tuple[Scenario, Catalogue]]
) -> Catalogue | None:
    """Return the one catalogue of all scenarios, after saying where it is not one."""
    first: tuple[Path, Scenario, Catalogue] | None = None
    for file, (scenario, catalogue) in scenarios.items():
        if not scenario.workshop:
            wrong = f"names no workshop in {file.name}, and packs and lots come from it"
            reading.say("batches", wrong, 'write workshop = "demo" in that scenario')
        elif first is None:
            first = file, scenario, catalogue
        elif scenario.workshop != first[1].workshop:
            wrong = (
                f"mixes workshops: {file.name} is of {scenario.workshop}, and"
                f" {first[0].name} of {first[1].workshop}"
            )
            fix = "plan for one workshop, whose shelf and packs they share"
            reading.say("batches", wrong, fix)
    return None if first is None else first[2]


def _bench(
    reading: _Reading, scenarios: Mapping[Path, tuple[Scenario, Catalogue]]
) -> Bench:
    """Return the bench of the workshop, for what it loses and fills over."""
    for file, (scenario, _) in scenarios.items():
        if scenario.workshop:
            try:
                return read_bench(file, scenario.workshop)
            except InputError as error:
                reading.problems += error.problems
            break
    return Bench(Scale(None, None))


def _made(
    reading: _Reading,
    each: _Written,
    scenario: Scenario | None,
    today: date,
    bench: Bench,
) -> list[Batch] | None:
    """Return the batches of one entry; None after saying what is wrong."""
    table, place = each.table, each.place
    before = len(reading.problems)
    count = reading.number(table, "count", place, 1, MOST_COUNT, whole=True)
    units = reading.number(table, "units", place, 1, MOST_UNITS, whole=True)
    over = reading.number(table, "overfill", place, 0, MOST_OVERFILL)
    loss = reading.number(table, "loss", place, 0, MOST_LOSS)
    size = reading.kg(table, "size", place, "2 kg")
    net = reading.kg(table, "net", place, "60 g")
    day = reading.day(table, "date", place) or today
    if day < today:
        wrong = f"is before {today}, the day of the plan"
        fix = "write a later day, or the plan's own above: today = 2026-11-26"
        reading.say(f"{place}date", wrong, fix, str(day))
    if ("units" in table) != ("net" in table):
        lacking = "net" if "units" in table else "units"
        fix = 'write both, as in units = 24 and net = "60 g"'
        reading.say(f"{place}{lacking}", "is missing beside the other", fix)
    for key in ("size",):
        if key in table and "units" in table:
            reading.say(f"{place}{key}", "stands beside units", "take one of them out")
    for key in ("overfill", "loss"):
        if key in table and "units" not in table:
            fix = "take it out, or write units and net"
            reading.say(f"{place}{key}", "is for units, which are not told", fix)
    if net is not None and not LEAST_NET <= net <= MOST_NET:
        fix = 'write one from 0.1 g to 1000 kg, as in "60 g"'
        reading.say(f"{place}net", "is no weight of one unit", fix, table["net"])
    if len(reading.problems) > before or scenario is None:
        return None
    kg = scenario.batch_kg if size is None else size
    if units is not None and net is not None:
        loss = (bench.loss or 0.0) if loss is None else loss
        if over is None and reading.overfill is not None:
            file = _file(reading, each) or reading.path
            over = reading.overfill(bench, file, scenario, net, int(units))
        over = (bench.overfill or 0.0) if over is None else over
        kg = to_make(int(units), net, loss=loss, overfill=over)
    wrong_kg = wrong_batch(kg)
    if wrong_kg is not None:
        reading.say(f"{place}{'size' if 'size' in table else 'units'}", *wrong_kg)
        return None
    origin = Origin(reading.shown, field=place.rstrip("."))
    made = Batch(kg, day, None if units is None else int(units), net, origin)
    return [made] * int(count or 1)
