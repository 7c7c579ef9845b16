"""Shapes of TOML files: kinds of values, with every mismatch told as a problem.

A shape is a struct, read here rather than by msgspec: that one stops at the first
mismatch, and a maker is told all of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import date, datetime, time
from functools import cache
from types import NoneType
from typing import Annotated, Any, TypeVar, cast, get_args, get_origin

from msgspec import Struct
from msgspec.structs import fields

from optimiser.errors import Problem, nearest
from optimiser.reading.cells import quoted_advice, to_number

__all__ = [
    "Misfit",
    "Shape",
    "a_date",
    "a_number",
    "dotted",
    "fit",
    "fitted",
    "keys_of",
    "shown_value",
]


class Shape(Struct, frozen=True):
    """A table whose keys are all known and whose numbers are numbers.

    What a key holds is said by its annotation: ``str``, ``bool``, ``int``, ``float``,
    ``date``, another shape, a ``list`` or ``dict`` of one of these; ``| None`` where it
    may be left out. ``Annotated[..., function]`` leaves it to a function, which returns
    the value or raises :class:`Misfit`.
    """


class Misfit(ValueError):  # noqa: N818 - it is caught where a file is read
    """A value is not of the kind it should be; its text is that kind."""


Model = TypeVar("Model", bound=Shape)
Steps = tuple[str | int, ...]
Mismatches = list[tuple[Steps, str]]
_KIND = (
    (bool, "true or false"),
    (dict, "a table"),
    (list, "a list"),
    (date, "a date"),
    (time, "a time"),
)
_EXAMPLES = {
    "bands": "{ min = 10, max = 40 }",
    "limits": "{ max = 4 }",
    "constituents": "{ max = 0.9 }",
    "choices": "{ at_most = 3 }",
    "closeness": "20, or { max = 20 }",
    "guard": '{ max = 10, of = "butters" }, or false',
}


def fit(
    model: type[Shape], content: dict[str, Any], shown: str, problems: list[Problem]
) -> set[Steps]:
    """Say what in a file's content does not fit its shape.

    Parameters
    ----------
    model : class of shapes
        The shape of the file.
    content : dict
        The file's content, as read.
    shown : str
        Name of the file in messages.
    problems : list of Problem
        Gains a problem for each mismatch.

    Returns
    -------
    set of path
        Places of the mismatches, as keys and positions from the top.
    """
    wrong: Mismatches = []
    _table(model, content, (), wrong)
    problems += [
        _Mismatch(model, content, place, kind).problem(shown) for place, kind in wrong
    ]
    return {place for place, _ in wrong}


def fitted(model: type[Model], content: Mapping[str, Any]) -> Model:
    """Return content that fits (see :func:`fit`) as a value of its shape.

    Raises
    ------
    ValueError
        If it does not fit after all.
    """
    wrong: Mismatches = []
    found = _table(model, content, (), wrong)
    if wrong:
        raise ValueError(f"{dotted(wrong[0][0])}: {wrong[0][1]}")
    return cast("Model", found)


@cache
def keys_of(model: type[Shape]) -> dict[str, tuple[Any, bool]]:
    """Return what each key of a shape holds, and whether it must be there."""
    return {each.name: (each.type, each.required) for each in fields(model)}


def _table(
    model: type[Shape], value: object, place: Steps, wrong: Mismatches
) -> Shape | None:
    """Return a table as its shape; None, and what is ``wrong``, where it misfits."""
    if not isinstance(value, dict):
        wrong.append((place, "table"))
        return None
    known, before = keys_of(model), len(wrong)
    found: dict[str, Any] = {}
    for key, (kind, needed) in known.items():
        if key in value:
            found[key] = _value(kind, value[key], (*place, key), wrong)
        elif needed:
            wrong.append(((*place, key), "missing"))
    wrong += [((*place, key), "unknown") for key in value if key not in known]
    return model(**found) if len(wrong) == before else None


def _value(kind: Any, value: object, place: Steps, wrong: Mismatches) -> object:  # noqa: ANN401 - an annotation
    """Return a value as its annotation asks; what misfits is added to ``wrong``."""
    if isinstance(kind, type) and issubclass(kind, Shape):
        return _table(kind, value, place, wrong)
    held, inner = get_origin(kind), get_args(kind)
    if held in {list, dict}:
        return _values(held, inner[-1], value, place, wrong)
    if NoneType in inner:
        return None if value is None else _value(inner[0], value, place, wrong)
    try:
        return _reader(kind)(value)
    except Misfit as misfit:
        wrong.append((place, str(misfit)))
        return None


def _values(
    held: type,
    kind: Any,  # noqa: ANN401 - an annotation
    value: object,
    place: Steps,
    wrong: Mismatches,
) -> object:
    """Return a list, or a table that the maker names, with each value read."""
    if held is list and isinstance(value, list):
        entries = enumerate(value)
        return [_value(kind, each, (*place, at), wrong) for at, each in entries]
    if held is dict and isinstance(value, dict):
        named = value.items()
        return {at: _value(kind, each, (*place, at), wrong) for at, each in named}
    wrong.append((place, "list" if held is list else "table"))
    return None


def _reader(kind: Any) -> Callable[[object], object]:  # noqa: ANN401 - an annotation
    """Return what reads a plain kind of value, or the function named with it."""
    if get_origin(kind) is Annotated:
        return cast("Callable[[object], object]", kind.__metadata__[0])
    return READERS[kind]


def _a_text(value: object) -> str:
    if isinstance(value, str):
        return value
    raise Misfit("text")


def _a_switch(value: object) -> bool:
    if isinstance(value, bool):
        return value
    raise Misfit("switch")


def _a_whole_number(value: object) -> int:
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    raise Misfit("whole")


def a_number(value: object) -> float:
    """Return a number as a float; a Misfit if it is none, or is not finite."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        try:
            number = float(value)
        except OverflowError:
            raise Misfit("number") from None
        if math.isfinite(number):
            return number
        raise Misfit("finite")
    raise Misfit("number")


