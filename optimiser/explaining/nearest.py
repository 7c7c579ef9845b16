"""The formula without an ingredient: of those that do equally well, the nearest."""

from __future__ import annotations

import math

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.rule import Column, Goal, Link, Programme, Row
from optimiser.solving import Optimum, Session

__all__ = ["Nearest", "Without"]

# Room left to an aim for the next ones, of itself: more where choices are searched for.
HELD, SEARCHED = 1e-10, 1e-8


class Without(Struct, frozen=True, eq=False):
    """A formula without an ingredient, and what it comes to in one of the aims."""

    value: float
    amounts: Floats


class Nearest:
    """An answer's question with a last aim more: to move as little as can be.

    Many formulas may do equally well; two oils of one price can be swapped in each. Of
    these the one nearest to the answer moves only what has to move.

    Parameters
    ----------
    kept : bool
        Whether the choices are kept as they are in the answer.
    """

    def __init__(self, optimum: Optimum, *, kept: bool) -> None:
        self._optimum = optimum
        programme = _with_moves(optimum.session.programme, optimum.amounts)
        self._session = Session(programme)
        if programme.whole and kept:
            more = len(programme.columns) - optimum.amounts.size
            choices = np.append(optimum.amounts, np.zeros(more))
            for stage in range(len(programme.goals)):
                self._session.keep_choices(stage, choices)
        self._room = SEARCHED if programme.whole and not kept else HELD

    def without(self, column: int, stage: int) -> Without | None:
        """Return the formula without an ingredient; None if it is needed.

        The aims before number ``stage`` are held as in the answer, the others solved
        for in order.
        """
        session = self._session
        session.bound(column, 0.0, 0.0)
        try:
            return self._in_order(stage)
        finally:
            session.unbound(column)

    def _in_order(self, stage: int) -> Without | None:
        session = self._session
        tops = list(self._optimum.tops[:stage])
        found: Without | None = None
        for number, goal in enumerate(session.programme.goals[stage:], start=stage):
            session.aim_at(number, tops)
            if not session.run():
                break  # held too tightly for rounding: what came before it stands
            best, amounts = session.objective(), session.corner().amounts
            found = Without(best if found is None else found.value, amounts)
            tops.append(best + goal.slack + self._room * max(1.0, abs(best)))
        return found


def _with_moves(programme: Programme, amounts: Floats) -> Programme:
    """Return a programme with the least sum of absolute moves as its last aim."""
    columns, links = list(programme.columns), list(programme.links)
    moved = []
    for column, key in enumerate(programme.ingredients):
        at, here = len(columns), float(amounts[column])
        columns.append(Column("from the answer", key))
        moved.append((at, 1.0))
        up, down = (
            Row.of([(column, 1.0), (at, -1.0)]),
            Row.of([(column, 1.0), (at, 1.0)]),
        )
        links += [Link(up, -math.inf, here), Link(down, here, math.inf)]
    last = Goal("nearest", "points", Row.of(moved))
    return replace(
        programme,
        columns=tuple(columns),
        links=tuple(links),
        goals=(*programme.goals, last),
    )
