"""Answers that are only looked at: solved for aim after aim, and not proved.

A search asks for many and shows one, which `optimise` proves in the end.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.rule import Programme, Rule
from optimiser.solving.arrays import Arrays
from optimiser.solving.optimise import HOLD, attempted, cleaned
from optimiser.solving.session import Session, SolverError

__all__ = ["Unproved", "WithMore", "unproved"]


class Unproved(Struct, frozen=True, eq=False):
    """Amounts, one a column, and what each aim comes to."""

    amounts: Floats
    best: tuple[float, ...]


class WithMore:
    """A programme that is asked again and again with other rules beside its own."""

    def __init__(self, programme: Programme) -> None:
        self._programme, self._arrays = programme, Arrays.of(programme)

    def beside(self, rules: Sequence[Rule]) -> tuple[Programme, Unproved | None]:
        """Return the programme with some rules more, and what it is answered with."""
        own = self._programme
        programme = replace(own, rules=(*own.rules, *rules))
        arrays = self._arrays.beside(len(own.rules), rules)
        return programme, unproved(programme, arrays)


def unproved(programme: Programme, arrays: Arrays | None = None) -> Unproved | None:
    """Return an answer as it is solved for; None where there is none."""
    if programme.whole:  # a search is worth more than its proof
        found = attempted(programme)
        return None if found is None else Unproved(found.amounts, found.best)
    session = Session(programme, arrays)
    best: list[float] = []
    tops: list[float] = []
    try:
        for stage, goal in enumerate(programme.goals):
            if stage:
                session.aim_at(stage, tops)
            if not session.run():
                return None
            least = session.objective()
            best.append(least)
            tops.append(least + goal.slack + HOLD * max(1.0, abs(least)))
    except SolverError:
        return None
    amounts = cleaned(session.corner().amounts, session.arrays)
    return Unproved(amounts, tuple(best))
