"""Units of recipes, and their size in g, ml, percent, parts or drops."""

from __future__ import annotations

import re

__all__ = ["UNIT", "unit_of"]

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
