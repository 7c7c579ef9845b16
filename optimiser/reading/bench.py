"""The bench of a workshop: the tables [scale], [fine_scale], [batch] and [[moulds]]."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from optimiser.domain.bench import Bench, FineScale, Mould, Scales
from optimiser.domain.catalogue import Scale, fold
from optimiser.errors import InputError, Problem, nearest
from optimiser.reading.cells import QuantityError, read_quantity
from optimiser.reading.currencies import is_invented
from optimiser.reading.disk import stands
from optimiser.reading.shapes import shown_value
from optimiser.reading.toml_text import read_toml
from optimiser.reading.workshops import scale_file, scale_in

__all__ = [
    "MOST_LOSS",
    "MOST_OVERFILL",
    "bench_in",
    "mould_named",
    "read_bench",
    "read_scales",
]

MOST_LOSS, MOST_OVERFILL = 90.0, 100.0  # percent
MOST_CAVITIES = 10_000
LEAST_FILL, MOST_FILL = 1e-7, 1.0  # m^3 and kg of one cavity
KEYS = {
    "batch": ("loss", "overfill", "spread"),
    "moulds": ("name", "cavities", "volume", "net"),
    "fine_scale": ("readability", "smallest", "most"),
}
PERCENT = {
    "loss": (MOST_LOSS, "3 for what stays in the pot, of what is weighed in"),
    "overfill": (MOST_OVERFILL, "2 for what a unit gets above its net weight"),
}
FILLS = {"volume": ("m^3", "60 ml"), "net": ("kg", "60 g")}
FINE = {"readability": "0.01 g", "smallest": "0.5 g", "most": "200 g"}
PART = 1e-6  # what one step may be off being a whole part of another


def read_bench(scenario: Path, workshop: str) -> Bench:
    """Return the bench of a scenario's workshop; nothing is known without its file.

    Raises
    ------
    InputError
        With every slip of the file.
    """
    return bench_in(*scale_file(scenario, workshop))


def read_scales(scenario: Path, workshop: str) -> Scales | None:
    """Return what a scenario's workshop weighs on; None where no step is known.

    Raises
    ------
    InputError
        With every slip of the tables [scale] and [fine_scale].
    """
    path, shown = scale_file(scenario, workshop)
    scale = scale_in(path, shown)
    if scale.readability is None:
        return None
    problems: list[Problem] = []
    content = read_toml(path, shown, problems) or {}
    fine = _fine(content.get("fine_scale"), scale, shown, problems)
    if problems:
        raise InputError(problems)
    return Scales.of(scale.readability, fine)


def bench_in(path: Path, shown: str) -> Bench:
    """Return the bench of a workshop's scale.toml (see `read_bench`)."""
    problems: list[Problem] = []
    scale = Scale(None, None)
    try:
        scale = scale_in(path, shown)
    except InputError as error:
        problems += error.problems
    # Read once more; a file that is no TOML has been told.
    content = read_toml(path, shown, []) if stands(path) else None
    content = {} if content is None else content
    batch = content.get("batch", {})
    loss, overfill = _batch(batch, shown, problems)
    spread = _spread(batch, shown, problems)
    moulds = _moulds(content.get("moulds", []), shown, problems)
    fine = _fine(content.get("fine_scale"), scale, shown, problems)
    invented = is_invented(content, shown, problems)
    if problems:
        raise InputError(problems)
    return Bench(scale, moulds, loss, overfill, fine, spread, invented)


def mould_named(bench: Bench, name: str) -> Mould:
    """Return a mould by its name, as the maker typed it.

    Raises
    ------
    InputError
        If no mould is called that.
    """
    for mould in bench.moulds:
        if fold(mould.name) == fold(name):
            return mould
    names = [each.name for each in bench.moulds]
    fix = "write it into scale.toml of the workshop: [[moulds]] name, cavities, volume"
    if names:
        fix = f"{nearest(name, names)}; the moulds are {', '.join(names)}"
    wrong = "is no mould of this workshop"
    raise InputError([Problem(wrong, field="--mould", found=name, fix=fix)])


def _batch(
    table: Any,  # noqa: ANN401 - as read
    shown: str,
    problems: list[Problem],
) -> tuple[float | None, float | None]:
    if not isinstance(table, dict):
        fix = "write [batch] and, below it, loss = 3"
        problems.append(Problem("is no table", shown, field="batch", fix=fix))
        return None, None
    _unknown(table, "batch", "batch", shown, problems)
    loss, overfill = (_percent(table.get(key), key, shown, problems) for key in PERCENT)
    return loss, overfill


def _spread(
    table: Any,  # noqa: ANN401 - as read
    shown: str,
    problems: list[Problem],
) -> float | None:
    """Return how much fills vary, [kg]."""
    if not isinstance(table, dict):
        return None
    wrong = "is no spread of fills"
    value = table.get("spread")
    return _mass(value, "batch.spread", "0.6 g", shown, problems, wrong)


def _percent(
    value: Any,  # noqa: ANN401 - as read
    key: str,
    shown: str,
    problems: list[Problem],
) -> float | None:
    if value is None:
        return None
    most, example = PERCENT[key]
    if not isinstance(value, bool) and isinstance(value, int | float):
        if 0.0 <= value < most:
            return float(value)
        wrong = f"is not from 0 to below {most:g} %"
    else:
        wrong = "is not a number of percent"
    fix = f"write {key} = {example}"
    found = shown_value(value)
    problems.append(Problem(wrong, shown, None, f"batch.{key}", found, fix))
    return None


