"""Formulas that could be poured: corners, edges and insides of what the rules allow."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.rule import Column, Goal, Link, Programme, Row
from optimiser.domain.scenario import Scenario, Steps
from optimiser.rules.steps import in_whole_steps
from optimiser.solving import Session, attempted

__all__ = ["formulas", "weighable"]

WISHES, WISHES_WITH_CHOICES = 120, 40
EDGES, INSIDES = 40, 40
APART = 1.0  # of some ingredient, percent: nearer ones are one formula
# Where a scenario has no steps: half a gram in a bar of 100 g.
STEP = 0.5


def formulas(programme: Programme, random: np.random.Generator) -> Floats:
    """Return formulas that keep every rule, one a row, percent by ingredient.

    Corners are found by asking for the least and the most of each ingredient and for
    random sums of them; between two corners lies an edge or a face, between three the
    inside. With choices, what lies between two corners keeps none: only corners are
    taken.

    Raises
    ------
    SolverError
        If the solver stops without an answer.
    """
    size = len(programme.ingredients)
    session = Session(programme)
    session.aim_at(0, [])
    wishes = [side * each for each in np.eye(size) for side in (1.0, -1.0)]
    count = WISHES_WITH_CHOICES if programme.whole else WISHES
    wishes += list(random.standard_normal((count, size)))
    found: list[Floats] = []
    for wish in wishes:
        costs = np.zeros(session.size)
        costs[:size] = wish
        session.wish(costs)
        if not session.run():
            return np.zeros((0, size))
        _add(found, session.corner().amounts[:size])
    corners = np.array(found)
    if not programme.whole and len(corners) > 2:
        for mixed, among in ((EDGES, 2), (INSIDES, 3)):
            for _ in range(mixed):
                some = random.choice(len(corners), among, replace=False)
                _add(found, random.dirichlet(np.ones(among)) @ corners[some])
    return np.array(found)


def _add(found: list[Floats], formula: Floats) -> None:
    clean = np.where(np.abs(formula) < 1e-9, 0.0, formula)
    if all(np.abs(clean - each).max() >= APART for each in found):
        found.append(clean)


def weighable(
    programme: Programme,
    scenario: Scenario,
    catalogue: Catalogue,
    formula: Floats,
    beside: Sequence[Mapping[str, float]] = (),
) -> dict[str, float] | None:
    """Return the formula in whole steps that is nearest to one; None where none is.

    It keeps every rule. The steps are the scenario's own, half a percent where it has
    none; as in an answer, one ingredient may take what is left to 100.

    Parameters
    ----------
    beside : sequence of formulas
        Those that are poured already: what comes out as one of them is none.
    """
    steps = scenario.steps or Steps(STEP, {}, Origin(scenario.file))
    columns, links = list(programme.columns), list(programme.links)
    moves = []
    for column, percent in enumerate(formula):
        moved = len(columns)
        columns.append(Column("moved", str(moved)))
        moves.append((moved, 1.0))
        for side in (1.0, -1.0):
            row = Row.of([(column, side), (moved, -1.0)])
            links.append(Link(row, -math.inf, side * float(percent)))
    near = Goal("nearness", "points", Row.of(moves))
    asked = replace(
        programme, columns=tuple(columns), links=tuple(links), goals=(near,)
    )
    stepped = replace(scenario, steps=steps)
    for rest in (False, True):
        found = attempted(in_whole_steps(asked, stepped, catalogue, rest=rest))
        if found is not None:
            amounts = {
                key: round(float(found.amounts[column]), 6)
                for column, key in enumerate(programme.ingredients)
                if found.amounts[column] > 1e-6
            }
            return None if amounts in beside else amounts
    return None
