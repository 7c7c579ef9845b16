"""The aims in order: solve, keep, solve again, and prove the last corner."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.rule import Programme, Row
from optimiser.errors import ProofError
from optimiser.solving.arrays import Arrays, Floats, dense
from optimiser.solving.proof import GAP_TOLERANCE, duality_gap, worst_violation
from optimiser.solving.pulp_model import solve_with_cbc, to_pulp
from optimiser.solving.running import SolverError
from optimiser.solving.session import Corner, Session

__all__ = ["Infeasible", "Optimum", "attempted", "is_better", "less", "optimise"]

# Room left to an earlier aim so that rounding cannot make the next one impossible.
HOLD = 1e-10
# The same while choices are searched for, and more where the search then finds nothing.
SEARCHED = (1e-8, 1e-7, 1e-6)
# What an aim with the choices kept may be off the search's own value, of itself.
KEPT = 1e-5
# Percent that is no use of an ingredient but room that an earlier aim was left.
UNUSED = 1e-5
SETTLED = 1e-5  # of an aim: less gain than that ends a start


_Kept = tuple[Corner, list[float], list[float], float]


class Infeasible(Struct, frozen=True, eq=False):
    """No formula keeps every rule; the session is there to ask why."""

    session: Session


class Optimum(Struct, frozen=True, eq=False):
    """A proved answer.

    Attributes
    ----------
    amounts : float array, one a column of the programme
    best : tuple of float
        Each goal's least value, in order; each held at ``tops`` for the next.
    gap, worst_violation : float
        The proof: see :mod:`optimiser.solving.proof`.
    session : Session
        Left at the last goal with the choices kept, ready to re-solve.
    """

    amounts: Floats
    best: tuple[float, ...]
    tops: tuple[float, ...]
    gap: float
    worst_violation: float
    session: Session


def optimise(programme: Programme, solver: str = "highs") -> Optimum | Infeasible:
    """Return the proved best amounts, aim after aim, or that none exist.

    Parameters
    ----------
    programme : Programme
    solver : {"highs", "cbc"}
        With "cbc", CBC solves every aim too, from the same arrays, and must find
        the same values; the amounts are HiGHS's in both cases, for they carry more
        digits (decision 5).

    Raises
    ------
    ProofError
        If an optimum does not pass its own check, or the solvers disagree.
    SolverError
        If a solver stops without an answer.
    """
    arrays = Arrays.of(programme)
    session = Session(programme, arrays)
    if not session.solved():
        return Infeasible(session)
    kept: _Kept | None
    if programme.whole:
        kept = _keep_choices(session, arrays, *_searched(session))
    else:
        kept = _in_order(session, arrays)
    if kept is None:
        raise ProofError("an earlier aim could not be held for a later one")
    corner, best, tops, gap = kept
    if gap > (KEPT if programme.whole else GAP_TOLERANCE):
        raise ProofError(f"the answer could not be proved best: gap {gap:g}")
    amounts = _cleaned(corner.amounts, arrays)
    worst = worst_violation(programme, arrays, amounts)
    if solver == "cbc":
        _agree_with_cbc(programme, arrays, best)
    return Optimum(amounts, tuple(best), tuple(tops), gap, worst, session)


def _in_order(session: Session, arrays: Arrays, *, anew: bool = False) -> _Kept | None:
    """Return the last corner, each aim's least, its top and the gap; None if lost.

    The first aim has been solved for already, unless ``anew``.
    """
    best: list[float] = []
    tops: list[float] = []
    gap = 0.0
    for stage, goal in enumerate(session.programme.goals):
        if stage or anew:
            session.aim_at(stage, tops)
            if not session.run():
                return None
        corner = session.corner()
        gap = max(gap, _certified(session, arrays, stage, tops, corner))
        best.append(corner.objective)
        tops.append(corner.objective + goal.slack + HOLD * max(1.0, abs(best[-1])))
    return corner, best, tops, gap


def _searched(session: Session) -> tuple[Corner, list[float], float]:
    """Return what the search found, each aim's least, and how far it was proved."""
    best: list[float] = []
    gap = 0.0
    for stage in range(len(session.programme.goals)):
        if stage and not any(_found_with(session, best, room) for room in SEARCHED):
            raise ProofError("an earlier aim could not be held for a later one")
        value, bound = session.objective(), session.search_bound()
        gap = max(gap, abs(value - bound) / max(1.0, abs(value)))
        best.append(value)
    return session.corner(), best, gap


