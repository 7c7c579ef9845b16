"""Of formulas that do equally well the one that no order of rows decides.

A solver ends in whichever corner it comes upon first. So a last wish is asked for where
there are others as good: weights that each ingredient has by its own key, whatever
stands beside it, and no two the same. What they prefer means nothing; that they prefer
the same thing always is what they are for.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import numpy as np
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.errors import ProofError
from optimiser.rules import at_their_least
from optimiser.solving.optimise import TRACE, Optimum, certified, cleaned, let_go
from optimiser.solving.proof import GAP_TOLERANCE, worst_violation
from optimiser.solving.session import Session, SolverError

__all__ = ["preferred"]

ROOM = 1e-11  # of the last aim: what rounding asks for, and too little to buy a trace


def preferred(optimum: Optimum) -> Optimum:
    """Return an optimum at the one of its corners that the weights prefer.

    It is as it was where a search was cut short, or rounding is in the way of a proof.
    """
    session = optimum.session
    if session.cut_short or optimum.gap > GAP_TOLERANCE:
        return optimum
    goals, best = session.programme.goals, optimum.best
    bare = [least + goal.slack for least, goal in zip(best, goals, strict=True)]
    found = _wished(session, bare, best[-1])
    session.aim_at(len(best) - 1, optimum.tops)
    session.run()
    if found is None:
        return optimum
    amounts = at_their_least(session.programme, cleaned(found, session.arrays))
    try:
        worst = worst_violation(session.programme, session.arrays, amounts)
    except ProofError:
        return optimum
    tops = list(optimum.tops[:-1])
    gap = certified(session, tops, amounts, session.corner().row_prices)
    if _names(amounts, session) and gap <= GAP_TOLERANCE:
        gap = max(gap, optimum.gap)
        return replace(optimum, amounts=amounts, gap=gap, worst_violation=worst)
    return optimum


def _wished(session: Session, bare: Sequence[float], best: float) -> Floats | None:
    """Return the corner that the weights prefer; None if it is lost.

    The last aim is held with a little room for rounding; what traces that buys are
    let go again.
    """
    session.aim_at(len(bare) - 1, bare)
    session.hold(best + ROOM * max(1.0, abs(best)))
    session.expect_other_costs()
    keys = session.programme.ingredients
    session.wish(np.array([1.0 + zlib.crc32(key.encode()) / 2.0**32 for key in keys]))
    try:
        if not session.run():
            return None
        return let_go(session, session.corner().amounts, TRACE)
    except SolverError:
        session.start_afresh()
        return None
    finally:
        session.expect_other_limits()


def _names(amounts: Floats, session: Session) -> bool:
    """Whether a formula has no trace that an answer would not name."""
    own = amounts[: len(session.programme.ingredients)]
    return not bool(((own > 0.0) & (own <= TRACE)).any())