def a_date(value: object) -> date:
    """Return a date; a Misfit if it is none, or has a time of day."""
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    raise Misfit("date")


READERS: Mapping[Any, Callable[[object], object]] = {
    str: _a_text,
    bool: _a_switch,
    int: _a_whole_number,
    float: a_number,
    date: a_date,
}


def dotted(place: Steps) -> str:
    """Return a place as it is shown; positions are counted from 1.

    >>> dotted(("windows", 1, "min"))
    'windows[2].min'
    """
    text = ""
    for step in place:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        else:
            text += f".{step}" if text else step
    return text


def shown_value(value: object) -> str:
    """Return a value of a TOML file as a message shows it, cut short.

    >>> shown_value(True), shown_value("4,5"), shown_value(4.0)
    ('true', '4,5', '4.0')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return f"{value}" if abs(value) < 10**20 else "a number of many digits"
    text = _inline(value) if isinstance(value, (dict, list)) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _inline(value: dict[str, Any] | list[Any]) -> str:
    """Return the outline of a table or a list."""
    if isinstance(value, list):
        return "[...]" if value else "[]"
    return "{ " + ", ".join(value) + " }" if value else "{}"


class _Mismatch:
    """One value that does not fit, and how to say so."""

    def __init__(
        self,
        model: type[Shape],
        content: Mapping[str, Any],
        place: Steps,
        kind: str,
    ) -> None:
        self.place, self.kind = place, kind
        self.top = keys_of(model)
        self.known = _fields_at(model, place[:-1])
        self.value = _value_at(content, place)

    def problem(self, shown: str) -> Problem:
        """Return the problem, told of a file."""
        found: str | None = shown_value(self.value)
        if self.kind == "missing":
            found, (wrong, fix) = None, self._missing()
        elif self.kind == "unknown":
            found, (wrong, fix) = None, self._unknown()
        else:
            wrong, fix = self._kind()
        return Problem(wrong, shown, field=dotted(self.place), found=found, fix=fix)

    def _missing(self) -> tuple[str, str]:
        return "is missing", f"write {self.place[-1]} = ... here"

    def _unknown(self) -> tuple[str, str]:
        """Return what to say of a key that is not known here."""
        name = str(self.place[-1])
        if len(self.place) > 1 and name in self.top:
            return "does not belong here", "write it above the first [table]"
        wrong = f"is not a known key; {nearest(name[:100], self.known)}"
        return wrong, f"the keys here are {', '.join(self.known)}"

    def _kind(self) -> tuple[str, str]:
        """Return what to say of a value of the wrong kind."""
        tell = {
            "number": self._number,
            "whole": self._whole,
            "text": self._text,
            "list": self._list,
            "table": self._table,
            "switch": self._switch,
            "date": self._date,
        }.get(self.kind)
        if tell is not None:
            return tell()
        return "is not a number that can be used", "write a plain number, as in 2.65"

    def _is(self) -> str:
        """Return what kind of value was found, in words."""
        if isinstance(self.value, str):
            return "is text"
        for kind, words in _KIND:
            if isinstance(self.value, kind):
                return f"is {words}"
        return "is a number"

    def _moved(self) -> str | None:
        """Return the fix for a top key written below a [table], if it is one."""
        last = self.place[-1]
        if len(self.place) == 2 and last in self.top and last not in self.known:
            return f"write {last} above the first [table]"
        return None

    def _number(self) -> tuple[str, str]:
        window = self.place[0] == "windows" and self.place[-1] in {"min", "max"}
        if window and isinstance(self.value, str) and "base" in self.value.casefold():
            wrong = 'is neither a number nor "as the base"'
            return wrong, 'write "as the base", or "as the base at 25 degC"'
        if isinstance(self.value, str):
            wrong, fix = quoted_advice(self.value)
            return wrong, self._moved() or fix
        if isinstance(self.value, int) and not isinstance(self.value, bool):
            return "is too large a number", "write a plain number, as in 2.65"
        return f"{self._is()}, not a number", "write a plain number, as in 2.65"

    def _whole(self) -> tuple[str, str]:
        if isinstance(self.value, float):
            return "is not a whole number", "write a whole number, as in 3"
        if isinstance(self.value, str) and self.value.isdecimal():
            return "is text, not a number", f"write {self.value} without quotes"
        return f"{self._is()}, not a number", "write a whole number, as in 3"

    def _text(self) -> tuple[str, str]:
        wrong, last = f"{self._is()}, not text", self.place[-1]
        if last == "size":
            return wrong, 'write number and unit in quotes, as in "2 kg"'
        if last == "at":
            return wrong, 'write number and unit in quotes, as in "30 degC"'
        if isinstance(self.value, (dict, list)):
            return wrong, "write one text in quotes"
        return wrong, f'put it in quotes: "{shown_value(self.value)}"'

    def _list(self) -> tuple[str, str]:
        wrong, name = f"{self._is()}, not a list", self.place[-1]
        if isinstance(self.value, str):
            return wrong, f'put it in brackets: ["{shown_value(self.value)}"]'
        if isinstance(self.value, dict):
            return wrong, f"write [[{name}]] with two brackets on each side"
        return wrong, 'write a list in brackets, as in ["one", "two"]'

    def _table(self) -> tuple[str, str]:
        wrong, name = f"{self._is()}, not a table", self.place[0]
        moved = self._moved()
        if moved is not None:
            return wrong, moved
        value = shown_value(self.value)
        if name == "closeness" and to_number(value) is not None:
            return wrong, f"write {value} without quotes"
        if len(self.place) == 2 and name in _EXAMPLES:
            return wrong, f"write {_EXAMPLES[str(name)]}"
        return wrong, f"write [{dotted(self.place)}] and, below it, its keys"

    def _switch(self) -> tuple[str, str]:
        return f"{self._is()}, not true or false", "write true or false, without quotes"

    def _date(self) -> tuple[str, str]:
        fix = "write it without quotes or time, as in 2026-11-25"
        if isinstance(self.value, datetime):
            return "has a time of day", fix
        return f"{self._is()}, not a date", fix


def _value_at(content: object, place: Steps) -> object:
    """Return the value at a place; None if the place ends before."""
    for step in place:
        if isinstance(content, list) and isinstance(step, int):
            content = content[step]
        elif isinstance(content, dict):
            content = content.get(step)
        else:
            return None
    return content


def _fields_at(model: type[Shape], place: Steps) -> list[str]:
    """Return the keys that the table at a place may have; none if any will do."""
    inside: Any = model
    for step in place:
        if _is_shape(inside):
            inside = _without_none(keys_of(inside)[str(step)][0])
        else:
            inside = get_args(inside)[-1]
    return list(keys_of(inside)) if _is_shape(inside) else []


def _is_shape(kind: object) -> bool:
    return isinstance(kind, type) and issubclass(kind, Shape)


def _without_none(annotation: Any) -> Any:  # noqa: ANN401 - typing has no better
    """Return ``T`` of an annotation ``T | None``."""
    args = get_args(annotation)
    return args[0] if NoneType in args else annotation
