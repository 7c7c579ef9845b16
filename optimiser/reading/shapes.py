"""Kinds of values in a TOML file, with every mismatch told as a problem."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time
from typing import TYPE_CHECKING, Any, TypeVar, get_args

from optimiser.errors import Problem, nearest
from optimiser.reading.cells import quoted_advice, to_number

__all__ = ["dotted", "fit", "shown_value"]

if TYPE_CHECKING:
    from pydantic import BaseModel

Model = TypeVar("Model", bound="BaseModel")
Steps = tuple[str | int, ...]
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

_LISTS = {"total": "[10, 12, 14]"}


def fit(
    model: type[Model], content: dict[str, Any], shown: str, problems: list[Problem]
) -> set[Steps]:
    """Say what in a file's content does not fit its model.

    Parameters
    ----------
    model : class of pydantic models
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
    from pydantic import ValidationError  # noqa: PLC0415 - pydantic is slow to import

    try:
        model.model_validate(content)
    except ValidationError as error:
        places: set[Steps] = set()
        for each in error.errors(include_url=False, include_context=False):
            place = tuple(each["loc"])
            places.add(place)
            said = _Mismatch(model, content, place, each["type"], each["msg"])
            problems.append(said.problem(shown))
        return places
    return set()


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
        model: type[BaseModel],
        content: Mapping[str, Any],
        place: Steps,
        kind: str,
        said: str,
    ) -> None:
        self.place, self.kind, self.said = place, kind, said
        self.top = model.model_fields
        self.known = _fields_at(model, place[:-1])
        self.value = _value_at(content, place)

    def problem(self, shown: str) -> Problem:
        """Return the problem, told of a file."""
        found: str | None = shown_value(self.value)
        if self.kind == "missing":
            found, (wrong, fix) = None, self._missing()
        elif self.kind == "extra_forbidden":
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
            "float_type": self._number,
            "int_type": self._whole,
            "string_type": self._text,
            "list_type": self._list,
            "dict_type": self._table,
            "model_type": self._table,
            "bool_type": self._switch,
            "date_type": self._date,
            "date_from_datetime_inexact": self._date,
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
        if name in _LISTS:
            return wrong, f"write a list in brackets, as in {_LISTS[str(name)]}"
        return wrong, 'write a list in brackets, as in ["one", "two"]'

    def _table(self) -> tuple[str, str]:
        wrong, name = f"{self._is()}, not a table", self.place[0]
        moved = self._moved()
        if moved is not None:
            return wrong, moved
        value = shown_value(self.value)
        if name == "closeness" and to_number(value) is not None:
            return f"{self._is()}, not a number", f"write {value} without quotes"
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


def _fields_at(model: type[BaseModel], place: Steps) -> list[str]:
    """Return the keys that the table at a place may have; none if any will do."""
    inside: Any = model
    for step in place:
        if hasattr(inside, "model_fields"):
            inside = _without_none(inside.model_fields[str(step)].annotation)
        else:
            inside = get_args(inside)[-1]
    return list(inside.model_fields) if hasattr(inside, "model_fields") else []


def _without_none(annotation: Any) -> Any:  # noqa: ANN401 - typing has no better
    """Return ``T`` of an annotation ``T | None``."""
    args = get_args(annotation)
    return args[0] if type(None) in args else annotation
