"""The one way from a scenario to a proved answer, or to why there is none.

Everything that asks for a formula goes through here: each total of emulsifiers that a
scenario lists is tried, the aims are solved in order with their choices, and the second
opinion is heard, so that a study answers the same question as `formulate`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Scenario
from optimiser.errors import InputError, Problem
from optimiser.explaining.opinions import Solved, heard
from optimiser.explaining.second_opinion import asks
from optimiser.explaining.stepping import stepped
from optimiser.rules import build
from optimiser.rules.emulsifiers import each_total
from optimiser.solving import (
    CutShortError,
    Infeasible,
    Optimum,
    is_better,
    optimise,
    settled,
    within,
)

__all__ = ["NoFormula", "Question", "answer", "best", "lined", "questions", "reshaped"]

Shape = Callable[["Question"], Programme]

# How long one answer is searched for; steps have their own time within it.
SECONDS = 6.0
UNKNOWN_GAP = 1.0  # all of its value: an aim is never below nothing


class Question(Struct, frozen=True, eq=False):
    """A programme, and the scenario it was built from: one total of emulsifiers."""

    scenario: Scenario
    programme: Programme


class NoFormula(Struct, frozen=True, eq=False):
    """No formula keeps the rules of any question; each can be asked why.

    ``found`` is of the first question, ``beside`` of the others in order.
    """

    asked: tuple[Question, ...]
    found: Infeasible
    beside: tuple[Infeasible, ...] = ()

    @property
    def question(self) -> Question:
        """The first of the questions, which ``found`` is of."""
        return self.asked[0]

    @property
    def totals(self) -> tuple[float, ...]:
        """All that were tried of emulsifiers, percent of the lipids."""
        wanted = [each.scenario.emulsify for each in self.asked]
        return tuple(total for each in wanted if each for total in each.totals)


def answer(
    scenario: Scenario,
    catalogue: Catalogue,
    *,
    beside: bool = False,
    solver: str = "highs",
) -> Solved | NoFormula:
    """Return the proved answer of a scenario; see `best`.

    A search for it is ended after a while; then its gap says how far it was proved.

    Raises
    ------
    InputError
        If an ingredient of the base lacks a price or a figure that a rule needs, or
        the search was ended before it had found a formula.
    """
    asked = questions(scenario, catalogue)
    try:
        with within(SECONDS):
            return best(asked, catalogue, beside=beside, solver=solver)
    except CutShortError as error:
        wrong = (
            f"no formula was found in the {SECONDS:g} s that a search has, nor was it"
            " shown that there is none"
        )
        fix = (
            "ask for fewer choices, narrow what may be used with [only], or search on"
            " with: optimiser formulate --thorough"
        )
        raise InputError([Problem(wrong, scenario.file, fix=fix)]) from error


def questions(scenario: Scenario, catalogue: Catalogue) -> tuple[Question, ...]:
    """Return the programmes of a scenario: one for each total of emulsifiers.

    Raises
    ------
    InputError
        If an ingredient of the base lacks a price or a figure that a rule needs.
    """
    return tuple(
        Question(each, build(each, catalogue)) for each in each_total(scenario)
    )


def reshaped(asked: Sequence[Question], shape: Shape) -> tuple[Question, ...]:
    """Return questions with another programme each: more rules, or other goals."""
    return tuple(replace(each, programme=shape(each)) for each in asked)


def best(
    asked: Sequence[Question],
    catalogue: Catalogue,
    near: Sequence[Mapping[str, float]] = (),
    *,
    beside: bool = False,
    hear: bool = True,
    steps: bool = True,
    solver: str = "highs",
) -> Solved | NoFormula:
    """Return the best proved answer of some questions with the same goals.

    Parameters
    ----------
    near : sequence of formulas
        Some that held the windows of a question much like this one.
    beside : bool
        Whether tangents of the second opinion join the question also where every
        window holds, because limits or prices will be moved.
    hear : bool
        Whether the second opinion is asked; not where straight rules stand for it
        (see `lined`).
    steps : bool
        Whether the answer is put into the steps that the scenario asks for; not for
        what is no formula to make (a point of a curve).
    solver : {"highs", "cbc"}
        With "cbc" a second solver must find the same values.

    Raises
    ------
    ProofError
        If an answer does not pass its own check.
    CutShortError
        If searches were ended before any of the questions had an answer.
    """
    found: Solved | None = None
    nothing: list[Infeasible] = []
    open_: CutShortError | None = None
    for each in asked:
        try:
            optimum = optimise(each.programme, solver)
        except CutShortError as error:
            open_ = error
            continue
        if isinstance(optimum, Infeasible):
            nothing.append(optimum)
            continue
        if found is not None and _is_beyond(optimum, found):
            continue
        solved = Solved(each.scenario, each.programme, settled(optimum))
        if hear:
            solved = heard(solved, catalogue, near, beside=beside)
        if found is None or _beats(solved, found):
            found = solved
    if found is not None and open_ is not None:  # a question more may have a better one
        found = replace(found, optimum=replace(found.optimum, gap=UNKNOWN_GAP))
    if found is not None:
        return stepped(found, catalogue) if hear and steps else found
    if open_ is not None:
        raise open_
    if not nothing:
        raise ValueError("nothing was asked")
    return NoFormula(tuple(asked), nothing[0], tuple(nothing[1:]))


def _is_beyond(optimum: Optimum, found: Solved) -> bool:
    """Whether a question cannot do better: by straight sums it answers at its best."""
    return _reached(found) and not is_better(optimum, found.optimum)


def _reached(solved: Solved) -> bool:
    return solved.outcome != "not reached"


def _beats(one: Solved, other: Solved) -> bool:
    if _reached(one) != _reached(other):
        return _reached(one)
    return is_better(one.optimum, other.optimum)


def lined(
    asked: Sequence[Question], catalogue: Catalogue
) -> tuple[tuple[Question, ...], bool]:
    """Return questions to ask many times, and whether the second opinion is in them.

    The tangents at its answer join the rules of each: every formula then holds the
    windows by the second opinion, for the model is convex, but a better one that also
    holds them may be kept out. Where no window comes near that, a question stays as
    it is.
    """
    found = []
    for each in asked:
        found.append(each)
        if asks(each.scenario) and each.scenario.second_opinion:
            solved = best([each], catalogue, beside=True)
            if isinstance(solved, Solved):
                found[-1] = replace(each, programme=solved.programme)
    changed = zip(asked, found, strict=True)
    return tuple(found), any(a.programme is not b.programme for a, b in changed)
