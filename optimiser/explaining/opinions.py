"""What the second opinion says of an answer, and the answer that came of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Scenario
from optimiser.explaining.answer import OpinionLine, SecondOpinion
from optimiser.explaining.second_opinion import Opinion, Watched, asks, watched
from optimiser.explaining.tangents import hold
from optimiser.solving import Optimum

__all__ = ["heard", "told"]

Floats = NDArray[np.float64]


def heard(
    scenario: Scenario, catalogue: Catalogue, programme: Programme, optimum: Optimum
) -> tuple[SecondOpinion | None, Programme, Optimum]:
    """Return the second opinion on an answer, and the question and answer to show.

    These are the ones given, unless a window broke by the second opinion and solving
    again found a formula that holds it. None where no window asks about melting.
    """
    which = watched(scenario, programme) if asks(scenario) else ()
    said = told(scenario, catalogue, programme, optimum.amounts)
    if said is None or said.outcome != "told" or not scenario.second_opinion:
        return said, programme, optimum
    lines = said.lines
    judged = zip(which, lines, strict=True)
    known = tuple(each for each, line in judged if line.holds is not None)
    opinion = Opinion(scenario, catalogue, programme.ingredients)
    held = hold(programme, optimum, opinion, known)
    first = tuple(
        (goal.name, best, goal.unit)
        for goal, best in zip(programme.goals, optimum.best, strict=True)
    )
    before = tuple(line.second for line in lines)
    if held.programme is None or held.optimum is None:
        near = () if held.nearest is None else tuple(held.nearest.tolist())
        said = SecondOpinion(
            "not reached", lines, held.rounds, held.starts, first, before, near
        )
        return said, programme, optimum
    lines = _lines(opinion, held.programme, held.optimum.amounts, which)
    said = SecondOpinion("held", lines, held.rounds, held.starts, first, before)
    return said, held.programme, held.optimum


def told(
    scenario: Scenario, catalogue: Catalogue, programme: Programme, amounts: Floats
) -> SecondOpinion | None:
    """Return the second opinion on amounts as they are; None where none is asked for.

    Its outcome is "agrees", "told" (a window does not hold by it) or "unknown".
    """
    which = watched(scenario, programme) if asks(scenario) else ()
    if not which:
        return None
    keys = programme.ingredients
    used = {key for key, x in zip(keys, amounts, strict=False) if x > 0.0}
    opinion = Opinion(scenario, catalogue, keys, only=used)
    lines = _lines(opinion, programme, amounts, which)
    names = (opinion.unknown(amounts, each.part) for each in which)
    unknown = tuple(dict.fromkeys(name for part in names for name in part))
    broken = any(line.holds is False for line in lines)
    outcome = "unknown" if unknown else "told" if broken else "agrees"
    return SecondOpinion(outcome, lines, unknown=unknown)


def _lines(
    opinion: Opinion,
    programme: Programme,
    amounts: Floats,
    which: Sequence[Watched],
) -> tuple[OpinionLine, ...]:
    """Return each window by both figures."""
    lines = []
    for each in which:
        rule = programme.rules[each.number]
        reading = opinion.read(rule, each, amounts)
        lines.append(
            OpinionLine(
                rule=rule,
                linear=rule.value(amounts),
                second=None if reading is None else reading.value,
                doubt=None if reading is None else reading.doubt,
                holds=opinion.holds(rule, reading),
                relative=each.relative,
            )
        )
    return tuple(lines)
