"""Choices: how many ingredients of a category may be used."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.domain.rule import Link, Row, Rule
from optimiser.domain.scenario import Choice
from optimiser.domain.wording import Counted
from optimiser.rules.limits import least_doses
from optimiser.rules.shares import at_side, sides
from optimiser.rules.space import LEAST_CHOSEN, Space

__all__ = ["rules"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield the counts, each over 0-or-1 columns."""
    for choice in space.scenario.choices:
        if choice.what == "all":
            columns = tuple(range(len(space.ingredients)))
        else:
            columns = space.members(choice.what)
        flags = [space.used(column) for column in columns]
        for side, limit in sides(choice.at_least, choice.at_most):
            if side == "min":
                _ask_for_a_least_dose(space, columns)
            yield _count(space, choice, side, limit, flags)


def _count(
    space: Space, choice: Choice, side: str, limit: float, flags: list[int]
) -> Rule:
    of = "in all" if choice.what == "all" else f"of {choice.what}"
    return Rule(
        id=f"choice/{choice.what}/{side}",
        wording=Counted("ingredient", "ingredients", of),
        kind="choice",
        side=side,
        limit=float(limit),
        unit="ingredients",
        amounts=space.sum_of(flags),
        per_constant=1.0,
        owner="wish",
        origin=at_side(choice.origin, side),
        about=choice,
        ends=(0.0, float(len(flags))),
        told_empty=False,
        counts=True,
        why=choice.why,
    )


def _ask_for_a_least_dose(space: Space, columns: tuple[int, ...]) -> None:
    """Make "used" mean something: a trace does not count as an ingredient.

    Beside a least dose as well, for a way out of a clash may ease that to nothing.
    """
    eased = space.scenario.eased
    for column, dose in zip(columns, least_doses(space, columns), strict=True):
        rule = f"least/{space.ingredient(column).name}"
        asked = eased[rule][0] if rule in eased else dose
        least = min(asked or LEAST_CHOSEN, LEAST_CHOSEN)
        row = Row.of([(column, 1.0), (space.used(column), -least)])
        space.links.append(Link(row, 0.0, float("inf")))
