"""Choices: how many ingredients of a category may be used."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from optimiser.domain.rule import Link, Row, Rule
from optimiser.domain.scenario import Choice
from optimiser.rules.shares import with_reason
from optimiser.rules.space import LEAST_CHOSEN, Space, number

__all__ = ["rules"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield the counts, each over 0-or-1 columns."""
    for choice in space.scenario.choices:
        if choice.what == "all":
            columns = tuple(range(len(space.ingredients)))
        else:
            columns = space.members(choice.what)
        flags = [space.used(column) for column in columns]
        for side, limit in (("min", choice.at_least), ("max", choice.at_most)):
            if limit is None:
                continue
            if side == "min":
                _ask_for_a_least_dose(space, columns)
            yield _count(space, choice, side, limit, flags)


def _count(
    space: Space, choice: Choice, side: str, limit: int, flags: list[int]
) -> Rule:
    word = "at least" if side == "min" else "at most"
    noun = "ingredient" if limit == 1 else "ingredients"
    what = f"{noun} in all" if choice.what == "all" else f"{noun} of {choice.what}"
    return Rule(
        id=f"choice/{choice.what}/{side}",
        sentence=with_reason(f"{word} {number(limit)} {what}", choice.why),
        kind="choice",
        side=side,
        limit=float(limit),
        unit="ingredients",
        amounts=space.sum_of(flags),
        per_constant=1.0,
        owner="wish",
        origin=replace(choice.origin, field=f"{choice.origin.field}.{side}"),
    )


def _ask_for_a_least_dose(space: Space, columns: tuple[int, ...]) -> None:
    """Make "used" mean something: a trace does not count as an ingredient."""
    least = space.scenario.least_if_used
    usual, _ = least.get("default", (0.0, None))
    for column in columns:
        dose, _ = least.get(space.ingredients[column], (usual, None))
        if dose > 0.0:
            continue
        row = Row.of([(column, 1.0), (space.used(column), -LEAST_CHOSEN)])
        space.links.append(Link(row, 0.0, float("inf")))
