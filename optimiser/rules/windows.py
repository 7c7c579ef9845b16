"""Windows: a property over a part of the formula, multiplied out to be linear."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimiser.domain.properties import Property, property_named
from optimiser.domain.rule import Row, Rule
from optimiser.domain.scenario import Window
from optimiser.domain.wording import Measured
from optimiser.rules.figures import SUMMED, at_words, counted, sums
from optimiser.rules.shares import at_side, sides
from optimiser.rules.space import Space

__all__ = ["rules", "rules_of"]

NAMED = frozenset({"storage", "transit", "skin"})


def rules(space: Space) -> Iterator[Rule]:
    """Yield the lower and the upper rule of each window."""
    for window in space.scenario.windows:
        yield from rules_of(space, window)


def rules_of(space: Space, window: Window, named: str = "window") -> Iterator[Rule]:
    """Yield the lower and the upper rule of one window; ids begin with ``named``."""
    kind = property_named(window.property, space.catalogue)
    if kind is None:  # the reader has refused it already
        return
    for side, limit in sides(window.low, window.high):
        yield _rule(space, window, kind, named, side, limit)


def _what(window: Window) -> str:
    named = f" ({window.at_text})" if window.at_text in NAMED else ""
    return f"{at_words(window.property, window.at)}{named} over the {window.over}"


def _rule(
    space: Space, window: Window, kind: Property, named: str, side: str, limit: float
) -> Rule:
    """Return one side; over the whole product shares by weight add up to 100."""
    whole = kind.mixing in SUMMED and window.over == "product"
    known, lacking = counted(
        space, window.property, window.at, window.over, below=0.0 if whole else 1.0
    )
    total = sums(known, side, cautious=space.scenario.cautious)
    return Rule(
        id=window.rule_id(side, named),
        wording=Measured(_what(window), kind.unit),
        kind="window",
        side=side,
        limit=limit,
        unit=kind.unit,
        amounts=total.above,
        per=Row.of(()) if whole else total.below,
        per_constant=100.0 if whole else 0.0,
        logarithmic=kind.mixing == "log",
        owner="wish",
        origin=at_side(window.origin, side),
        source=total.sources,
        evidence=total.evidence,
        about=window,
        ends=(-math.inf, math.inf),  # it ends at the figures of what it is over
        terms=known,
        lacking=lacking,
        provisos=total.provisos,
        why=_why(window, side),
    )


def _why(window: Window, side: str) -> str | None:
    """Return why a side is where it is: the base's own figure, and the maker's why."""
    told = (window.low_as if side == "min" else window.high_as, window.why)
    return "; ".join(each for each in told if each) or None
