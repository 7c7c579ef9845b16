"""What the second opinion says of an answer, and the answer that came of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.properties import melts, reported
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Scenario
from optimiser.explaining.answer import OpinionLine, SecondOpinion
from optimiser.explaining.facts import TRACE
from optimiser.explaining.second_opinion import (
    Opinion,
    Watched,
    asks,
    watched,
)
from optimiser.solving import Optimum, attempted, settled

__all__ = ["Solved", "Stepped", "formed", "heard", "told"]


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


class Stepped(Struct, frozen=True, eq=False):
    """An answer in whole steps; ``optimum`` None where none keeps every rule.

    ``rest`` is the ingredient that takes what is left to 100, where one has to, and
    ``finer`` a finer step that would do, percent. With ``cut`` the search was ended
    first: there may be a better formula in steps, or one at all. ``as_good`` are pairs
    of what is out and what is in, by key, that could stand there as well.
    """

    optimum: Optimum | None
    rest: str | None = None
    finer: float | None = None
    cut: bool = False
    as_good: tuple[tuple[str, str], ...] = ()


class Solved(Struct, frozen=True, eq=False):
    """A question with its proved answer, and what the second opinion said of it.

    ``said`` is None where it was not asked. ``opinion`` has been asked about the
    answer; None where no window asks about melting. With ``steps`` the formula is in
    whole steps, near ``optimum``, which prices are told at.
    """

    scenario: Scenario
    programme: Programme
    optimum: Optimum
    said: SecondOpinion | None = None
    opinion: Opinion | None = None
    steps: Stepped | None = None

    @property
    def shown(self) -> Optimum:
        """The answer that is shown: in whole steps, where it is."""
        stepped = None if self.steps is None else self.steps.optimum
        return self.optimum if stepped is None else stepped

    @property
    def columns(self) -> Floats:
        """What is shown of each column of the programme."""
        return self.shown.amounts[: len(self.programme.columns)]

    @property
    def amounts(self) -> dict[str, float]:
        """The formula shown: percent by ingredient key, without traces of rounding."""
        return {
            key: round(float(self.columns[column]), 8)
            for column, key in enumerate(self.programme.ingredients)
            if self.columns[column] > TRACE
        }

    @property
    def aims(self) -> tuple[tuple[str, float, str], ...]:
        """Each aim in order: name, least value, unit."""
        return tuple(
            (goal.name, best, goal.unit)
            for goal, best in zip(self.programme.goals, self.shown.best, strict=True)
        )

    @property
    def outcome(self) -> str | None:
        """What came of the second opinion (see `SecondOpinion`); None if not asked."""
        return None if self.said is None else self.said.outcome


def heard(
    solved: Solved,
    catalogue: Catalogue,
    near: Sequence[Mapping[str, float]] = (),
    *,
    beside: bool = False,
) -> Solved:
    """Return the second opinion on an answer.

    The question and the answer to show are the ones given, unless a window broke by the
    second opinion and solving again found a formula that holds it.

    Parameters
    ----------
    near : sequence of formulas
        Some that held the windows of a question much like this one.
    beside : bool
        Whether tangents join the question also where every window holds, because
        limits or prices will be moved. They do where an earlier aim leaves room: its
        least is that of formulas which hold the windows.
    """
    programme, amounts = solved.programme, solved.optimum.amounts
    binding = solved.scenario.second_opinion
    used = None if binding else amounts
    opinion = formed(solved.scenario, catalogue, programme.ingredients, used)
    said = told(opinion, programme, amounts)
    if opinion is None or said is None:
        return solved
    found = replace(solved, said=said, opinion=opinion)
    if binding and said.outcome == "told":
        return _held(found, said, opinion, [*map(opinion.vector, near)])
    # An earlier aim with room has a formula of its own, which may break a window.
    roomy = any(goal.slack > 0.0 for goal in programme.goals)
    if binding and said.outcome == "agrees" and (beside or roomy):
        return _beside(found, said, opinion)
    return found


def _beside(solved: Solved, said: SecondOpinion, opinion: Opinion) -> Solved:
    """Let the tangents at an answer join the question, which do not change it."""
    from optimiser.explaining.second_opinion import beside  # noqa: PLC0415 - not for all

    programme = solved.programme
    which = watched(opinion.scenario, programme)
    asked = beside(programme, solved.optimum.amounts, opinion, which)
    found = None if asked is programme else attempted(asked)
    if found is None:
        return solved
    found = settled(found)
    lines = _lines(opinion, programme, found.amounts, which)
    if any(line.holds is False for line in lines):  # another formula that does as well
        return solved
    said = replace(said, lines=lines)
    return replace(solved, programme=asked, optimum=found, said=said)


def _held(
    solved: Solved, said: SecondOpinion, opinion: Opinion, near: Sequence[Floats]
) -> Solved:
    """Solve again until the windows hold by the second opinion, if they can."""
    from optimiser.explaining.tangents import hold  # noqa: PLC0415 - seldom needed

    which = watched(opinion.scenario, solved.programme)
    lines = said.lines
    judged = zip(which, lines, strict=True)
    known = tuple(each for each, line in judged if line.holds is not None)
    held = hold(solved.programme, solved.optimum, opinion, known, near)
    told_before = SecondOpinion(
        "not reached",
        lines,
        held.rounds,
        held.starts,
        first=solved.aims,
        before=tuple(line.second for line in lines),
    )
    if held.programme is None or held.optimum is None:
        closest = () if held.nearest is None else tuple(held.nearest.tolist())
        return replace(solved, said=replace(told_before, nearest=closest))
    lines = _lines(opinion, held.programme, held.optimum.amounts, which)
    return replace(
        solved,
        programme=held.programme,
        optimum=held.optimum,
        said=replace(told_before, outcome="held", lines=lines),
    )


def told(
    opinion: Opinion | None, programme: Programme, amounts: Floats
) -> SecondOpinion | None:
    """Return the second opinion on amounts as they are; None where none is asked for.

    Its outcome is "agrees", "told" (a window does not hold by it) or "unknown". It
    adds to straight sums, so a window that lacks a figure is none that it tells of.
    """
    if opinion is None:
        return None
    which = tuple(
        each
        for each in watched(opinion.scenario, programme)
        if not programme.rules[each.number].lacks(amounts)
    )
    if not which:
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
    degrees: dict[tuple[str, str], list[float]] = {}
    for each in which:
        degrees.setdefault((each.part, each.property), []).append(each.at)
    for (part, name), every in degrees.items():
        opinion.see(amounts, part, name, every)
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
