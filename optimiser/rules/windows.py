"""Windows: a property over a part of the formula, multiplied out to be linear."""

from __future__ import annotations

import math
from collections.abc import Iterator

from msgspec.structs import replace

from optimiser.domain.properties import Property, property_named
from optimiser.domain.rule import Row, Rule
from optimiser.domain.scenario import Window
from optimiser.rules.shares import with_reason
from optimiser.rules.space import Space, number
from optimiser.science.mixing import is_solid, terms
from optimiser.science.properties import figure, weakest

__all__ = ["rules", "rules_of"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield the lower and the upper rule of each window."""
    for window in space.scenario.windows:
        yield from rules_of(space, window)


def rules_of(space: Space, window: Window) -> Iterator[Rule]:
    """Yield the lower and the upper rule of one window."""
    kind = property_named(window.property, space.catalogue)
    if kind is None:  # the reader has refused it already
        return
    for side, limit in (("min", window.low), ("max", window.high)):
        if limit is not None:
            yield _rule(space, window, kind, side, limit)


def _name(window: Window) -> str:
    at = "" if window.at is None else f" at {number(window.at)} °C"
    if window.at_text in {"storage", "transit", "skin"}:
        at += f" ({window.at_text})"
    return f"{window.property}{at} over the {window.over}"


def _rule(
    space: Space, window: Window, kind: Property, side: str, limit: float
) -> Rule:
    above, below, sources, evidence = _sums(space, window, kind, side)
    per, constant = Row.of(below), 0.0
    if kind.mixing in {"mass", "log"} and window.over == "product":
        per, constant = Row.of(()), 100.0  # everything adds to 100 by the total
    word = "at least" if side == "min" else "at most"
    unit = f" {kind.unit}" if kind.unit else ""
    careful = ", at the worse end of its figures" if space.scenario.cautious else ""
    sentence = f"{_name(window)} {word} {number(limit)}{unit}{careful}"
    at = "" if window.at is None else f"/{number(window.at)} degC"
    return Rule(
        id=f"window/{window.property}{at}/{window.over}/{side}",
        sentence=with_reason(sentence, window.why),
        kind="window",
        side=side,
        limit=limit,
        unit=kind.unit,
        amounts=Row.of(above),
        per=per,
        per_constant=constant,
        logarithmic=kind.mixing == "log",
        owner="wish",
        origin=replace(window.origin, field=f"{window.origin.field}.{side}"),
        source="; ".join(sources) or None,
        evidence=weakest(evidence),
    )


def _sums(
    space: Space, window: Window, kind: Property, side: str
) -> tuple[list[tuple[int, float]], list[tuple[int, float]], list[str], list[str]]:
    """Return the terms above and below the line, with sources and evidence.

    With ``cautious`` a lower side counts each ingredient at its low figure and an
    upper side at its high one, so the window holds at the worse end. The solids'
    share of a volume falls as the solids are denser, so there it is their other end.
    """
    above, below = [], []
    sources: dict[str, None] = {}
    evidence = []
    for column in space.members(window.over):
        key = space.ingredients[column]
        found = figure(space.catalogue, window.property, key, window.at)
        if found is None:  # the pool keeps such an ingredient out
            continue
        solid = is_solid(space.catalogue, key)
        value = found.value
        if space.scenario.cautious:
            turned = solid and kind.mixing == "volume share"
            value = found.low if (side == "min") != turned else found.high
        a, b = terms(kind, value, solid)
        above.append((column, a))
        below.append((column, b))
        if a != 0.0 and math.isfinite(a) and found.evidence != "defined":
            sources.update(dict.fromkeys(found.sources))
            evidence.append(found.evidence)
    return above, below, list(sources), evidence
