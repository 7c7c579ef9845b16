"""An assessor's envelope: caps by ingredient and by list, locked."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from optimiser.domain.material import Origin
from optimiser.domain.rule import Row, Rule
from optimiser.domain.wording import Fixed, Measured, Wording
from optimiser.rules.shares import sides
from optimiser.rules.space import Space

__all__ = ["rules"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield the lists' totals, every member's cap, and "nothing outside"."""
    envelope = space.scenario.envelope
    if envelope is None:
        return
    inside: set[str] = set()
    for each in envelope.lists:
        inside |= set(each.caps)
        members = [space.index[key] for key in each.caps if key in space.index]
        for side, limit in sides(each.low, each.high):
            rule = _locked(
                f"envelope/{each.name}/{side}",
                Measured(f"list '{each.name}' together"),
                (side, limit),
                space.sum_of(members),
                each.origin,
            )
            yield replace(rule, about=each)
        for key, cap in each.caps.items():
            if key in space.index and cap < 100.0:
                name = space.catalogue.ingredients[key].name
                rule = _locked(
                    f"envelope/{each.name}/{name}",
                    Measured(name, after=f"(list '{each.name}')"),
                    ("max", cap),
                    space.sum_of([space.index[key]]),
                    each.origin,
                )
                yield replace(rule, about=each)
    outside = [i for i, key in enumerate(space.ingredients) if key not in inside]
    yield _locked(
        "envelope/outside",
        Fixed(f"nothing outside the envelope '{envelope.title}'"),
        ("max", 0.0),
        space.sum_of(outside),
        envelope.origin,
    )


def _locked(
    name: str, wording: Wording, limit: tuple[str, float], row: Row, origin: Origin
) -> Rule:
    """Return a rule of the assessor's: a side with its limit, in percent."""
    return Rule(
        id=name,
        wording=wording,
        kind="envelope",
        side=limit[0],
        limit=limit[1],
        unit="%",
        amounts=row,
        per_constant=1.0,
        owner="assessor",
        origin=origin,
    )
