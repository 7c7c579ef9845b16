"""Numbers, dates and quantities as people write them, and advice on what is none."""

from __future__ import annotations

import math
import re
from calendar import monthrange
from datetime import date
from functools import lru_cache

from optimiser.units import convert, spelled, split_quantity

__all__ = [
    "COLDEST",
    "HOTTEST",
    "QuantityError",
    "date_advice",
    "in_unit",
    "last_day",
    "number_advice",
    "quoted_advice",
    "read_quantity",
    "to_amount",
    "to_date",
    "to_number",
]

_COMMA = r"([+-]?\d+),(\d+)"
_GROUPED = r"([+-]?\d{1,3}(?:[.' ]\d{3})+),(\d+)"
_WITH_UNIT = r"([+-]?\d+(?:[.,]\d+)?)\s*([^\d\s.,_].*)"
_RANGE = r"\d+(?:\.\d+)?\s*(?:-|\N{EN DASH}|to)\s*\d+(?:\.\d+)?"
_BLANK_WORDS = {"-", "--", "?", "n/a", "na", "none", "null", "unknown", "nan", "\u2013"}
_DAY_FIRST = r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})"
_YEAR_FIRST = r"(\d{4})[./](\d{1,2})[./](\d{1,2})"
_YEAR_MONTH, _MONTH_YEAR = r"(\d{4})[./-](\d{1,2})", r"(\d{1,2})[./-](\d{4})"


def to_number(text: str) -> float | None:
    """Return the finite number a text is, or None.

    >>> to_number("2.65"), to_number("2,65"), to_number("inf")
    (2.65, None, None)
    """
    try:
        number = float(text)
    except ValueError:
        return None
    if not math.isfinite(number) or "_" in text or not text.isascii():
        return None
    return number


def to_amount(text: str) -> float | None:
    """Return the finite number of a text that may be a fraction, or None.

    Fractions are those that recipes take.

    >>> to_amount("1/2"), to_amount("2 1/2"), to_amount("2.65"), to_amount("1/0")
    (0.5, 2.5, 2.65, None)
    """
    number = to_number(text)
    if number is not None or not _may_be_a_fraction(text):
        return number
    from optimiser.reading.recipes.numbers import (  # noqa: PLC0415 - seldom needed
        NUMBER,
        plain_fractions,
        to_value,
    )

    plain = plain_fractions(text).strip()
    if "/" not in plain or not re.fullmatch(NUMBER, plain):
        return None
    try:
        return to_value(plain)[0]
    except ValueError:
        return None


def _may_be_a_fraction(text: str) -> bool:
    return "/" in text or not text.isascii()


def _split_fraction(text: str) -> tuple[float, str] | None:
    """Return number and unit of a text such as "2 1/2 oz"; None if it is none such."""
    if not _may_be_a_fraction(text):
        return None
    from optimiser.reading.recipes.numbers import (  # noqa: PLC0415 - seldom needed
        plain_fractions,
    )

    found = _FRACTION_THEN_UNIT.fullmatch(plain_fractions(text))
    number = None if found is None else to_amount(found[1])
    return None if found is None or number is None else (number, found[2].strip())


def number_advice(text: str) -> tuple[str, str]:
    """Return what is wrong with a text that should be a number, and the fix.

    >>> number_advice("2,65")
    ('is not a number', 'write the decimal with a point, as in 2.65')
    """
    wrong, fix = "is not a number", "write a plain number, as in 2.65"
    if found := re.fullmatch(_COMMA, text):
        fix = f"write the decimal with a point, as in {found[1]}.{found[2]}"
        if len(found[2]) == 3:
            fix += f", or thousands without a comma, as in {found[1]}{found[2]}"
    elif found := re.fullmatch(_GROUPED, text):
        whole = re.sub(r"[.' ]", "", found[1])
        fix = f"write it with one point and no spaces, as in {whole}.{found[2]}"
    elif text.casefold() in _BLANK_WORDS:
        fix = "leave it blank when the value is not known"
    elif to_float(text) is not None:
        wrong = "is not a number that can be used"
    elif re.fullmatch(_RANGE, text):
        fix = "write one number; the ends of a range have places of their own"
    elif found := re.fullmatch(_WITH_UNIT, text):
        fix = f"write the number alone, as in {found[1].replace(',', '.')}"
    return wrong, fix


def quoted_advice(text: str) -> tuple[str, str]:
    """Return what is wrong with a text in quotes that should be a number.

    >>> quoted_advice("40")
    ('is text, not a number', 'write 40 without quotes')
    """
    if to_number(text) is not None:
        return "is text, not a number", f"write {text} without quotes"
    return number_advice(text)


def to_float(text: str) -> float | None:
    """Return whatever Python reads as a number in a text, infinities too."""
    try:
        return float(text)
    except ValueError:
        return None


def to_date(text: str) -> date | None:
    """Return the date of a text YYYY-MM-DD, or None.

    One with the year last is read where only one of its numbers can be the month.

    >>> to_date("2026-11-25") == to_date("25/11/2026") == to_date("25.11.2026")
    True
    >>> to_date("05/06/2026") is None
    True
    """
    if found := re.fullmatch(_DAY_FIRST, text):
        first, second, year = (int(each) for each in found.groups())
        if second > 12:
            first, second = second, first
        elif first <= 12 and first != second:
            return None
        return _date_of(year, second, first)
    try:
        return date.fromisoformat(text) if len(text) == 10 else None
    except ValueError:
        return None


