"""Numbers and units as people write them in recipes."""

from __future__ import annotations

import re
import unicodedata

__all__ = ["NUMBER", "UNIT", "plain_fractions", "to_value", "unit_of"]

# 1-1/2 is one and a half, 1-2 is a range: so only a proper fraction joins a whole.
# No whole number begins with 0: so 0,500 is a half, and 3 000 is three thousand.
_BY_COMMA = r"[1-9]\d{0,2}(?:,\d{3})+(?!\d)(?:\.\d+)?"
_BY_SPACE = r"[1-9]\d{0,2}(?: \d{3})+(?![\d/])(?:\.\d+|,\d{1,2}(?!\d))?"
NUMBER = (
    r"\d+(?:\s+|-|\s*\+\s*)\d+/\d+(?![.,]?\d)|\d+\s*/\s*\d+(?![.,]?\d)"
    rf"|{_BY_COMMA}|{_BY_SPACE}|\d+[.,]\d+|\.\d+|\d+\.?"
)
_MIXED = re.compile(r"(\d+)(?:\s+|-|\s*\+\s*)(\d+)/(\d+)")
_FRACTION = re.compile(r"(\d+)\s*/\s*(\d+)")
_GROUPED = re.compile(_BY_COMMA)
_SPACED = re.compile(_BY_SPACE)
_SLASHES = str.maketrans({"\u2044": "/", "\u2215": "/", "\u29f8": "/"})
_DASHES = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-"))


def plain_fractions(text: str) -> str:
    """Return a text with every kind of fraction and dash in plain characters.

    A raised or ringed digit stays as it is: it is a footnote or a power, no amount.

    >>> plain_fractions("2\u00bd cups"), plain_fractions("1\u20444")
    ('2 1/2 cups', '1/4')
    """
    text = text.translate(_SLASHES).translate(_DASHES)
    if text.isascii():
        return text
    out = []
    for each in text:
        spelt = unicodedata.normalize("NFKC", each).translate(_SLASHES)
        if unicodedata.category(each) == "No":
            spelt = f" {spelt} " if "/" in spelt else each
        out.append(spelt)
    return "".join(out).strip()


def to_value(text: str) -> tuple[float, str | None]:
    """Return the value of a text that matches ``NUMBER``, and what was assumed.

    Raises
    ------
    ValueError
        If it divides by zero.

    >>> to_value("1-1/2"), to_value("009.00"), to_value("2,5")[0]
    ((1.5, None), (9.0, None), 2.5)
    """
    if found := _MIXED.fullmatch(text):
        whole, above, below = map(float, found.groups())
        return whole + _ratio(above, below), None
    if found := _FRACTION.fullmatch(text):
        return _ratio(float(found[1]), float(found[2])), None
    if _GROUPED.fullmatch(text):
        value = float(text.replace(",", ""))
        return value, f"'{text}' read as {value:g}: a comma between thousands"
    if _SPACED.fullmatch(text):
        value = float(text.replace(" ", "").replace(",", "."))
        return value, f"'{text}' read as {value:g}: a space between thousands"
    if "," in text:
        value = float(text.replace(",", "."))
        return value, f"'{text}' read as {value:g}: a decimal comma"
    return float(text), None


def _ratio(above: float, below: float) -> float:
    if below == 0:
        raise ValueError("divides by zero")
    return above / below


# Sizes: the international pound and the US customary measures (exact by definition:
# a gallon is 231 cubic inches); a pinch is a sixteenth of a teaspoon (common practice).
_TEASPOON = 231 * 16.387064 / 768
_UNITS: dict[str, tuple[str, float, bool]] = {}


def _add(words: str, unit: str, size: float, *, household: bool = False) -> None:
    for word in words.split("|"):
        _UNITS[word] = (unit, size, household)


_add("g|gr|gm|gms|gram|grams|gramme|grammes", "g", 1.0)
_add("kg|kgs|kilo|kilos|kilogram|kilograms", "g", 1000.0)
_add("mg|milligram|milligrams", "g", 0.001)
_add("oz|ozs|ounce|ounces", "g", 453.59237 / 16)
_add("lb|lbs|pound|pounds", "g", 453.59237)
_add("ml|mls|millilitre|millilitres|milliliter|milliliters|cc", "ml", 1.0)
_add("cl|centilitre|centilitres", "ml", 10.0)
_add("dl|decilitre|decilitres", "ml", 100.0)
_add("l|litre|litres|liter|liters", "ml", 1000.0)
_add("fl oz|fluid ounce|fluid ounces", "ml", 6 * _TEASPOON, household=True)
_add("t|tsp|tsps|teaspoon|teaspoons", "ml", _TEASPOON, household=True)
_add(
    "tb|tbs|tbsp|tbsps|tblsp|tablespoon|tablespoons|T",
    "ml",
    3 * _TEASPOON,
    household=True,
)
_add("c|cup|cups", "ml", 48 * _TEASPOON, household=True)
_add("pint|pints|pt", "ml", 96 * _TEASPOON, household=True)
_add("quart|quarts|qt", "ml", 192 * _TEASPOON, household=True)
_add("pinch|pinches", "ml", _TEASPOON / 16, household=True)
_add("dash|dashes", "ml", _TEASPOON / 8, household=True)
_add("%|percent|per cent|pct", "%", 1.0)
_add("part|parts", "part", 1.0)
_add("drop|drops|gtt", "drop", 1.0)

UNIT = r"(?:fl\.?\s*oz|fluid\s+ounces?|per\s+cent|%|[A-Za-z]+)\.?"


def unit_of(text: str) -> tuple[str, float, bool] | None:
    """Return canonical unit, size and whether it is a household measure; or None.

    A lone T is a tablespoon and a lone t a teaspoon, as cooks write them.

    >>> unit_of("grams"), unit_of("T")[1] > unit_of("t")[1], unit_of("capsule")
    (('g', 1.0, False), True, None)
    """
    word = text.strip().rstrip(".")
    if word == "T":
        return _UNITS["T"]
    word = re.sub(r"[\s.]+", " ", word).casefold().strip()
    if word == "floz":
        word = "fl oz"
    return _UNITS.get(word)
