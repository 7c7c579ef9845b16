"""The shape of scenario files: which keys there are, and what each holds.

The models check kinds only (a number is a number, a list a list). Whether names are
known and numbers make sense is looked at later, when the catalogue is at hand.
"""

from __future__ import annotations

import contextlib
import math
import re
from datetime import date
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, PlainValidator
from pydantic_core import PydanticCustomError

__all__ = [
    "AS_THE_BASE",
    "AimTable",
    "BatchTable",
    "ChoiceTable",
    "ClimateTable",
    "ClosenessTable",
    "DroppedTable",
    "EmulsifierTable",
    "EnvelopeFile",
    "EnvelopeRows",
    "EnvelopeTable",
    "ExcludeTable",
    "GuardTable",
    "OnlyTable",
    "ScenarioFile",
    "Shape",
    "SideTable",
    "StockTable",
    "WindowTable",
]


class Shape(BaseModel):
    """A table whose keys are all known and whose numbers are numbers."""

    model_config = ConfigDict(
        extra="forbid", strict=True, allow_inf_nan=False, defer_build=True
    )


class SideTable(Shape):
    """A lower or an upper side, or both, percent of a part."""

    min: float | None = None
    max: float | None = None
    of: str | None = None
    why: str | None = None


class BatchTable(Shape):
    """``[batch]``: how much is made, such as "2 kg"."""

    size: str | None = None


class AimTable(Shape):
    """``[aim]``: aims in order, and the slack of each in its own unit."""

    order: list[str] | None = None
    slack: dict[str, float] = {}


class ExcludeTable(Shape):
    """``[exclude]``: what must stay out."""

    allergens: list[str] = []
    reading: str | None = None
    ingredients: list[str] = []
    categories: list[str] = []
    vegan: bool = False
    palm_free: bool = False


class OnlyTable(Shape):
    """``[only]``: what may be chosen beside the base."""

    ingredients: list[str] = []


# "as the base", or "as the base at 25 degC"; the temperature is its first group.
AS_THE_BASE = re.compile(r"as\s+the\s+base(?:\s+at\s+(\S.*))?", re.IGNORECASE)


def _limit(value: object) -> float | str:
    """Return a number, or a text that tells one from the base."""
    if isinstance(value, str) and AS_THE_BASE.fullmatch(value.strip()):
        return value.strip()
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        if abs(value) < math.inf:
            return float(value)
        raise PydanticCustomError("finite_number", "not finite")
    raise PydanticCustomError("float_type", "no number")


Limit = Annotated[float | str, PlainValidator(_limit)]


class WindowTable(Shape):
    """One of ``[[windows]]``, its sides in the unit of the property or as the base.

    ``without`` names ingredients of the part that it leaves aside.
    """

    property: str
    at: str | None = None
    over: str | None = None
    without: list[str] = []
    min: Limit | None = None
    max: Limit | None = None
    why: str | None = None
    name: str | None = None


class ChoiceTable(Shape):
    """One of ``[choices]``: how many ingredients may be used."""

    at_least: int | None = None
    at_most: int | None = None
    why: str | None = None


class ClosenessTable(Shape):
    """``[closeness]``: at most so many points from the base."""

    by_ingredient: SideTable | None = None
    by_kind: SideTable | None = None
    by_category: SideTable | None = None


class StockTable(Shape):
    """``[stock]``: whether only the shelf is used, and the day it is looked at."""

    only: bool = False
    today: date | None = None


class EnvelopeTable(Shape):
    """``[envelope]``: the file of an assessor's envelope."""

    file: str


class ClimateTable(Shape):
    """``[climate]``: a zone of climate.csv."""

    zone: str


class GuardTable(Shape):
    """``[guard]``: limits that hold unless they are set to false."""

    lauric: SideTable | None = None
    wax: SideTable | None = None
    second_opinion: bool = True
    margin: bool | None = None


class EmulsifierTable(Shape):
    """``[emulsifiers]``: totals to try, percent of the lipids, and how near in HLB."""

    total: list[float] = []
    within: float = 0.3


class DroppedTable(Shape):
    """``[dropped]``: rules that are not to count, by their ids."""

    rules: list[str] = []


def _day(value: object) -> object:
    """Return a date that was written in quotes as one; anything else as it is."""
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", value.strip()):
        with contextlib.suppress(ValueError):
            return date.fromisoformat(value.strip())
    return value


class ScenarioFile(Shape):
    """A scenario file; what is required may be inherited.

    A kind of rule that is read by a module of its own adds its key (`reading.kinds`).
    """

    title: str | None = None
    extends: str | None = None
    workshop: str | None = None
    use: str | None = None
    market: list[str] = []
    product: str | None = None
    on: Annotated[date | None, BeforeValidator(_day)] = None
    unchecked: list[str] = []
    cautious: bool = False
    batch: BatchTable | None = None
    aim: AimTable | None = None
    base: dict[str, float] = {}
    exclude: ExcludeTable | None = None
    only: OnlyTable | None = None
    parts: dict[str, list[str]] = {}
    bands: dict[str, SideTable] = {}
    limits: dict[str, SideTable] = {}
    constituents: dict[str, SideTable] = {}
    pins: dict[str, float] = {}
    windows: list[WindowTable] = []
    choices: dict[str, ChoiceTable] = {}
    least_if_used: dict[str, float] = {}
    closeness: ClosenessTable | None = None
    amounts: dict[str, float] = {}
    stock: StockTable | None = None
    envelope: EnvelopeTable | None = None
    climate: ClimateTable | None = None
    guard: GuardTable | None = None
    emulsifiers: EmulsifierTable | None = None
    eased: dict[str, float] = {}
    dropped: DroppedTable | None = None


class EnvelopeRows(Shape):
    """One of an envelope's ``[[lists]]``; percent of the finished product."""

    name: str
    min: float | None = None
    max: float | None = None
    caps: dict[str, float]


class EnvelopeFile(Shape):
    """A whole envelope file."""

    title: str
    lists: list[EnvelopeRows]
