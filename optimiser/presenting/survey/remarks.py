"""Words for the remarks of a survey: what holds figures is rounded here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimiser.presenting.words import decimals, plural, short
from optimiser.studies.survey.remarks import (
    InMixture,
    LeftOver,
    NoPreservative,
    OffTheMiddle,
    Rescaled,
    Strength,
)

if TYPE_CHECKING:
    from optimiser.studies.survey.remarks import Remark
    from optimiser.studies.survey.values import RecipeSum

__all__ = ["remark_told", "remarks_told", "sum_told"]


def remark_told(remark: Remark) -> str:  # noqa: PLR0911 - one a kind
    """Return a remark in words.

    >>> remark_told(Rescaled(104.0, "%"))
    'adds up to 104 %, not to 100; rescaled'
    >>> remark_told(Rescaled(104.0, "%", ranged=True))
    'the middles of its ranges add up to 104 %, not to 100; rescaled'
    >>> remark_told(LeftOver(12.345, "g"))
    'what is left to 100: 12.35 g'
    >>> remark_told(Strength(30.0, divided=False))
    'read as supplied, about 30 % active matter'
    >>> remark_told(NoPreservative())
    'it holds water and no preservative, for these recipes name none'
    """
    match remark:
        case Rescaled(total, unit, ranged):
            add = "the middles of its ranges add" if ranged else "adds"
            return f"{add} up to {short(total, 5)} {unit}, not to 100; rescaled"
        case LeftOver(left, unit):
            return f"what is left to 100: {short(left)} {unit}"
        case InMixture(how, grams):
            return f"{how} in {decimals(grams, 0)} g of the mixture"
        case Strength():
            return _strength(remark)
        case OffTheMiddle(category, mine, low, high):
            return (
                f"{category} is {decimals(mine, 1)} % in the base, and"
                f" {decimals(low, 1)} to {decimals(high, 1)} % in the middle half of"
                " the recipes that hold it"
            )
        case NoPreservative(unread):
            why = f" among the names read; {plural(unread, 'name')} not read"
            none = f"for these recipes name none{why if unread else ''}"
            return f"it holds water and no preservative, {none}"
    return remark


def _strength(remark: Strength) -> str:
    strong = f"{short(remark.percent)} %"
    if remark.divided:
        return f"active matter, taken as {strong} strong"
    return f"read as supplied, about {strong} active matter"


def remarks_told(remarks: tuple[Remark, ...]) -> tuple[str, ...]:
    """Return remarks in words, in their order."""
    return tuple(map(remark_told, remarks))


def sum_told(total: RecipeSum) -> str:
    """Return what a recipe adds up to, as written."""
    if total.value is None:
        return "nothing"
    return f"{short(total.value, 5 if total.unit == '%' else 4)} {total.unit}"
