"""Shares of the product, or of a part of it: bands, and what other rules share."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from optimiser.domain.material import Origin
from optimiser.domain.rule import Rule, named
from optimiser.domain.scenario import Bound, Scenario
from optimiser.domain.wording import Measured
from optimiser.rules.space import Space

__all__ = ["as_eased", "at_side", "rules", "share_rules", "sides"]


def sides(low: float | None, high: float | None) -> Iterator[tuple[str, float]]:
    """Yield the sides that are written, each with its limit.

    >>> list(sides(None, 4.0))
    [('max', 4.0)]
    """
    if low is not None:
        yield "min", low
    if high is not None:
        yield "max", high


def as_eased(rules: Sequence[Rule], scenario: Scenario) -> list[Rule]:
    """Return rules with the limits that the scenario eases them to, if they count."""
    to: dict[str, float | None] = {}
    for wanted, (limit, _) in scenario.eased.items():
        found = named(wanted, rules)
        if len(found) == 1:
            to[found[0].id] = limit
    counting = (rule for rule in rules if to.get(rule.id, rule.limit) is not None)
    return [
        rule if (limit := to.get(rule.id)) is None else rule.moved(limit)
        for rule in counting
    ]


def at_side(origin: Origin, side: str) -> Origin:
    """Return where one side of something is written."""
    return replace(origin, field=f"{origin.field}.{side}")


def share_rules(
    space: Space,
    bound: Bound,
    columns: Sequence[int],
    *,
    kind: str,
    name: str,
    owner: str = "wish",
) -> Iterator[Rule]:
    """Yield the lower and the upper rule of a bound on some ingredients together.

    Parameters
    ----------
    columns : sequence of int
        Amount columns that the bound adds up.
    kind : str
        Kind of rule; also the first part of its id.
    name : str
        What the columns are together, in the maker's words.

    Notes
    -----
    "Percent of a part" is linear once multiplied out:
    ``100 * members - limit * part <= 0``.
    """
    whole = bound.of == "product"
    for side, limit in sides(bound.low, bound.high):
        yield Rule(
            id=f"{kind}/{name}/{side}",
            wording=Measured(name, after="" if whole else f"of the {bound.of}"),
            kind=kind,
            side=side,
            limit=limit,
            unit="%",
            amounts=space.sum_of(columns, 1.0 if whole else 100.0),
            per=space.sum_of(() if whole else space.members(bound.of)),
            per_constant=1.0 if whole else 0.0,
            owner=owner,
            origin=at_side(bound.written(side), side),
            about=bound,
            ends=(0.0, 100.0),
            told_empty=False,
            why=bound.why,
        )


def rules(space: Space) -> Iterator[Rule]:
    """Yield two rules a band, or one where a side is open."""
    for band in space.scenario.bands:
        columns = space.members(band.what)
        yield from share_rules(space, band, columns, kind="band", name=band.what)
