"""An assessor's envelope: caps by ingredient and by list, locked."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.domain.material import Origin
from optimiser.domain.rule import Row, Rule
from optimiser.rules.space import Space, number

__all__ = ["rules"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield the lists' totals, every member's cap, and "nothing outside"."""
    envelope = space.scenario.envelope
    if envelope is None:
        return
    inside: set[str] = set()
    for each in envelope.lists:
        inside |= set(each.caps)
        row = space.sum_of(space.index[k] for k in each.caps if k in space.index)
        for side, limit in (("min", each.low), ("max", each.high)):
            if limit is not None:
                word = "at least" if side == "min" else "at most"
                yield _locked(
                    f"envelope/{each.name}/{side}",
                    f"list '{each.name}' together {word} {number(limit)} %",
                    side,
                    limit,
                    row,
                    each.origin,
                )
        for key, cap in each.caps.items():
            if key in space.index and cap < 100.0:
                name = space.catalogue.ingredients[key].name
                yield _locked(
                    f"envelope/{each.name}/{name}",
                    f"{name} at most {number(cap)} % (list '{each.name}')",
                    "max",
                    cap,
                    space.sum_of([space.index[key]]),
                    each.origin,
                )
    outside = [i for i, key in enumerate(space.ingredients) if key not in inside]
    yield _locked(
        "envelope/outside",
        f"nothing outside the envelope '{envelope.title}'",
        "max",
        0.0,
        space.sum_of(outside),
        envelope.origin,
    )


def _locked(
    name: str, sentence: str, side: str, limit: float, row: Row, origin: Origin
) -> Rule:
    return Rule(
        id=name,
        sentence=sentence,
        kind="envelope",
        side=side,
        limit=limit,
        unit="%",
        amounts=row,
        per_constant=1.0,
        owner="assessor",
        origin=origin,
    )