def _fine(
    table: Any,  # noqa: ANN401 - as read
    scale: Scale,
    shown: str,
    problems: list[Problem],
) -> FineScale | None:
    """Return the second scale, whose step must be a whole part of the first one's."""
    if table is None:
        return None
    place = "fine_scale"
    if not isinstance(table, dict):
        fix = 'write [fine_scale] and, below it, readability = "0.01 g"'
        problems.append(Problem("is no table", shown, field=place, fix=fix))
        return None
    before = len(problems)
    _unknown(table, place, place, shown, problems)
    found = {
        key: _mass(table.get(key), f"{place}.{key}", example, shown, problems)
        for key, example in FINE.items()
    }
    step, most = found["readability"], found["most"]
    for key in ("readability", "most"):
        if key not in table:
            fix = f'write {key} = "{FINE[key]}"'
            problems.append(
                Problem("is missing", shown, None, f"{place}.{key}", fix=fix)
            )
    if step is not None and scale.readability is not None:
        parts = scale.readability / step
        if round(parts) < 2 or abs(parts - round(parts)) > PART * parts:
            wrong = "is no whole part of the step of the first scale"
            fix = 'write a finer one, as in "0.01 g" beside "0.1 g"'
            told = shown_value(table.get("readability"))
            at = f"{place}.readability"
            problems.append(Problem(wrong, shown, None, at, told, fix))
    if len(problems) > before or step is None or most is None:
        return None
    return FineScale(step, found["smallest"], most)


def _mass(
    value: Any,  # noqa: ANN401 - as read
    at: str,
    example: str,
    shown: str,
    problems: list[Problem],
    absurd: str = "is no weighing of a fine scale",
) -> float | None:
    if value is None:
        return None
    wrong, fix = "is no mass in quotes", f'write it like "{example}"'
    if isinstance(value, str):
        try:
            kg = read_quantity(value, "kg", example)
        except QuantityError as error:
            wrong, fix = str(error), error.fix
        else:
            if 0.0 < kg <= MOST_FILL:
                return kg
            wrong = absurd
    problems.append(Problem(wrong, shown, None, at, shown_value(value), fix))
    return None


def _moulds(
    tables: Any,  # noqa: ANN401 - as read
    shown: str,
    problems: list[Problem],
) -> tuple[Mould, ...]:
    if not isinstance(tables, list) or not all(isinstance(t, dict) for t in tables):
        fix = 'write [[moulds]] and, below it, name = "round bar"'
        wrong = "is no list of moulds"
        problems.append(Problem(wrong, shown, field="moulds", fix=fix))
        return ()
    found: dict[str, Mould] = {}
    for number, table in enumerate(tables, start=1):
        place = f"moulds, number {number}"
        mould = _mould(table, place, shown, problems)
        if mould is None:
            continue
        if fold(mould.name) in found:
            fix = "give each mould a name of its own"
            wrong = "is the name of another mould"
            told = Problem(wrong, shown, None, f"{place}: name", mould.name, fix)
            problems.append(told)
        found[fold(mould.name)] = mould
    return tuple(found.values())


def _mould(
    table: dict[str, Any], place: str, shown: str, problems: list[Problem]
) -> Mould | None:
    before = len(problems)
    _unknown(table, "moulds", place, shown, problems)
    name, cavities = table.get("name"), table.get("cavities", 1)
    if not isinstance(name, str) or not name.strip():
        wrong = "is missing" if name is None else "is no name in quotes"
        fix = 'write name = "round bar"'
        at = f"{place}: name"
        told = None if name is None else shown_value(name)
        problems.append(Problem(wrong, shown, None, at, told, fix))
    whole = isinstance(cavities, int) and not isinstance(cavities, bool)
    if not whole or not 1 <= cavities <= MOST_CAVITIES:
        wrong, fix = "is no count of cavities", "write cavities = 6"
        at = f"{place}: cavities"
        problems.append(Problem(wrong, shown, None, at, shown_value(cavities), fix))
    fills = {key: _fill(table, key, place, shown, problems) for key in FILLS}
    if not table.keys() & FILLS.keys():
        wrong = "says neither how much a cavity holds nor what a unit weighs"
        fix = 'write volume = "60 ml", or net = "60 g"'
        problems.append(Problem(wrong, shown, field=place, fix=fix))
    if len(problems) > before:
        return None
    return Mould(str(name).strip(), cavities, fills["volume"], fills["net"])


def _fill(
    table: dict[str, Any], key: str, place: str, shown: str, problems: list[Problem]
) -> float | None:
    value = table.get(key)
    if value is None:
        return None
    unit, example = FILLS[key]
    fix = f'write {key} = "{example}"'
    wrong = f"is no {'volume' if key == 'volume' else 'mass'} in quotes"
    if isinstance(value, str):
        try:
            amount = read_quantity(value, unit, example)
        except QuantityError as error:
            wrong, fix = str(error), error.fix
        else:
            if LEAST_FILL <= amount <= MOST_FILL:
                return amount
            wrong = "is no filling of one cavity"
    at = f"{place}: {key}"
    problems.append(Problem(wrong, shown, None, at, shown_value(value), fix))
    return None


def _unknown(
    table: dict[str, Any], kind: str, place: str, shown: str, problems: list[Problem]
) -> None:
    for key in table:
        if key not in KEYS[kind]:
            fix = f"{nearest(key, KEYS[kind])}; known are {', '.join(KEYS[kind])}"
            problems.append(Problem("is not a key here", shown, None, place, key, fix))