def last_day(text: str) -> date | None:
    """Return the date of a text, or None; of a month alone its last day.

    Until when something keeps is often told by its month, which is all of it.

    >>> last_day("2027-11") == last_day("11/2027") == last_day("2027-11-30")
    True
    """
    for pattern, year in ((_YEAR_MONTH, 1), (_MONTH_YEAR, 2)):
        if found := re.fullmatch(pattern, text):
            first = _date_of(int(found[year]), int(found[3 - year]), 1)
            if first is None:
                return None
            return first.replace(day=monthrange(first.year, first.month)[1])
    return to_date(text)


def _date_of(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def date_advice(text: str) -> str:
    """Return how to write a text that should be a date.

    >>> date_advice("05/06/2026")
    'write 2026-06-05 if the day stands first, 2026-05-06 if the month does'
    """
    if found := re.fullmatch(_DAY_FIRST, text):
        first, second, year = (int(each) for each in found.groups())
        by_day, by_month = (
            _date_of(year, second, first),
            _date_of(year, first, second),
        )
        if by_day and by_month:
            return (
                f"write {by_day.isoformat()} if the day stands first,"
                f" {by_month.isoformat()} if the month does"
            )
        return "write year-month-day, as in 2026-11-25"
    if found := re.fullmatch(_YEAR_FIRST, text):
        return _as_date(int(found[1]), int(found[2]), int(found[3]))
    return "write year-month-day, as in 2026-11-25"


def _as_date(year: int, month: int, day: int) -> str:
    """Return the advice to write a date, or the general one if it is none."""
    try:
        return f"write the date as {date(year, month, day).isoformat()}"
    except ValueError:
        return "write year-month-day, as in 2026-11-25"


# Temperatures that a window, a figure or a climate may name, [deg C].
COLDEST, HOTTEST = -50.0, 300.0
# Plain units only: the unit registry would work out any power of any number.
_UNIT = re.compile(
    r"%?|°?[^\W\d_]+\.?(?:[ _][^\W\d_]+)*(?:\^?\d)?(?:/[^\W\d_]+(?:\^?\d)?)?"
)
_FRACTION_THEN_UNIT = re.compile(
    r"\s*((?:\d+(?:\s+|-|\s*\+\s*))?\d+\s*/\s*\d+)\s*([^\W\d].*)"
)
_JOINED = r"([+-]?\d+(?:\.\d+)?)([^\W\d]\S*)"
_COMMA_AND_UNIT = r"([+-]?\d+),(\d+)\s*([^\W\d].*)"


class QuantityError(ValueError):
    """A text is no quantity of the unit asked for; ``fix`` says how to write it."""

    def __init__(self, wrong: str, fix: str) -> None:
        self.fix = fix
        super().__init__(wrong)


@lru_cache(maxsize=1 << 8)
def _is_plain(unit: str) -> bool:
    """Whether a unit is written plainly, as in kg/m^3."""
    return len(unit) <= 40 and _UNIT.fullmatch(unit) is not None


def in_unit(number: float, unit: str, to: str) -> float:
    """Return a number of a plainly written unit in the unit ``to``.

    Raises
    ------
    ValueError
        If the unit is not known, or measures something else; a QuantityError if
        only its capitals are wrong.
    """
    if not _is_plain(unit):
        raise ValueError("has a unit that is not known")
    right = spelled(unit)
    if right is not None:
        raise QuantityError(
            f"has its unit in other letters than {right}", f"write {right}"
        )
    return convert(number, unit, to)


@lru_cache(maxsize=1 << 12)
def read_quantity(text: str, to: str, example: str) -> float:
    """Return the number of a quantity in the unit ``to``.

    Parameters
    ----------
    text : str
        A number, or a fraction, a space and a unit.
    to : str
        Unit of the result.
    example : str
        A quantity written well, for the fix.

    Raises
    ------
    QuantityError
        If the text is no such quantity.

    >>> read_quantity("250 g", "kg", "2 kg"), read_quantity("2 1/2 kg", "g", "2 kg")
    (0.25, 2500.0)
    """
    try:
        number, unit = _split_fraction(text) or split_quantity(text)
    except ValueError as error:
        raise QuantityError(str(error), _advice(text.strip(), to, example)) from error
    try:
        return in_unit(number, unit, to)
    except QuantityError:
        raise
    except ValueError as error:
        wrong = "is not a temperature" if to == "degC" else "is not an amount"
        raise QuantityError(
            f"{wrong} that can be told in {to}", f'write it like "{example}"'
        ) from error


def _is_known(unit: str, to: str) -> bool:
    try:
        in_unit(1.0, unit, to)
    except QuantityError:  # but for its capitals
        return True
    except ValueError:
        return False
    return True


def _advice(text: str, to: str, example: str) -> str:
    """Return how to write a text that is not a number, a space and a unit."""
    if to_number(text) is not None:
        return f'write the unit too, as in "{text} {example.rpartition(" ")[2]}"'
    found = re.fullmatch(_JOINED, text)
    if found and _is_known(found[2], to):
        return f'put a space between them: "{found[1]} {found[2]}"'
    if found := re.fullmatch(_COMMA_AND_UNIT, text):
        return f'write the decimal with a point: "{found[1]}.{found[2]} {found[3]}"'
    if re.fullmatch(r"[+-]?\d+,\d+", text):
        return f"{number_advice(text)[1]}, and the unit after a space"
    return f'write it like "{example}"'
