"""Ratios: so much of one thing for each part of another."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.domain.kinds.ratios import MOST_RATIO, Ratio
from optimiser.domain.material import Origin
from optimiser.reading.asking import Asking
from optimiser.reading.scenario_files import Shape

__all__ = ["KEY", "SHAPE", "RatioTable", "read"]

LEAST_RATIO = 1e-4


class RatioTable(Shape):
    """One of ``[[ratios]]``: amount of ``first`` per amount of ``second``."""

    first: list[str]
    second: list[str]
    min: float | None = None
    max: float | None = None
    why: str | None = None
    name: str | None = None


KEY = "ratios"
SHAPE = list[RatioTable]


def read(asking: Asking) -> Iterator[Ratio]:
    """Yield the ratios, each side as the keys of its ingredients."""
    for origin, table in asking.tables(KEY, RatioTable):
        yield _ratio(asking, table, origin)


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
    for place, text in enumerate(names, start=1):
        part = asking.part(text, origin, f"{key}[{place}]")
        if part is not None:
            found |= asking.keys_of(part)
    return found
