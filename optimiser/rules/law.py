"""Limits on substances: law by market and use, shared shares, the maker's own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from optimiser.domain.law import SharedLimit, SubstanceLimit, holds, strictest
from optimiser.domain.rule import Row, Rule
from optimiser.domain.wording import Measured
from optimiser.rules.shares import at_side, sides
from optimiser.rules.space import Space
from optimiser.science.properties import weakest

__all__ = ["rules"]


# What is said of a limit whose own text was not read.
_UNREAD = {"secondary": "; read in what restates it", "memory": "; from memory"}


def rules(space: Space) -> Iterator[Rule]:
    """Yield the limits that some ingredient could touch."""
    scenario, catalogue = space.scenario, space.catalogue
    for limit in strictest(
        each for each in catalogue.substance_limits if holds(each, scenario)
    ):
        yield from _law(space, limit)
    for shared in catalogue.shared_limits:
        if shared.market in (*scenario.markets, "any") and shared.use in (
            "any",
            scenario.use,
        ):
            yield from _shares(space, shared)
    yield from _own(space)


def content(space: Space, factors: Mapping[str, float]) -> tuple[Row, str | None]:
    """Return the sum of substances in the product, and its weakest evidence.

    Parameters
    ----------
    factors : mapping of constituent to weight
        What one part of each substance counts as.

    Returns
    -------
    row : Row
        Percent of the product per percent of each ingredient; the high end of
        each content is taken, for a limit is kept at the worse end.
    """
    sums: dict[int, float] = {}
    evidence = []
    for substance, factor in factors.items():
        for key, figure in space.catalogue.contents.get(substance, {}).items():
            column = space.index.get(key)
            if column is not None and figure.high > 0.0:
                sums[column] = sums.get(column, 0.0) + factor * figure.high / 100.0
                evidence.append(figure.evidence)
    return Row.of(sums.items()), weakest(evidence)


def _law(space: Space, limit: SubstanceLimit) -> Iterator[Rule]:
    row, evidence = content(space, limit.factors)
    if row.columns.size == 0:
        return
    counted: tuple[str, ...] = ()
    if limit.counted_as not in {None, "substance"}:
        counted = (f"counted as {limit.counted_as}",)
    entry = f"{limit.market}: {limit.instrument}"
    if limit.entry:
        entry += f", entry {limit.entry}"
    name = f"law/{limit.market}/{limit.name}/max"
    if not limit.is_law:
        name = f"habit/{limit.name}/max"
        entry = f"a habit of the trade, not law: {limit.instrument}"
    entry += _UNREAD.get(limit.scope.read, "")
    yield Rule(
        id=name,
        wording=Measured(limit.name, none=f"{limit.name} not allowed"),
        kind="law" if limit.is_law else "habit",
        side="max",
        limit=limit.high,
        unit="%",
        amounts=row,
        per_constant=1.0,
        owner="law" if limit.is_law else "safety",
        origin=limit.origin,
        source=limit.source,
        evidence=evidence,
        about=limit,
        provisos=counted,
        whose=entry,
    )


def _shares(space: Space, shared: SharedLimit) -> Iterator[Rule]:
    """Yield "the used shares of several caps add to at most one"."""
    factors = {name: 1.0 / cap for name, cap in shared.caps.items() if cap > 0.0}
    row, evidence = content(space, factors)
    if row.columns.size == 0:
        return
    habit = shared.market == "any"
    yield Rule(
        id=f"share/{shared.group}",
        wording=Measured(
            f"{shared.group}: the used shares of their limits together", unit=""
        ),
        kind="share",
        side="max",
        limit=1.0,
        unit="share",
        amounts=row,
        per_constant=1.0,
        owner="safety",
        origin=shared.origin,
        source=shared.source,
        evidence=evidence,
        about=shared,
        whose=f"a habit of the trade, not law: {shared.instrument}" if habit else "",
    )


def _own(space: Space) -> Iterator[Rule]:
    for bound in space.scenario.constituents:
        row, evidence = content(space, {bound.what: 1.0})
        for side, limit in sides(bound.low, bound.high):
            yield Rule(
                id=f"constituent/{bound.what}/{side}",
                wording=Measured(f"{bound.what} in the product"),
                kind="constituent",
                side=side,
                limit=limit,
                unit="%",
                amounts=row if side == "max" else _low(space, bound.what),
                per_constant=1.0,
                owner="wish",
                origin=at_side(bound.origin, side),
                evidence=evidence,
                about=bound,
                why=bound.why,
            )


def _low(space: Space, substance: str) -> Row:
    """Return a content at its low end: what is sure to be there."""
    figures = space.catalogue.contents.get(substance, {})
    return Row.of(
        (space.index[key], figure.low / 100.0)
        for key, figure in figures.items()
        if key in space.index
    )