def _found_with(session: Session, best: list[float], room: float) -> bool:
    """Search for the next aim, those before held with some room; whether it was met."""
    tops = [
        least + goal.slack + room * max(1.0, abs(least))
        for least, goal in zip(best, session.programme.goals, strict=False)
    ]
    session.aim_at(len(best), tops)
    return session.run()


def _certified(
    session: Session, arrays: Arrays, stage: int, tops: list[float], corner: Corner
) -> float:
    """Return the duality gap of a corner for one goal, earlier goals held."""
    goals = session.programme.goals
    costs = dense(goals[stage], session.size)
    if session.arrays.whole.any():
        arrays = _with_choices(arrays, corner.amounts)
    prices = corner.row_prices[: session.rows]
    held = None
    if stage:
        rows = np.array([dense(goal, session.size) for goal in goals[:stage]])
        held_prices = corner.row_prices[session.rows : session.rows + stage]
        held = (rows, np.array(tops[:stage]), held_prices)
    return duality_gap(arrays, costs, corner.amounts, prices, held)


def _with_choices(arrays: Arrays, amounts: Floats) -> Arrays:
    lower = np.where(arrays.whole, amounts, arrays.lower)
    upper = np.where(arrays.whole, amounts, arrays.upper)
    return replace(arrays, lower=lower, upper=upper)


def _keep_choices(
    session: Session,
    arrays: Arrays,
    corner: Corner,
    searched: list[float],
    gap: float,
) -> _Kept:
    """Round the choices, keep them, and solve for each aim once more without them.

    A choice that the solver left on for an ingredient it does not use is turned off,
    unless it is what a rule counts.
    """
    found = np.where(session.arrays.whole, np.round(corner.amounts), corner.amounts)
    tidy = found.copy()
    for number, column in enumerate(session.programme.columns):
        if column.kind == "used":
            owner = session.programme.ingredients.index(column.key)
            if tidy[owner] <= UNUSED:
                tidy[number] = 0.0
    for amounts in (tidy, found):
        session.fix_whole(amounts)
        kept = _in_order(session, arrays, anew=True)
        if kept is None:
            continue
        off = [
            (now - was) / max(1.0, abs(was))
            for now, was in zip(kept[1], searched, strict=True)
        ]
        if max(off) <= KEPT:
            # A later aim gains where a trace that served an earlier one is let go.
            return (*kept[:3], max(gap, kept[3], abs(off[0]), *off))
    raise ProofError("the choices the search found do not hold exactly")


def _cleaned(amounts: Floats, arrays: Arrays) -> Floats:
    """Return amounts inside their bounds, with traces of rounding set to zero."""
    inside = np.clip(amounts, arrays.lower, arrays.upper)
    return np.where(np.abs(inside) < 1e-9, 0.0, inside)


def _agree_with_cbc(programme: Programme, arrays: Arrays, best: list[float]) -> None:
    holds: list[tuple[Row, float]] = []
    for goal, value in zip(programme.goals, best, strict=True):
        amounts = solve_with_cbc(to_pulp(arrays, goal, holds))
        found = None if amounts is None else goal.row.at(amounts)
        if found is None or abs(found - value) > 1e-6 * max(1.0, abs(value)):
            raise ProofError(
                f"the solvers disagree on {goal.name}: {value:g} and {found}"
            )
        room = goal.slack + 1e-7 * max(1.0, abs(value))
        holds.append((goal.row, value + room))


def is_better(one: Optimum, other: Optimum) -> bool:
    """Whether an answer serves the aims better."""
    return less(one.best, other.best)


def less(values: Iterable[float], others: Iterable[float]) -> bool:
    """Whether aims come to less, the first that differs deciding."""
    for mine, theirs in zip(values, others, strict=True):
        if abs(mine - theirs) > SETTLED * max(1.0, abs(theirs)):
            return mine < theirs
    return False


def attempted(programme: Programme) -> Optimum | None:
    """Return a proved answer; None where there is none, or none that can be proved.

    For one of several questions that an answer can do without.
    """
    try:
        found = optimise(programme)
    except (ProofError, SolverError):
        return None
    return None if isinstance(found, Infeasible) else found
