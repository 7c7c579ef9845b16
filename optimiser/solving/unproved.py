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
from optimiser.solving.loading import silent
from optimiser.solving.optimise import HOLD, attempted, cleaned
from optimiser.solving.session import Session, SolverError

__all__ = ["Unproved", "WithMore"]


class Unproved(Struct, frozen=True, eq=False):
    """Amounts, one a column, and what each aim comes to."""

    amounts: Floats
    best: tuple[float, ...]


class WithMore:
    """A programme that is asked again and again with other rules beside its own.

    Its solver is kept, for to make one takes as long as to solve a small question.
    """

    def __init__(self, programme: Programme) -> None:
        self._programme, self._arrays = programme, Arrays.of(programme)
        self._solver = silent()
        # To simplify a small question takes longer than to solve it as it stands.
        self._solver.setOptionValue("presolve", "off")

    def beside(self, rules: Sequence[Rule]) -> tuple[Programme, Unproved | None]:
        """Return the programme with some rules more, and what it is answered with."""
        own = self._programme
        programme = replace(own, rules=(*own.rules, *rules))
        if programme.whole:
            return programme, self.instead(programme)
        arrays = self._arrays.beside(len(own.rules), rules)
        return programme, _solved(Session(programme, arrays, solver=self._solver))

    def instead(self, programme: Programme) -> Unproved | None:
        """Return what another programme is answered with; None where nothing is."""
        if programme.whole:  # a search is worth more than its proof
            found = attempted(programme)
            return None if found is None else Unproved(found.amounts, found.best)
        return _solved(Session(programme, solver=self._solver))


def _solved(session: Session) -> Unproved | None:
    """Return what solving for each aim in turn comes to, those before it held."""
    best: list[float] = []
    tops: list[float] = []
    try:
        for stage, goal in enumerate(session.programme.goals):
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
