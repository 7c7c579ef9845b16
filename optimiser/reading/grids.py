"""Grids: a file that asks for many cases of some scenarios in one go."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from pathlib import Path
from typing import Any

from msgspec import Struct, field

from optimiser.domain.catalogue import fold
from optimiser.errors import InputError, Problem, nearest
from optimiser.reading.folders import outside
from optimiser.reading.layers import Overlay
from optimiser.reading.shapes import shown_value
from optimiser.reading.tables import Columns, TableRow, read_table
from optimiser.reading.text import absent
from optimiser.reading.toml_text import read_toml

__all__ = ["Grid", "PriceList", "is_grid", "overlays_of", "price_lists_of", "read_grid"]

KEYS = ("title", "scenarios", "over", "prices", "price_list")
MARKS = ("over", "prices", "price_list", "scenarios")
PRICES = Columns("case,ingredient,price_per_kg", "")
MOST_CASES = 1_000_000
DEAREST = 1_000_000.0  # money per kg: more is a slip of the pen

Labels = dict[str, Any]


class PriceList(Struct, frozen=True):
    """Prices that a case changes: money per kg by the ingredient as it is written."""

    labels: Mapping[str, Any]
    prices: Mapping[str, float]


class Grid(Struct, frozen=True):
    """Scenarios, and what is varied in every combination.

    ``over`` is a key of a scenario, dots between its steps, to the values it takes;
    ``prices`` is an ingredient to prices per kg; ``price_lists`` are whole lists.
    """

    title: str
    path: Path
    scenarios: tuple[Path, ...]
    over: Mapping[str, Sequence[Any]] = field(default_factory=dict)
    prices: Mapping[str, Sequence[float]] = field(default_factory=dict)
    price_lists: tuple[PriceList, ...] = ()


def is_grid(path: Path) -> bool:
    """Whether a TOML file asks for many cases, rather than being a scenario."""
    if absent(path) is not None:
        return False
    content = read_toml(path, str(path), [])
    return content is not None and any(mark in content for mark in MARKS)


def read_grid(path: Path) -> Grid:
    """Return what a grid file asks for.

    Raises
    ------
    InputError
        With every problem of the file and of its price list.
    """
    shown, problems = str(path), list[Problem]()
    content = read_toml(path, shown, problems) or {}
    for key in content:
        if key not in KEYS:
            wrong = f"is not a known key of a grid; {nearest(key, KEYS)}"
            fix = f"the known ones are {', '.join(KEYS)}"
            problems.append(Problem(wrong, shown, field=key, found=key, fix=fix))
    lists = _price_table(path, content.get("price_list"), problems)
    grid = Grid(
        title=_title(path, content.get("title"), problems),
        path=path,
        scenarios=_scenarios(path, content.get("scenarios"), problems),
        over=_lists(shown, "over", content.get("over"), problems),
        prices=_prices(shown, content.get("prices"), problems),
        price_lists=lists,
    )
    _check_size(grid, problems)
    problems += _said_twice(grid)
    if problems:
        raise InputError(problems)
    return grid


def _title(path: Path, value: Any, problems: list[Problem]) -> str:  # noqa: ANN401 - as read
    """Return the title of a grid, or the name of its file."""
    if value is not None and not isinstance(value, str):
        fix = 'write it in quotes, as in title = "All climates"'
        found = shown_value(value)
        problems.append(Problem("is no text", str(path), None, "title", found, fix))
        return path.stem
    return (value or "").strip() or path.stem


def _said_twice(grid: Grid) -> list[Problem]:
    """Return the problems of what is varied by two entries that are one thing."""
    shown, problems = str(grid.path), list[Problem]()
    names: dict[str, str] = {}
    for name in grid.prices:
        other = names.setdefault(fold(name), name)
        if other != name:
            wrong = f"is {other} in other letters, whose prices are there already"
            fix = "take one of the two out"
            problems.append(
                Problem(wrong, shown, field=f"prices.{name}", found=name, fix=fix)
            )
    for name in grid.over:
        steps = name.split(".")
        for size in range(1, len(steps)):
            outer = ".".join(steps[:size])
            if outer in grid.over:
                wrong = f"is inside {outer}, which is varied too"
                fix = "vary one of the two"
                problems.append(
                    Problem(wrong, shown, field=f"over.{name}", found=name, fix=fix)
                )
    for label, values in (*grid.over.items(), *grid.prices.items()):
        table = "over" if label in grid.over else "prices"
        for place, value in enumerate(values):
            if value in values[:place]:
                problems.append(
                    Problem(
                        "is listed twice",
                        shown,
                        field=f"{table}.{label}",
                        found=shown_value(value),
                        fix="take one of the two out",
                    )
                )
    return problems


def _check_size(grid: Grid, problems: list[Problem]) -> None:
    size = len(grid.scenarios) * max(1, len(grid.price_lists))
    for values in (*grid.over.values(), *grid.prices.values()):
        size *= max(1, len(values))
    if size > MOST_CASES:
        wrong = f"asks for {size} cases, more than {MOST_CASES}"
        problems.append(Problem(wrong, str(grid.path), fix="vary less at once"))


def _scenarios(path: Path, value: Any, problems: list[Problem]) -> tuple[Path, ...]:  # noqa: ANN401 - as read
    """Return the scenarios, which stand beside the grid or are named from there."""
    shown, key = str(path), "scenarios"
    names = [value] if isinstance(value, str) else value
    if not isinstance(names, list) or not names:
        fix = 'write scenarios = ["massage_bar.toml"] above the first [table]'
        wrong = "is missing" if value is None else "is no list of files"
        problems.append(Problem(wrong, shown, field=key, fix=fix))
        return ()
    found = []
    for name in names:
        if not isinstance(name, str):
            fix = 'write a file in quotes, as in "massage_bar.toml"'
            found_here = shown_value(name)
            problems.append(Problem("is no file", shown, None, key, found_here, fix))
        elif said := absent(path.parent / name) or outside(
            path.parent, path.parent / name
        ):
            wrong, fix = said
            problems.append(Problem(wrong, shown, None, key, name, fix))
        else:
            found.append(path.parent / name)
    return tuple(found)


def _lists(
    shown: str,
    table: str,
    value: Any,  # noqa: ANN401 - as read
    problems: list[Problem],
) -> dict[str, list[Any]]:
    """Return a table whose every entry is a list of at least one value."""
    if value is None:
        return {}
    if not isinstance(value, dict):
        fix = f"write [{table}] and the entries below it"
        problems.append(Problem("is no table", shown, field=table, fix=fix))
        return {}
    found = {}
    for name, values in _flat(value):
        if isinstance(values, list) and values:
            found[name] = values
        else:
            fix = 'list the values it takes, as in "climate.zone" = ["II", "IVA"]'
            wrong = "is no list of values"
            problems.append(Problem(wrong, shown, field=f"{table}.{name}", fix=fix))
    return found


def _flat(table: Mapping[str, Any], before: str = "") -> list[tuple[str, Any]]:
    """Return the entries of a table, tables in it joined by dots."""
    found: list[tuple[str, Any]] = []
    for name, value in table.items():
        if isinstance(value, dict):
            found += _flat(value, f"{before}{name}.")
        else:
            found.append((f"{before}{name}", value))
    return found


def _prices(
    shown: str,
    value: Any,  # noqa: ANN401 - as read
    problems: list[Problem],
) -> dict[str, list[float]]:
    found: dict[str, list[float]] = {}
    for name, values in _lists(shown, "prices", value, problems).items():
        good = [
            float(each)
            for each in values
            if isinstance(each, int | float)
            and not isinstance(each, bool)
            and 0 <= each <= DEAREST
        ]
        if len(good) < len(values):
            fix = "write prices per kg as numbers from 0 to 1000000, as in [18, 22.5]"
            wrong = "holds something that is no price"
            problems.append(Problem(wrong, shown, field=f"prices.{name}", fix=fix))
        found[name] = good
    return found


def _price_table(
    path: Path,
    value: Any,  # noqa: ANN401 - as read
    problems: list[Problem],
) -> tuple[PriceList, ...]:
    """Return the lists of a table of prices, one a case, in the order they come."""
    if value is None:
        return ()
    file = value.get("file") if isinstance(value, dict) else value
    if not isinstance(file, str) or not file.strip():
        fix = 'write price_list = "prices_by_month.csv"'
        problems.append(
            Problem("names no file", str(path), field="price_list", fix=fix)
        )
        return ()
    if said := outside(path.parent, path.parent / file):
        wrong, fix = said
        problems.append(Problem(wrong, str(path), None, "price_list", file, fix))
        return ()
    table = read_table(path.parent / file, file, PRICES, problems)
    cases: dict[str, tuple[str, dict[str, float]]] = {}
    seen: dict[tuple[str, str], int] = {}
    for case, name, price, row in table.each(_price) if table is not None else ():
        first = seen.setdefault((fold(case), fold(name)), row.number)
        if first != row.number:
            wrong = f"has a price for {case} in row {first} already"
            row.say("ingredient", wrong, "take one of the two rows out")
            continue
        cases.setdefault(fold(case), (case, {}))[1][name] = price
    return tuple(PriceList({"prices": case}, each) for case, each in cases.values())


def _price(row: TableRow) -> tuple[str, str, float, TableRow] | None:
    case, name = row.need("case"), row.need("ingredient")
    price = row.need_number("price_per_kg", 0, DEAREST)
    if case is None or name is None or price is None:
        return None
    return case, name, price, row


def overlays_of(grid: Grid) -> list[tuple[Labels, Overlay]]:
    """Return every combination of what is varied in the scenarios themselves."""
    found = []
    for values in product(*grid.over.values()):
        labels = dict(zip(grid.over, values, strict=True))
        content: dict[str, Any] = {}
        for name, value in labels.items():
            *steps, last = name.split(".")
            inside = content
            for step in steps:
                inside = inside.setdefault(step, {})
            inside[last] = value
        found.append((labels, Overlay(grid.title, str(grid.path), grid.path, content)))
    return found


def price_lists_of(grid: Grid) -> list[PriceList]:
    """Return every combination of price lists and of single prices."""
    lists = grid.price_lists or (PriceList({}, {}),)
    found = []
    for each in lists:
        for values in product(*grid.prices.values()):
            own = dict(zip(grid.prices, values, strict=True))
            labels = {f"price of {name}": price for name, price in own.items()}
            found.append(PriceList({**each.labels, **labels}, {**each.prices, **own}))
    return found
