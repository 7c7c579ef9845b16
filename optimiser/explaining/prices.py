"""What each binding rule costs: both sides apart, each with how far it holds."""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from optimiser.domain.rule import Rule, natural
from optimiser.explaining.answer import Price
from optimiser.explaining.reaches import Standing, idle_reach
from optimiser.explaining.slopes import Slope, known_sides, round_limit, slope_at
from optimiser.solving import Optimum, Session

__all__ = ["Sides", "is_binding", "is_broken", "price_sides"]


class Sides(Struct, frozen=True):
    """Prices of easing and of tightening one rule; None where it cannot move.

    A pin can be lowered and raised, and has both prices here; it eases the way that
    helps, if one does, and tightens the other way, or the one that harms less.
    ``jumps``: a side without a price could be moved, but the aim jumps there.
    """

    ease: Price | None
    tighten: Price | None
    lowering: Price | None = None
    raising: Price | None = None
    jumps: bool = False


def is_binding(rule: Rule, slack: float | None) -> bool:
    """Whether a rule has no room at the answer.

    A rule about nothing (an exclusion that meets no ingredient) does not bind.
    """
    if slack is None or rule.amounts.columns.size == 0:
        return False
    return abs(slack) <= 1e-6 * max(1.0, abs(rule.limit))


def is_broken(rule: Rule, slack: float | None) -> bool:
    """Whether a formula breaks a rule by more than rounding."""
    return slack is not None and slack < -1e-6 * max(1.0, abs(rule.limit))


def price_sides(optimum: Optimum, binding: Sequence[int]) -> dict[int, Sides]:
    """Return the two prices of each binding rule, by the rule's number.

    The aim named is the first that responds, earlier aims held; a rule on choices
    has no price while the choices are kept.

    Parameters
    ----------
    binding : sequence of int
        Numbers of the rules of the programme to price; arithmetic is left alone.
    """
    session = optimum.session
    rules = session.programme.rules
    found: dict[tuple[int, float], tuple[int, Slope | None]] = {}
    idle: dict[tuple[int, float], float] = {}
    waiting = [
        (number, direction)
        for number in binding
        if rules[number].owner != "arithmetic" and not rules[number].counts
        for direction in (-1.0, 1.0)
    ]
    for stage in range(len(optimum.best)):
        if not waiting:
            break
        session.aim_at(stage, optimum.tops)
        session.run()
        best = session.objective()
        known = known_sides(session, {number for number, _ in waiting})
        alike: dict[tuple[object, ...], Slope | None] = {}
        still = []
        for key in waiting:
            number, direction = key
            here = Standing(number, rules[number].limit, best)
            told = known.get(key, (None, None))
            if told[0] == 0.0 or told[1] is not None:
                slope = slope_at(session, here, direction, *told)
            else:
                moved = *_moved(session, number), direction
                if moved not in alike:
                    alike[moved] = slope_at(session, here, direction, *told)
                slope = alike[moved]
            if slope is None or slope.slope != 0.0:
                if slope is not None and key in idle:
                    slope = Slope(slope.slope, min(slope.reach, idle[key]))
                found[key] = (stage, slope)
                continue
            found.setdefault(key, (stage, slope))
            still.append(key)
            if session.programme.goals[stage].slack > 0.0:
                # Its room is counted from its least, which will move further on.
                reach = idle_reach(session, here, direction)
                idle[key] = min(reach, idle.get(key, math.inf))
        waiting = still
    session.aim_at(len(optimum.best) - 1, optimum.tops)
    session.run()
    return {
        number: _sides(session, rules[number], found[number, -1.0], found[number, 1.0])
        for number in binding
        if (number, 1.0) in found
    }


def _moved(session: Session, number: int) -> tuple[object, ...]:
    """Return what is moved with a limit, and how far: alike for a rule and its own.

    A window and the tangents of the second opinion at one limit are moved as one.
    """
    rule = session.programme.rules[number]
    return session.together(number), rule.limit, natural(rule)


def _sides(
    session: Session,
    rule: Rule,
    below: tuple[int, Slope | None],
    above: tuple[int, Slope | None],
) -> Sides:
    """Return what moving a rule's limit costs, each way, from its aim and slope."""
    down, up = _price(session, rule, -1.0, *below), _price(session, rule, 1.0, *above)
    jumps = _jumps(below[1]) or _jumps(above[1])
    if rule.side == "min":
        return Sides(ease=down, tighten=up, jumps=jumps)
    if rule.side == "max":
        return Sides(ease=up, tighten=down, jumps=jumps)
    ways = sorted((p for p in (down, up) if p is not None), key=lambda p: p.price)
    ease = ways[0] if ways and ways[0].price <= 1e-9 else None
    tighten = next((p for p in ways if p is not ease and p.price >= -1e-9), None)
    return Sides(ease, tighten, lowering=down, raising=up, jumps=jumps)


def _jumps(slope: Slope | None) -> bool:
    return slope is not None and math.isinf(slope.slope)


def _price(
    session: Session, rule: Rule, direction: float, stage: int, slope: Slope | None
) -> Price | None:
    if slope is None or math.isinf(slope.slope):
        return None
    name = session.programme.goals[stage].name
    until = None
    if math.isfinite(slope.reach) and slope.slope != 0.0:
        until = round_limit(rule.limit + direction * slope.reach)
    return Price(name, slope.slope, until)
