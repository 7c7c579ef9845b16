"""Texts that join a number and a unit, such as "2 kg" and "30 degC"."""

from __future__ import annotations

import re
from functools import lru_cache

from optimiser.reading.cells import number_advice, to_number
from optimiser.units import convert, spelled, split_quantity

__all__ = ["COLDEST", "HOTTEST", "QuantityError", "in_unit", "read_quantity"]

# Temperatures that a window, a figure or a climate may name, [deg C].
COLDEST, HOTTEST = -50.0, 300.0
# Plain units only: the unit registry would work out any power of any number.
_UNIT = re.compile(
    r"%?|°?[^\W\d_]+\.?(?:[ _][^\W\d_]+)*(?:\^?\d)?(?:/[^\W\d_]+(?:\^?\d)?)?"
)
_JOINED = r"([+-]?\d+(?:\.\d+)?)([^\W\d]\S*)"
_COMMA = r"([+-]?\d+),(\d+)\s*([^\W\d].*)"


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
        A number, a space and a unit.
    to : str
        Unit of the result.
    example : str
        A quantity written well, for the fix.

    Raises
    ------
    QuantityError
        If the text is no such quantity.

    >>> read_quantity("250 g", "kg", "2 kg")
    0.25
    """
    try:
        number, unit = split_quantity(text)
    except ValueError as error:
        raise QuantityError(str(error), _advice(text.strip(), to, example)) from error
    try:
        return in_unit(number, unit, to)
    except QuantityError:
        raise
    except ValueError as error:
        wrong = "is not an amount" if to == "kg" else "is not a temperature"
        raise QuantityError(
            f"{wrong} that can be told in {to}", f'write it like "{example}"'
        ) from error


def _advice(text: str, to: str, example: str) -> str:
    """Return how to write a text that is not a number, a space and a unit."""
    if to_number(text) is not None:
        return f'write the unit too, as in "{text} {to}"'
    if found := re.fullmatch(_JOINED, text):
        return f'put a space between them: "{found[1]} {found[2]}"'
    if found := re.fullmatch(_COMMA, text):
        return f'write the decimal with a point: "{found[1]}.{found[2]} {found[3]}"'
    if re.fullmatch(r"[+-]?\d+,\d+", text):
        return f"{number_advice(text)[1]}, and the unit after a space"
    return f'write it like "{example}"'
