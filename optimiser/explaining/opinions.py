"""What the second opinion says of an answer, and the answer that came of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.properties import melts, reported
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Scenario
from optimiser.explaining.answer import OpinionLine, SecondOpinion
from optimiser.explaining.second_opinion import (
    Opinion,
    Watched,
    asks,
    watched,
)
from optimiser.solving import Infeasible, Optimum, attempted, optimise

__all__ = ["Heard", "answered", "formed", "heard", "lined", "told"]

Floats = NDArray[np.float64]


def formed(
    scenario: Scenario,
    catalogue: Catalogue,
    keys: Sequence[str],
    amounts: Floats | None,
) -> Opinion | None:
    """Return an opinion to ask about formulas of some ingredients; None if none is.

    With ``amounts`` given, it need know nothing but those.
    """
    if not asks(scenario):
        return None
    used = None
    if amounts is not None:
        used = {key for key, x in zip(keys, amounts, strict=False) if x > 0.0}
    also = [at for name, at in reported() if melts(name) and at is not None]
    return Opinion(scenario, catalogue, keys, only=used, also=also)


class Heard(Struct, frozen=True, eq=False):
    """The question and the answer to show, and what the second opinion said of it.

    ``said`` is None where it was not asked. ``opinion`` has been asked about the
    answer; None where no window asks about melting.
    """

    programme: Programme
    optimum: Optimum
    said: SecondOpinion | None = None
    opinion: Opinion | None = None


def answered(
    scenario: Scenario,
    catalogue: Catalogue,
    programme: Programme,
    near: Sequence[Mapping[str, float]] = (),
    *,
    beside: bool = False,
) -> Heard | Infeasible:
    """Solve, and hear the second opinion on the answer; see `heard`."""
    found = optimise(programme)
    if isinstance(found, Infeasible):
        return found
    return heard(scenario, catalogue, programme, found, near, beside=beside)


def lined(
    scenario: Scenario, catalogue: Catalogue, programme: Programme
) -> tuple[Programme, bool]:
    """Return a programme to ask many times, and whether the second opinion is in it.

    The tangents at its answer join its rules: every formula then holds the windows by
    the second opinion, for the model is convex, but a better one that also holds them
    may be kept out. Where no window comes near that, the programme stays as it is.
    """
    if not asks(scenario) or not scenario.second_opinion:
        return programme, False
    found = answered(scenario, catalogue, programme, beside=True)
    if isinstance(found, Infeasible):
        return programme, False
    return found.programme, found.programme is not programme


def heard(
    scenario: Scenario,
    catalogue: Catalogue,
    programme: Programme,
    optimum: Optimum,
    near: Sequence[Mapping[str, float]] = (),
    *,
    beside: bool = False,
) -> Heard:
    """Return the second opinion on an answer.

    The question and the answer to show are the ones given, unless a window broke by the
    second opinion and solving again found a formula that holds it.

    Parameters
    ----------
    near : sequence of formulas
        Some that held the windows of a question much like this one.
    beside : bool
        Whether tangents join the question also where every window holds, because
        limits or prices will be moved.
    """
    amounts, keys = optimum.amounts, programme.ingredients
    binding = scenario.second_opinion
    used = None if binding else amounts
    opinion = formed(scenario, catalogue, keys, used)
    said = told(opinion, programme, amounts)
    if opinion is None or said is None or not binding:
        return Heard(programme, optimum, said, opinion)
    if said.outcome == "told":
        return _held(said, programme, optimum, opinion, [*map(opinion.vector, near)])
    if said.outcome == "agrees" and beside:
        return _beside(said, programme, optimum, opinion)
    return Heard(programme, optimum, said, opinion)


def _beside(
    said: SecondOpinion, programme: Programme, optimum: Optimum, opinion: Opinion
) -> Heard:
    """Let the tangents at an answer join the question, which do not change it."""
    from optimiser.explaining.tangent_rules import beside  # noqa: PLC0415 - not for all

    which = watched(opinion.scenario, programme)
    asked = beside(programme, optimum.amounts, opinion, which)
    found = None if asked is programme else attempted(asked)
    if found is None:
        return Heard(programme, optimum, said, opinion)
    lines = _lines(opinion, programme, found.amounts, which)
    if any(line.holds is False for line in lines):  # another formula that does as well
        return Heard(programme, optimum, said, opinion)
    return Heard(asked, found, replace(said, lines=lines), opinion)


def _held(
    said: SecondOpinion,
    programme: Programme,
    optimum: Optimum,
    opinion: Opinion,
    near: Sequence[Floats],
) -> Heard:
    """Solve again until the windows hold by the second opinion, if they can."""
    from optimiser.explaining.tangents import hold  # noqa: PLC0415 - seldom needed

    which = watched(opinion.scenario, programme)
    lines = said.lines
    judged = zip(which, lines, strict=True)
    known = tuple(each for each, line in judged if line.holds is not None)
    held = hold(programme, optimum, opinion, known, near)
    first = tuple(
        (goal.name, best, goal.unit)
        for goal, best in zip(programme.goals, optimum.best, strict=True)
    )
    before = tuple(line.second for line in lines)
    if held.programme is None or held.optimum is None:
        closest = () if held.nearest is None else tuple(held.nearest.tolist())
        said = SecondOpinion(
            "not reached", lines, held.rounds, held.starts, first, before, closest
        )
        return Heard(programme, optimum, said, opinion)
    lines = _lines(opinion, held.programme, held.optimum.amounts, which)
    said = SecondOpinion("held", lines, held.rounds, held.starts, first, before)
    return Heard(held.programme, held.optimum, said, opinion)


def told(
    opinion: Opinion | None, programme: Programme, amounts: Floats
) -> SecondOpinion | None:
    """Return the second opinion on amounts as they are; None where none is asked for.

    Its outcome is "agrees", "told" (a window does not hold by it) or "unknown".
    """
    which = () if opinion is None else watched(opinion.scenario, programme)
    if opinion is None or not which:
        return None
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
    degrees: dict[str, list[float]] = {}
    for each in which:
        degrees.setdefault(each.part, []).append(each.at)
    for part, every in degrees.items():
        opinion.see(amounts, part, every)
    lines = []
    for each in which:
        rule = programme.rules[each.number]
        reading = opinion.read(rule, each, amounts)
        lines.append(
            OpinionLine(
                rule=rule,
                linear=rule.value(amounts),
                second=None if reading is None else max(0.0, reading.value),
                doubt=None if reading is None else reading.doubt,
                holds=opinion.holds(rule, reading),
                relative=each.relative,
            )
        )
    return tuple(lines)
