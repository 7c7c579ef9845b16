"""The curve of one aim against another: break points, elbow, and what steps cost."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Goal, Programme, Rule
from optimiser.domain.scenario import Scenario
from optimiser.errors import InputError, Problem
from optimiser.explaining import Clash, formulate, opinions
from optimiser.explaining.opinions import Heard, lined
from optimiser.rules import build
from optimiser.solving import Infeasible, Optimum, optimise
from optimiser.studies.made import About, Made, Told, made, told
from optimiser.studies.tradeoff import walking
from optimiser.studies.tradeoff.axes import (
    Axis,
    axes_of,
    ceiling,
    goals_of,
    with_property,
)
from optimiser.studies.tradeoff.points import (
    Point,
    Step,
    elbow_of,
    letters,
    steps_of,
)
from optimiser.studies.tradeoff.walking import Place

__all__ = ["Tradeoff", "tradeoff"]

Floats = NDArray[np.float64]
LEVELS = 21


class Tradeoff(Struct, frozen=True):
    """A curve from the end where ``across`` is best to the end where ``up`` is.

    ``exact`` says that the curve is straight between its points; otherwise each point
    is proved, and between two of them ``up`` lies between theirs. ``elbow`` is the
    point that lies furthest below the straight line between the ends.
    """

    about: About
    up: Axis
    across: Axis
    points: tuple[Point, ...]
    exact: bool
    elbow: str | None
    steps: tuple[Step, ...]
    chosen: tuple[str, Made] | None
    told: Told


def tradeoff(
    scenario: Scenario,
    catalogue: Catalogue,
    between: Sequence[str] = ("cost", "change"),
    write: str | None = None,
) -> Tradeoff | Clash:
    """Return the curve of one aim against another inside the rules.

    Parameters
    ----------
    between : two of str
        See :func:`optimiser.studies.tradeoff.axes.axes_of`.
    write : str, optional
        A point to make the formula of: a point's name, "elbow", or a value of the
        second axis.

    Raises
    ------
    InputError
        If a name or the point to write is not known.
    """
    up, across = axes_of(between, scenario, catalogue)
    question = _Question(scenario, catalogue, up, across)
    places = question.places()
    if places is None:
        clash = formulate(question.scenario, catalogue)
        assert isinstance(clash, Clash)
        return clash
    if not question.agrees(places):
        places = question.held_places() or places
    points = _points(places, question)
    elbow = elbow_of(points)
    chosen = None if write is None else _chosen(write, points, elbow, question)
    formulas = [point.formula for point in points]
    return Tradeoff(
        about=About.of(scenario, catalogue),
        up=up,
        across=across,
        points=points,
        exact=question.exact,
        elbow=elbow,
        steps=steps_of(points, question.exact),
        chosen=chosen,
        told=told(
            formulas,
            scenario,
            catalogue,
            lined=None if question.asks else question.lined,
        ),
    )


class _Question:
    """A programme with the two axes in it, asked at any place of the curve."""

    def __init__(
        self, scenario: Scenario, catalogue: Catalogue, up: Axis, across: Axis
    ) -> None:
        self.catalogue, self.up, self.across = catalogue, up, across
        self.scenario = goals_of((up, across), scenario)
        self._rule: Rule | None = None
        if across.is_property:
            self.programme, self._rule = with_property(across, self.scenario, catalogue)
        else:
            self.programme = build(self.scenario, catalogue)
        self.goal: Goal = self.programme.goals[0]
        self.exact = self._rule is None and not self.programme.whole
        self.asks = self.lined = False
        self._near: list[dict[str, float]] = []

    def agrees(self, places: Sequence[Place]) -> bool:
        """Whether no window of a place breaks by the second opinion."""
        if not self.scenario.second_opinion:
            return True
        keys = self.programme.ingredients
        opinion = opinions.formed(self.scenario, self.catalogue, keys, None)
        said = (
            opinions.told(opinion, each.programme, each.optimum.amounts)
            for each in places
        )
        return not any(each is not None and each.outcome == "told" for each in said)

    def held_places(self) -> list[Place] | None:
        """Return places at each of which the second opinion is held.

        One straight rule for all gives the break points too; it is taken where it
        costs next to nothing against asking anew at every level.
        """
        plain, exact = self.programme, self.exact
        self.asks, self.exact = True, False
        each = self.places()
        if not exact or each is None:
            return each
        self.programme, found = lined(self.scenario, self.catalogue, plain)
        line = walking.corners(self.programme) if found else None
        if line is None or not (self.agrees(line) and walking.as_good(line, each)):
            self.programme = plain
            return each
        self.asks, self.exact, self.lined = False, True, True
        return line

    def places(self) -> list[Place] | None:
        """Return the places of the curve from the left; None where nothing fits."""
        if self.exact:
            return walking.corners(self.programme)
        self._near = []
        found = self._best(self.goal)
        if found is None:
            return None
        ends = self._ends(found.amounts)
        values = [float(each) for each in np.linspace(*ends, LEVELS)]
        places = walking.levels(values, self.solve)
        if self._rule is not None:
            places = walking.refined(places, self.solve)
        elif self.asks:
            places = walking.undominated(places)
        return walking.distinct(places)

    def _best(self, *goals: Goal) -> Optimum | None:
        """Return the best formula by some goals; None where none keeps the rules.

        The least of ``up`` is looked for from where it was found before.
        """
        asked = replace(self.programme, goals=goals)
        found = optimise(asked)
        if isinstance(found, Infeasible):
            return None
        if not self.asks:
            return found
        near = self._near[:1] if goals[0] is self.goal else ()
        heard = opinions.heard(self.scenario, self.catalogue, asked, found, near)
        self._near.append(_formula(heard))
        return heard.optimum

    def _heard(self, asked: Programme, found: Optimum) -> Heard:
        """Hold the second opinion, from the ends and from where it was held last."""
        heard = opinions.heard(self.scenario, self.catalogue, asked, found, self._near)
        self._near = [*self._near[:3], _formula(heard)]
        return heard

    def _ends(self, amounts: Floats) -> tuple[float, float]:
        """Return the best value across, and the one at the least of ``up``."""
        if self._rule is not None:
            cheapest = self._rule.value(amounts) or 0.0
            best = walking.extreme(self.programme, self._rule)
            return (cheapest if best is None else best), cheapest
        across = self.programme.goals[1]
        values = []
        for goals in ((across, self.goal), (self.goal, across)):
            found = self._best(*goals)
            assert found is not None
            values.append(across.at(found.amounts))
        return values[0], values[1]

    def solve(self, value: float) -> Place | None:
        """Return the least of ``up`` with ``across`` as good as a value, or None."""
        then = None
        if self._rule is None:
            then = self.programme.goals[1]
            rule = ceiling(then, value + 1e-9 * max(1.0, abs(value)))
        else:
            room = 1e-8 * max(1.0, abs(value))
            limit = value - room if self._rule.side == "min" else value + room
            rule = replace(self._rule, limit=limit)
        found = walking.held_at(self.programme, self.goal, rule, then)
        if found is None:
            return None
        heard = self._heard(*found) if self.asks else Heard(*found)
        said = None if heard.said is None else heard.said.outcome
        if self.asks and said == "not reached":
            return None
        optimum = heard.optimum
        up = self.goal.at(optimum.amounts)
        across = value if then is None else then.at(optimum.amounts)
        return Place(across, up, heard.programme, optimum, said == "held")

    def made(self, place: Place, name: str) -> Made:
        """Return what is to be said of a place."""
        heard = Heard(place.programme, place.optimum)
        found = made(name, heard, self.scenario, self.catalogue)
        return replace(found, held=place.held)


def _formula(heard: Heard) -> dict[str, float]:
    keys = heard.programme.ingredients
    return dict(zip(keys, heard.optimum.amounts.tolist(), strict=False))


def _points(places: list[Place], question: _Question) -> tuple[Point, ...]:
    """Return places as points, from where ``across`` is best."""
    if question.across.more:
        places = places[::-1] if places[0].across < places[-1].across else places
    points = []
    for number, place in enumerate(places):
        slope = None
        if number + 1 < len(places):
            after = places[number + 1]
            run = after.across - place.across
            slope = (after.up - place.up) / run if run else None
        name = letters(number)
        formula = question.made(place, name)
        points.append(Point(name, place.across, place.up, slope, formula))
    return tuple(points)


def _chosen(
    wanted: str, points: Sequence[Point], elbow: str | None, question: _Question
) -> tuple[str, Made]:
    """Return the formula at a point, at the elbow, or at a value across."""
    name = elbow if wanted.casefold() == "elbow" else wanted.upper()
    for point in points:
        if point.name == name:
            return point.name, point.formula
    values = sorted((points[0].across, points[-1].across))
    value = _inside(wanted, *values)
    place = None if value is None else question.solve(value)
    if place is None:
        names = ", ".join(point.name for point in points[:30])
        fix = (
            f"write a point ({names}), elbow, or a number from {values[0]:.4g} to"
            f" {values[1]:.4g}"
        )
        raise InputError(
            [Problem("is no point of the curve", None, None, "--write", wanted, fix)]
        )
    return wanted, question.made(place, wanted)


def _inside(wanted: str, low: float, high: float) -> float | None:
    """Return a text as a number of the curve; its ends may be told in four digits."""
    try:
        value = float(wanted)
    except ValueError:
        return None
    room = 1e-3 * max(abs(low), abs(high))
    if not low - room <= value <= high + room:  # nor is "nan"
        return None
    return min(max(value, low), high)
