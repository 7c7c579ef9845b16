"""Numbers and dates as people write them, and advice on those that are neither."""

from __future__ import annotations

import math
import re
from datetime import date

__all__ = ["date_advice", "number_advice", "quoted_advice", "to_date", "to_number"]

_COMMA = r"([+-]?\d+),(\d+)"
_GROUPED = r"([+-]?\d{1,3}(?:[.' ]\d{3})+),(\d+)"
_WITH_UNIT = r"([+-]?\d+(?:[.,]\d+)?)\s*([^\d\s.,_].*)"
_RANGE = r"\d+(?:\.\d+)?\s*(?:-|\N{EN DASH}|to)\s*\d+(?:\.\d+)?"
_BLANK_WORDS = {"-", "--", "?", "n/a", "na", "none", "null", "unknown", "nan", "\u2013"}
_DAY_FIRST = r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})"
_YEAR_FIRST = r"(\d{4})[./](\d{1,2})[./](\d{1,2})"


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

    >>> to_date("2026-11-25")
    datetime.date(2026, 11, 25)
    """
    try:
        return date.fromisoformat(text) if len(text) == 10 else None
    except ValueError:
        return None


def date_advice(text: str) -> str:
    """Return how to write a text that should be a date.

    >>> date_advice("25.11.2026")
    'write the date as 2026-11-25'
    """
    if found := re.fullmatch(_DAY_FIRST, text):
        day, month, year = int(found[1]), int(found[2]), int(found[3])
        if day <= 12 and month <= 12 and day != month:
            return "write year-month-day, as in 2026-11-25"
        if month > 12:
            day, month = month, day
        return _as_date(year, month, day)
    if found := re.fullmatch(_YEAR_FIRST, text):
        return _as_date(int(found[1]), int(found[2]), int(found[3]))
    return "write year-month-day, as in 2026-11-25"


def _as_date(year: int, month: int, day: int) -> str:
    """Return the advice to write a date, or the general one if it is none."""
    try:
        return f"write the date as {date(year, month, day).isoformat()}"
    except ValueError:
        return "write year-month-day, as in 2026-11-25"
