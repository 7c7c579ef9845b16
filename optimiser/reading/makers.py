"""Who makes it and where, for labels: ``[maker]`` of a workshop's scale.toml."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from optimiser.domain.label import Maker
from optimiser.domain.spoken import market_named
from optimiser.errors import InputError, Problem, nearest
from optimiser.reading import disk
from optimiser.reading.shapes import shown_value
from optimiser.reading.toml_text import read_toml
from optimiser.reading.workshops import scale_file

__all__ = ["read_maker"]

KEYS = ("name", "address", "contact")
LONGEST = 300  # signs of one of them
EXAMPLE = 'write [maker] and, below it, name = "...", address = "...", contact = "..."'


def read_maker(scenario: Path, workshop: str | None) -> Maker:
    """Return what a scenario's workshop says of its maker; blank is not known.

    Raises
    ------
    InputError
        With every slip of the table.
    """
    if not workshop:
        return Maker()
    path, shown = scale_file(scenario, workshop)
    if not disk.stands(path):
        return Maker()
    problems: list[Problem] = []
    content = read_toml(path, shown, problems) or {}
    found = _maker(content.get("maker", {}), "maker", shown, problems)
    if problems:
        raise InputError(problems)
    return found


def _maker(table: object, place: str, shown: str, problems: list[Problem]) -> Maker:
    if not isinstance(table, Mapping):
        told = shown_value(table)
        problems.append(Problem("is no table", shown, None, place, told, EXAMPLE))
        return Maker()
    elsewhere: dict[str, Maker] = {}
    said: dict[str, str] = {}
    for key, value in table.items():
        where = f"{place}.{key}"
        market = market_named(key)
        if place == "maker" and re.fullmatch("[A-Z]{2,3}", market):
            elsewhere[market] = _maker(value, where, shown, problems)
        elif key not in KEYS:
            fix = f"{nearest(key, KEYS)}; known are {', '.join(KEYS)}"
            if place == "maker":
                fix += ", and a market's table, as [maker.EU]"
            problems.append(Problem("is not a key here", shown, None, where, fix=fix))
        elif not isinstance(value, str) or len(value) > LONGEST:
            wrong = "is no text in quotes"
            if isinstance(value, str):
                wrong = f"is more than {LONGEST} signs"
            told, fix = shown_value(value), f'write {key} = "..."'
            problems.append(Problem(wrong, shown, None, where, told, fix))
        else:
            said[key] = " ".join(value.split())
    return Maker(**said, elsewhere=elsewhere)
