"""Where no listed total of emulsifiers fits: the nearest that would.

The HLB rules are written for one total, so a total is not eased in the question as it
stands: the question is written anew for others, further and further away.
"""

from __future__ import annotations

import math

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme, Rule
from optimiser.domain.scenario import Emulsify, Scenario
from optimiser.explaining.answer import Easing
from optimiser.explaining.answering import Question
from optimiser.explaining.ways import NOTHING, steps
from optimiser.rules import build
from optimiser.rules.emulsifiers import TOTAL
from optimiser.solving import attempted

__all__ = ["nearest_that_fits"]

# Parts of the total that are tried, down and up; twice it is no easing any more.
AWAY = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.2, 1.6, 2.0)
HALVINGS = 6


def nearest_that_fits(
    question: Question, catalogue: Catalogue
) -> tuple[Easing, Question] | None:
    """Return the total nearest to a question's own that fits, and its question.

    To a step that a maker would write; None where none was found, between nothing and
    more than twice as much.
    """
    asked = question.scenario.emulsify
    rule = next((each for each in question.programme.rules if each.id == TOTAL), None)
    if asked is None or rule is None:
        return None
    step = steps(rule.limit)
    for part in AWAY:
        for way in (-1.0, 1.0):
            far = rule.limit * (1.0 + way * part)
            if 0.0 < far <= 100.0 and _fits(question, asked, far, catalogue):
                return _closer(question, asked, rule, far, step, catalogue)
    return None


def _closer(
    question: Question,
    asked: Emulsify,
    rule: Rule,
    far: float,
    step: float,
    catalogue: Catalogue,
) -> tuple[Easing, Question]:
    """Return the total nearest to the rule's own, a fitting one being known."""
    near, fits = rule.limit, far
    for _ in range(HALVINGS):
        middle = (near + fits) / 2.0
        if _fits(question, asked, middle, catalogue):
            fits = middle
        else:
            near = middle
    # A step that lies between the two may fit; the one behind the further does mostly.
    inward = (math.floor, math.ceil) if fits > rule.limit else (math.ceil, math.floor)
    for fine, edge in ((step, inward[0]), (step, inward[1]), (step / 10.0, inward[1])):
        to = round(edge(fits / fine) * fine, 9)
        if 0.0 < to <= 100.0 and _fits(question, asked, to, catalogue):
            fits = to
            break
    return Easing(rule, fits), Question(*_at(question.scenario, asked, fits, catalogue))


def _at(
    scenario: Scenario, asked: Emulsify, total: float, catalogue: Catalogue
) -> tuple[Scenario, Programme]:
    """Return a scenario and its question with one total."""
    eased = {key: each for key, each in scenario.eased.items() if key != TOTAL}
    own = replace(asked, totals=(total,))
    moved = replace(scenario, emulsify=own, eased=eased)
    return moved, build(moved, catalogue)


def _fits(
    question: Question, asked: Emulsify, total: float, catalogue: Catalogue
) -> bool:
    _, programme = _at(question.scenario, asked, total, catalogue)
    return attempted(replace(programme, goals=(NOTHING,))) is not None
