"""Units: the one registry, and the split of a number from its unit.

Amounts of a batch are kept in kilograms, temperatures in degrees Celsius,
densities in kg/m^3 and shares in percent by weight. Everyday masses and volumes are
read without Pint, because loading it would take longer than solving (decision 3);
anything else goes through the registry, and a test holds the two to the same answers.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pint

__all__ = ["GAS", "KELVIN", "convert", "registry", "spelled", "split_quantity"]

KELVIN = 273.15  # 0 deg C in K
GAS = 8.314462618e-3  # gas constant in kJ/(mol K), CODATA 2018
_NUMBER_THEN_UNIT = re.compile(
    r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s+(\S.*)"
)
_FACTORS = {
    ("kg", "kg"): 1.0,
    ("g", "kg"): 1e-3,
    ("mg", "kg"): 1e-6,
    ("lb", "kg"): 0.45359237,
    ("oz", "kg"): 0.45359237 / 16,
    ("l", "m^3"): 1e-3,
    ("ml", "m^3"): 1e-6,
    ("g", "g"): 1.0,
    ("kg", "g"): 1e3,
    ("mm", "mm"): 1.0,
}
_EITHER_WAY = {"L", "mL"}  # a litre is written with either letter
_CELSIUS = {"degC", "°C", "C"}


@cache
def registry() -> pint.UnitRegistry[Any]:
    """Return the one unit registry, loaded when first needed."""
    import pint  # noqa: PLC0415 - slow to import, seldom needed

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@cache
def spelled(unit: str) -> str | None:
    """Return how a unit of every day is written if its capitals are wrong, or None.

    >>> spelled("KG"), spelled("kg"), spelled("mL")
    ('kg', None, None)
    """
    known = {each for each, _ in _FACTORS}
    small = unit.lower()
    wrong = small in known and unit not in known and unit not in _EITHER_WAY
    return small if wrong else None


def split_quantity(text: str) -> tuple[float, str]:
    """Return number and unit of a text such as ``"2 kg"``.

    Raises
    ------
    ValueError
        If the text is not a number, a space and a unit.

    >>> split_quantity("2 kg")
    (2.0, 'kg')
    """
    found = _NUMBER_THEN_UNIT.fullmatch(text.strip())
    if found is None:
        raise ValueError("is not a number, a space and a unit")
    number = float(found[1])
    if not math.isfinite(number):
        raise ValueError("is not a finite number")
    return number, found[2].strip()


def convert(number: float, unit: str, to: str) -> float:
    """Return ``number`` of ``unit`` in the unit ``to``.

    Raises
    ------
    ValueError
        If the unit is not known, or measures something else than ``to``.

    Notes
    -----
    Source: SI prefixes and the international pound, exact; all other factors from
    Pint's registry.

    >>> convert(250, "g", to="kg")
    0.25
    """
    if to == "degC" and unit in _CELSIUS:
        return number
    factor = _FACTORS.get((unit, to))
    if factor is not None:
        return number * factor
    import pint  # noqa: PLC0415 - slow to import, seldom needed

    try:
        return float(registry().Quantity(number, unit).to(to).magnitude)
    except pint.DimensionalityError as error:
        raise ValueError(f"is in '{unit}', which cannot be told in {to}") from error
    except Exception as error:  # Pint raises whatever its parser met
        raise ValueError(f"has the unit '{unit}', which is not known") from error
