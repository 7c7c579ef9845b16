"""Where a limit stands, and the goal wherever it is moved to."""

from __future__ import annotations

from msgspec import Struct

from optimiser.solving import Session, SolverError

__all__ = [
    "SMALLEST",
    "STEP",
    "Standing",
    "is_curved",
    "noise_of",
    "scale_of",
    "value_at",
]

# The first step, and the least, in parts of `scale_of`.
STEP = 1e-3
SMALLEST = 1e-6


class Standing(Struct, frozen=True):
    """Where a limit stands: the rule's number, its limit, and the goal there."""

    rule: int
    limit: float
    value: float


def is_curved(session: Session, number: int) -> bool:
    """Whether the goal bends along a rule's limit: it moves more than bounds."""
    rules = session.programme.rules
    return any(rules[each].curved for each in session.together(number))


def value_at(session: Session, number: int, limit: float) -> float | None:
    """Return the goal with a limit moved, or None where no formula can be found.

    So close to an edge that rounding decides, the solver may not say which it is: that
    is a place to stop like the edge itself.
    """
    rule = session.programme.rules[number]
    if rule.logarithmic and limit <= 0.0:
        return None
    session.move(number, limit)
    try:
        return session.objective() if session.run() else None
    except SolverError:
        session.start_afresh()
        return None


def noise_of(here: Standing) -> float:
    """Return what the goal may be off where it has not moved, from corner to corner."""
    return 1e-7 + 3e-8 * abs(here.value)


def scale_of(session: Session, here: Standing) -> float:
    """Return what steps are parts of: the limit, or one unit if it is smaller."""
    return max(1.0, abs(session.programme.rules[here.rule].limit))
