"""The curve of one aim against another: break points, elbow, and what steps cost."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Scenario
from optimiser.errors import InputError, Option, Problem, phrase
from optimiser.explaining import Clash, clash_of, opinions
from optimiser.explaining.answering import (
    NoFormula,
    Question,
    best,
    lined,
    questions,
)
from optimiser.explaining.opinions import Solved
from optimiser.solving import SolverError, now, within
from optimiser.studies.made import About, Made, Told, made, told
from optimiser.studies.tradeoff import walking
from optimiser.studies.tradeoff.axes import (
    Axis,
    axes_of,
    ceiling,
    goals_of,
    with_property,
)
from optimiser.studies.tradeoff.walking import Waypoint

__all__ = [
    "BreakPoint",
    "Step",
    "Tradeoff",
    "elbow_of",
    "letters",
    "steps_of",
    "tradeoff",
]

STEPS = (5.0, 2.0, 1.0, 0.5, 0.2, 0.1)
MOST_STEPS = 6


class BreakPoint(Struct, frozen=True):
    """A break point: ``across`` and ``up`` in the units of their axes.

    ``slope`` is the change of ``up`` per unit of ``across`` up to the next point,
    None at the last.
    """

    name: str
    across: float
    up: float
    slope: float | None
    formula: Made


class Step(Struct, frozen=True):
    """So many percent less of ``up`` in all, and where ``across`` then is."""

    percent: float
    across: float
    further: float


def letters(number: int) -> str:
    """Return the name of a point.

    >>> letters(0), letters(27)
    ('A', 'AB')
    """
    more, last = divmod(number, 26)
    return (letters(more - 1) if more else "") + chr(ord("A") + last)


def elbow_of(points: Sequence[BreakPoint]) -> str | None:
    """Return the point furthest below the line between the ends, if one is."""
    first, last = points[0], points[-1]
    run, rise = last.across - first.across, last.up - first.up
    if len(points) < 3 or not run or not rise:
        return None
    below = [
        (point.across - first.across) / run - (point.up - first.up) / rise
        for point in points
    ]
    far = min(range(len(points)), key=lambda number: below[number])
    return points[far].name if below[far] < -1e-6 else None


def steps_of(points: Sequence[BreakPoint], exact: bool) -> tuple[Step, ...]:
    """Return what each further few percent of ``up`` need, as far as they go."""
    first, least = points[0], points[-1].up
    if first.up <= 0 or least >= first.up:
        return ()
    most = 100.0 * (first.up - least) / first.up
    size = next((each for each in STEPS if most >= 2 * each), None)
    if size is None:
        return ()
    steps: list[Step] = []
    before = first.across
    for number in range(1, MOST_STEPS + 1):
        percent = number * size
        if percent > most + 1e-9:
            break
        across = _where(points, first.up * (1 - percent / 100.0), exact)
        steps.append(Step(percent, across, across - before))
        before = across
    return tuple(steps)


def _where(points: Sequence[BreakPoint], up: float, exact: bool) -> float:
    """Return where the curve comes down to a value of ``up``."""
    for one, other in pairwise(points):
        if other.up <= up + 1e-9:
            if not exact or other.up == one.up:
                return other.across
            share = min(1.0, max(0.0, (one.up - up) / (one.up - other.up)))
            return one.across + share * (other.across - one.across)
    return points[-1].across


LEVELS = 21
SHARED = 25  # searches that share the time: the levels, the ends, and a few anew
# Part of the time after which no more points are looked for by straight sums, where
# they may have to be looked for again by the second opinion.
FIRST = 0.6

Progress = Callable[[int, int], None]


class Tradeoff(Struct, frozen=True):
    """A curve from the end where ``across`` is best to the end where ``up`` is.

    ``exact`` says that the curve is straight between its points; otherwise each point
    is proved, and between two of them ``up`` lies between theirs. ``elbow`` is the
    point that lies furthest below the straight line between the ends.
    ``better_percent`` is by how much ``up`` may be less at some point, its search
    being cut short; else 0. ``cut_short`` says that the time was up before all points
    were looked for, or the keyboard ended it, which ``stopped`` tells.
    """

    about: About
    up: Axis
    across: Axis
    points: tuple[BreakPoint, ...]
    exact: bool
    elbow: str | None
    steps: tuple[Step, ...]
    chosen: tuple[str, Made] | None
    told: Told
    better_percent: float = 0.0
    cut_short: bool = False
    stopped: bool = False


def tradeoff(
    scenario: Scenario,
    catalogue: Catalogue,
    between: Sequence[str] = ("cost", "change"),
    write: str | None = None,
    *,
    seconds: float | None = None,
    progress: Progress | None = None,
) -> Tradeoff | Clash:
    """Return the curve of one aim against another inside the rules.

    Parameters
    ----------
    between : two of str
        See :func:`optimiser.studies.tradeoff.axes.axes_of`.
    write : str, optional
        A point to make the formula of: a point's name, "turn" (the elbow), or a
        value of the second axis.
    seconds : float, optional
        How long is searched, shared by the points of the curve: what has not been
        looked for by then is left out, and told. Without it all goes on to the end.
    progress : callable, optional
        Told how many points are looked for, and of how many, where each is a search.

    Raises
    ------
    InputError
        If a name or the point to write is not known.
    """
    up, across = axes_of(between, scenario, catalogue)
    question = _Asked(scenario, catalogue, up, across, seconds, progress)
    try:
        places = question.places()
        if not isinstance(places, NoFormula) and not question.agrees(places):
            places = question.held_places() or places
    except SolverError as error:
        if seconds is None:
            raise
        wrong = "no formula was found for an end of the curve in the time"
        fix = phrase("search to the end with ", Option("thorough"))
        raise InputError([Problem(wrong, scenario.file, fix=fix)]) from error
    if isinstance(places, NoFormula):
        return clash_of(places, catalogue)
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
        better_percent=max(each.cheaper_percent for each in formulas),
        cut_short=question.cut_short,
        stopped=question.stopped,
    )


class _Asked:
    """The questions with the two axes in them, asked at any place of the curve."""

    def __init__(
        self,
        scenario: Scenario,
        catalogue: Catalogue,
        up: Axis,
        across: Axis,
        seconds: float | None = None,
        progress: Progress | None = None,
    ) -> None:
        self.share = None if seconds is None else seconds / SHARED
        self._begun, self._seconds, self._progress = now(), seconds, progress
        self.cut_short = self.stopped = False
        self.catalogue, self.up, self.across = catalogue, up, across
        self.scenario = goals_of((up, across), scenario)
        self.questions: tuple[Question, ...]
        self.rules: tuple[Rule, ...] = ()
        if across.is_property:
            self.questions, self.rules = with_property(across, self.scenario, catalogue)
        else:
            self.questions = questions(self.scenario, catalogue)
        plain = len(self.questions) == 1 and not self.questions[0].programme.whole
        self.exact = plain and not self.rules
        self.asks = self.lined = False
        self._near: list[dict[str, float]] = []

    def agrees(self, places: Sequence[Waypoint]) -> bool:
        """Whether no window of a place breaks by the second opinion."""
        if not self.scenario.second_opinion:
            return True
        keys = self.questions[0].programme.ingredients
        opinion = opinions.formed(self.scenario, self.catalogue, keys, None)
        said = (
            opinions.told(opinion, at.solved.programme, at.solved.optimum.amounts)
            for at in places
        )
        return not any(each is not None and each.outcome == "told" for each in said)

    def held_places(self) -> list[Waypoint] | None:
        """Return places at each of which the second opinion is held, if there are any.

        One straight rule for all gives the break points too; it is taken where it
        costs next to nothing against asking anew at every level.
        """
        if self.stopped:
            return None
        plain, exact = self.questions, self.exact
        self.asks, self.exact = True, False
        self.cut_short = False
        each = self.places()
        if isinstance(each, NoFormula):
            return None
        if not exact:
            return each
        self.questions, found = lined(plain, self.catalogue)
        line = walking.corners(self.questions[0], self.catalogue) if found else None
        if (
            line is None
            or isinstance(line, NoFormula)
            or not (self.agrees(line) and walking.as_good(line, each))
        ):
            self.questions = plain
            return each
        self.asks, self.exact, self.lined = False, True, True
        return line

    def places(self) -> list[Waypoint] | NoFormula:
        """Return the places of the curve from the left, or that nothing fits."""
        if self.exact:
            return walking.corners(self.questions[0], self.catalogue)
        self._near = []
        least = self._best((0, 1)[: self._aims])
        if isinstance(least, NoFormula):
            return least
        ends = self._ends(least)
        values = [float(each) for each in np.linspace(*ends, LEVELS)]
        places = walking.levels(values, self._next, self._progress)
        if self.cut_short:  # the other end stands, whatever lies between
            last = Waypoint(ends[1], self._at(least, self.up), least)
            places = [*(each for each in places if each.across != ends[1]), last]
        if not places and not self.asks:  # what is asked may hold nowhere
            raise SolverError("no search of any level ended in its time")
        if self.rules:
            places = walking.refined(places, self._next)
        elif self.asks:
            places = walking.undominated(places)
        return walking.distinct(places)

    @property
    def _aims(self) -> int:
        return len(self.questions[0].programme.goals)

    def _best(
        self, order: Sequence[int], more: Callable[[int], Rule] | None = None
    ) -> Solved | NoFormula:
        """Return the best formula by the aims in an order, with a rule more in each."""
        asked = []
        for number, each in enumerate(self.questions):
            goals = tuple(each.programme.goals[aim] for aim in order)
            rules = each.programme.rules
            if more is not None:
                rules = (*rules, more(number))
            programme = replace(each.programme, rules=rules, goals=goals)
            asked.append(replace(each, programme=programme))
        # At a place, it is held from the ends and from where it was held last.
        near = () if more is None else self._near
        with within(self.share):
            found = best(asked, self.catalogue, near, hear=self.asks, steps=False)
        if self.asks and isinstance(found, Solved):
            self._near = [*self._near[:2], found.amounts]
        return found

    def _ends(self, least: Solved) -> tuple[float, float]:
        """Return the best value across, and the one at the least of ``up``."""
        if self.rules:
            amounts = least.optimum.amounts
            cheapest = self.rules[0].value(amounts) or 0.0
            pairs = zip(self.questions, self.rules, strict=True)
            ends = [walking.extreme(q, rule, self.catalogue) for q, rule in pairs]
            known = [end for end in ends if end is not None]
            most = max if self.rules[0].side == "min" else min
            return (most(known) if known else cheapest), cheapest
        other = self._best((1, 0))
        if isinstance(other, NoFormula):  # there is one by the other order
            other = least
        return self._at(other, self.across), self._at(least, self.across)

    def _at(self, found: Solved, axis: Axis) -> float:
        """Return what an aim comes to."""
        goals = found.programme.goals
        goal = next(goal for goal in goals if goal.name == axis.name)
        return goal.at(found.optimum.amounts)

    def _next(self, value: float) -> Waypoint | None:
        """Return what `solve` does; None too where the time or the keyboard ends it."""
        if self._seconds is not None:
            part = 1.0 if self.asks else FIRST
            self.cut_short |= now() - self._begun > part * self._seconds
        if self.cut_short:
            return None
        try:
            return self.solve(value)
        except KeyboardInterrupt:
            self.cut_short = self.stopped = True
            return None

    def solve(self, value: float) -> Waypoint | None:
        """Return the least of ``up`` with ``across`` as good as a value, or None."""

        def rule(number: int) -> Rule:
            if not self.rules:
                aim = self.questions[number].programme.goals[1]
                return ceiling(aim, value + 1e-9 * max(1.0, abs(value)))
            own = self.rules[number]
            room = 1e-8 * max(1.0, abs(value))
            limit = value - room if own.side == "min" else value + room
            return replace(own, limit=limit)

        try:
            found = self._best((0, 1)[: self._aims], rule)
        except SolverError:
            if self.share is None:
                raise
            return None  # nothing was found in the time
        if isinstance(found, NoFormula):
            return None
        if self.asks and found.outcome == "not reached":
            return None
        across = value if self.rules else self._at(found, self.across)
        return Waypoint(across, self._at(found, self.up), found)

    def made(self, place: Waypoint, name: str) -> Made:
        """Return what is to be said of a place."""
        return made(name, place.solved, self.catalogue)


def _points(places: list[Waypoint], question: _Asked) -> tuple[BreakPoint, ...]:
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
        points.append(BreakPoint(name, place.across, place.up, slope, formula))
    return tuple(points)


def _chosen(
    wanted: str, points: Sequence[BreakPoint], elbow: str | None, question: _Asked
) -> tuple[str, Made]:
    """Return the formula at a point, at the elbow, or at a value across."""
    name = elbow if wanted.casefold() in {"turn", "elbow"} else wanted.upper()
    for point in points:
        if point.name == name:
            return point.name, point.formula
    values = sorted((points[0].across, points[-1].across))
    value = _inside(wanted, *values)
    place = None if value is None else question.solve(value)
    if place is None:
        names = ", ".join(point.name for point in points[:30])
        fix = (
            f"write a point ({names}), turn, or a number from {values[0]:.4g} to"
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
