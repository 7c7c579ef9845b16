"""Variants: clearly different formulas in the same rules, the best first."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress

from msgspec import Struct, field
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Aim, Scenario
from optimiser.errors import InputError, Option, Problem, ProofError, phrase
from optimiser.explaining import Clash, clash_of
from optimiser.explaining.answering import (
    NoFormula,
    Question,
    answer,
    best,
    questions,
    reshaped,
)
from optimiser.explaining.facts import TRACE
from optimiser.rules.pool import choose
from optimiser.rules.space import LEAST_CHOSEN
from optimiser.solving import SolverError, now, within
from optimiser.studies.apart import at_most_cost, far_from, other_set, with_flags
from optimiser.studies.made import About, Made, Told, by_category, distance, made, told

__all__ = ["Different", "Variant", "Variants", "variants"]

ROUNDING = 1e-5


# What is less, in percent, is not told as having come in or left.
SHOWN = 0.05


Progress = Callable[[int, int], None]


# What a maker would weigh of one ingredient, percent of the product; minor categories
# are not chosen here (decision 45).
LEAST = {
    "hard butter": 2.0,
    "soft butter": 2.0,
    "liquid oil": 2.0,
    "exfoliant": 2.0,
    "water": 2.0,
    "surfactant": 2.0,
    "wax": 1.0,
    "fatty alcohol": 1.0,
    "emulsifier": 1.0,
    "powder": 1.0,
    "humectant": 1.0,
}
NEAR_COST = "variants are those nearly as cheap as the cheapest, so all need a price"
VARIANTS = Origin("the command line", field="variants")


class Different(Struct, frozen=True):
    """What counts as clearly different, from every variant before it.

    ``points``, ``points_by_category`` and ``points_by_kind`` are least distances: by
    kind one light oil for another is no difference. ``other_set`` asks for
    another set of ingredients too. ``lines`` are what each has of an ingredient at
    least, percent by category, or none of it: nobody weighs ten lines of 0.5 %.
    """

    points: float = 10.0
    points_by_category: float = 0.0
    other_set: bool = False
    lines: Mapping[str, float] = field(default_factory=lambda: LEAST)
    points_by_kind: float = 0.0


class Variant(Struct, frozen=True):
    """One formula, and what makes it different from the first.

    ``came_in``, ``left`` and ``moved`` are against the first variant: names, and
    names with points for those in both.
    """

    formula: Made
    dearer_percent: float | None
    came_in: tuple[str, ...]
    left: tuple[str, ...]
    moved: tuple[tuple[str, float], ...]


class Variants(Struct, frozen=True):
    """Formulas far apart from each other, near the least cost.

    ``by`` is "cost", or "change" where some price is not known and no aim needs one:
    then they are by the scenario's own aims, ``within_percent`` holds none of them and
    none is dearer by so much.
    ``aims_let_go`` are aims of the scenario that came before cost and are not held.
    ``apart`` and ``apart_by_category`` are tables of points, variant by variant.
    ``complete`` says that no further one exists; then ``next_dearer_percent`` is by
    how much the next one would break the bound on cost, None if none exists at all.
    ``cut_short`` says that the time was up before all that were asked for were found,
    ``stopped`` that the keyboard ended it.
    """

    about: About
    asked: int
    within_percent: float
    different: Different
    variants: tuple[Variant, ...]
    apart: tuple[tuple[float, ...], ...]
    apart_by_category: tuple[tuple[float, ...], ...]
    complete: bool
    next_dearer_percent: float | None
    told: Told
    aims_let_go: tuple[str, ...] = ()
    cut_short: bool = False
    stopped: bool = False
    by: str = "cost"


def variants(
    scenario: Scenario,
    catalogue: Catalogue,
    count: int = 4,
    within_percent: float = 5.0,
    different: Different | None = None,
    *,
    seconds: float | None = None,
    progress: Progress | None = None,
) -> Variants | Clash:
    """Return up to ``count`` clearly different formulas near the first one's cost.

    The first is the scenario's own answer where cost is its first aim, else the
    cheapest formula. Each further one is the cheapest of all formulas that keep
    every rule, cost at most ``within_percent`` more than the least cost, and differ
    clearly from every variant before it (decision 14). Where some price is not known
    and no aim is about cost, each is the best by the scenario's own aims instead, as
    the nearest to its base. ``progress`` is told how many
    are found, and of how many. ``seconds`` is how long is searched for all of them,
    each in its share of what is left; None searches to the end. Of
    a main ingredient a further one has enough to weigh, or none.

    Raises
    ------
    InputError
        If the bounds asked for make no sense, or a price is missing.
    ProofError
        If a variant turns out not to be as far apart as asked.
    """
    different = different or Different()
    _check(count, within_percent, different)
    by_cost = scenario.aims[0].name == "cost"
    aims = scenario.aims if by_cost else (Aim("cost"),)
    priced = replace(scenario, aims=aims, cost_asked=False)
    needs = choose(priced, catalogue).problems
    by = "change" if needs and not {"cost", "bought"} & _aims(scenario) else "cost"
    if needs and by == "cost":
        lacking = [replace(x, fix=phrase(x.fix or "", f"; {NEAR_COST}")) for x in needs]
        raise InputError(lacking)
    asked = priced if by == "cost" else scenario
    first = answer(asked, catalogue)
    if isinstance(first, NoFormula):
        return clash_of(first, catalogue)
    search = _Apart(asked, catalogue, different)
    found = [made("variant 1", first, catalogue)]
    least = first.optimum.best[0]
    most = least * (1.0 + within_percent / 100.0) if by == "cost" else None
    nothing_left = False
    end = None if seconds is None else now() + seconds
    cut_short = stopped = False
    while len(found) < count and not nothing_left and not cut_short:
        if progress is not None:
            progress(len(found), count)
        try:
            with within(_share(end, count - len(found))):
                new = search.next(found, most)
        except SolverError:
            if end is None:
                raise
            cut_short = True
            continue
        except KeyboardInterrupt:
            cut_short = stopped = True
            continue
        nothing_left = new is None
        if new is not None:
            _prove(new, found, different, most, catalogue)
            found.append(new)
    beyond = None
    with suppress(SolverError), within(_share(end, 1)):
        beyond = search.next(found, None) if nothing_left else None
    # One that the second opinion had to be held for need not be the cheapest there is.
    least = min(least, *(each.cost_per_kg or least for each in found))
    costs = least if by == "cost" else None
    dearer = None if beyond is None else _dearer(beyond, costs)
    return Variants(
        about=About.of(scenario, catalogue),
        asked=count,
        within_percent=within_percent,
        different=different,
        variants=tuple(_variant(each, found[0], costs, catalogue) for each in found),
        apart=tuple(
            tuple(distance(a.amounts, b.amounts) for b in found) for a in found
        ),
        apart_by_category=tuple(
            tuple(_by_category(a, b, catalogue) for b in found) for a in found
        ),
        complete=nothing_left,
        next_dearer_percent=dearer,
        told=told(found, scenario, catalogue),
        aims_let_go=() if asked is scenario else tuple(a.name for a in scenario.aims),
        cut_short=cut_short,
        stopped=stopped,
        by=by,
    )


def _share(end: float | None, shared: int) -> float | None:
    """Return the seconds for the next of some searches; None where there is no end."""
    if end is None:
        return None
    # The first ones are the easiest: each may take half of what is left.
    return max(0.0, end - now()) / min(shared, 2)


def _check(count: int, within_percent: float, different: Different) -> None:
    """Say what is wrong with the bounds that were asked for, all at once."""
    asked = (
        ("--count", count, 1, 20),
        ("--within", within_percent, 0, 1000),
        ("--apart", different.points, 0, 100),
        ("--apart-by-category", different.points_by_category, 0, 100),
        ("--apart-by-kind", different.points_by_kind, 0, 100),
    )
    problems = [
        Problem(
            f"is not from {low} to {high}",
            field=name,
            found=f"{value:g}",
            fix=f"give a number from {low} to {high}",
        )
        for name, value, low, high in asked
        if not low <= value <= high
    ]
    far = max(different.points, different.points_by_category, different.points_by_kind)
    if far <= 0 and not different.other_set:
        other = Option("other-ingredients")
        fix = phrase("give ", Option("apart"), " some points, or ask for ", other)
        problems.append(
            Problem("is 0, so nothing would differ", field="--apart", fix=fix)
        )
    if problems:
        raise InputError(problems)


def _aims(scenario: Scenario) -> set[str]:
    return {each.name for each in scenario.aims}


class _Apart:
    """The question for the best formula that differs from those found."""

    def __init__(
        self, scenario: Scenario, catalogue: Catalogue, different: Different
    ) -> None:
        self.catalogue, self.different = catalogue, different
        doses = _sensible(scenario, catalogue, different.lines)
        aims = scenario.aims
        if aims[0].name == "cost":
            aims = (Aim("cost"),)
        sensible = replace(scenario, aims=aims, least_if_used=doses)
        self.questions = questions(sensible, catalogue)

    def next(self, found: Sequence[Made], most: float | None) -> Made | None:
        """Return the best that differs from all found; None if there is none."""
        asked = reshaped(self.questions, lambda each: self._apart(each, found, most))
        held = [each.amounts for each in found if each.held][-1:]
        new = best(asked, self.catalogue, held)
        if isinstance(new, NoFormula):
            return None
        return made(f"variant {len(found) + 1}", new, self.catalogue)

    def _apart(
        self, question: Question, found: Sequence[Made], most: float | None
    ) -> Programme:
        """Return a question's programme kept apart from the formulas found."""
        asked, flags = question.programme, dict[str, int]()
        doses = dict[str, float]()
        if self.different.other_set:
            doses = _doses(question.scenario, asked)
            asked, flags = with_flags(asked, doses)
        if most is not None:
            asked = at_most_cost(asked, most, f"{self.catalogue.currency}/kg")
        for each in found:
            asked = self._far_from(asked, each, flags, doses)
        return asked

    def _far_from(
        self,
        asked: Programme,
        other: Made,
        flags: Mapping[str, int],
        doses: Mapping[str, float],
    ) -> Programme:
        wanted = self.different
        if wanted.points > 0:
            asked = far_from(asked, other.amounts, wanted.points, other.title)
        if wanted.points_by_category > 0:
            least = wanted.points_by_category
            asked = far_from(asked, other.amounts, least, other.title, self.catalogue)
        if wanted.points_by_kind > 0:
            least = wanted.points_by_kind
            known = self.catalogue
            asked = far_from(asked, other.amounts, least, other.title, known, "kind")
        if wanted.other_set:
            used = {
                key
                for key, percent in other.amounts.items()
                if percent >= doses.get(key, LEAST_CHOSEN) - ROUNDING
            }
            asked = other_set(asked, flags, used, other.title)
        return asked


def _sensible(
    scenario: Scenario, catalogue: Catalogue, least_lines: Mapping[str, float]
) -> dict[str, tuple[float, Origin]]:
    """Return the least dose of each ingredient, so that no variant is made of traces.

    Of its category, unless the scenario names one, its base has less, or some limit
    lets it be no more.
    """
    found = dict(scenario.least_if_used)
    usual, _ = found.get("default", (0.0, VARIANTS))
    most = {b.what: b.high for b in (*scenario.limits, *scenario.bands) if b.high}
    pinned = {pin.what for pin in scenario.pins}
    for key, each in catalogue.ingredients.items():
        dose = least_lines.get(each.category, 0.0)
        if key in scenario.least_if_used or key in pinned or dose <= usual:
            continue
        ends = (scenario.base.get(key), most.get(key), most.get(each.category))
        found[key] = (min([dose, *(end for end in ends if end)]), VARIANTS)
    return found


def _doses(scenario: Scenario, programme: Programme) -> dict[str, float]:
    """Return the least share of each ingredient that counts as using it, percent."""
    least = {key: dose for key, (dose, _) in scenario.least_if_used.items()}
    usual = least.get("default", LEAST_CHOSEN)
    doses = {key: least.get(key, usual) for key in programme.ingredients}
    for key, share in programme.fixed().items():
        doses[key] = min(doses[key], share)
    return {key: max(dose, 10 * TRACE) for key, dose in doses.items()}


def _prove(
    new: Made,
    found: Sequence[Made],
    different: Different,
    most: float | None,
    catalogue: Catalogue,
) -> None:
    """Recompute the distances and the cost of a variant from its amounts alone."""
    near = min(distance(new.amounts, each.amounts) for each in found)
    near_by = min(_by_category(new, each, catalogue) for each in found)
    near_kind = min(_by_category(new, each, catalogue, "kind") for each in found)
    if near_kind < different.points_by_kind - ROUNDING:
        raise ProofError(f"a variant is only {near_kind:g} points by kind away")
    if near < different.points - ROUNDING:
        raise ProofError(f"a variant is only {near:g} points from another")
    if near_by < different.points_by_category - ROUNDING:
        raise ProofError(f"a variant is only {near_by:g} points by category away")
    if most is None:
        return
    if new.cost_per_kg is None or new.cost_per_kg > most * (1 + 1e-7) + 1e-9:
        raise ProofError("a variant costs more than was allowed")


def _by_category(
    first: Made, second: Made, catalogue: Catalogue, by: str = "category"
) -> float:
    return distance(
        by_category(first.amounts, catalogue, by),
        by_category(second.amounts, catalogue, by),
    )


def _dearer(formula: Made, best: float | None) -> float | None:
    if best is None:
        return None
    cost = formula.cost_per_kg or 0.0
    return 100.0 * (cost / best - 1.0) if best > 0 else 0.0


def _variant(
    each: Made, first: Made, best: float | None, catalogue: Catalogue
) -> Variant:
    names = {key: one.name for key, one in catalogue.ingredients.items()}
    here = {key for key, percent in each.amounts.items() if percent >= SHOWN}
    there = {key for key, percent in first.amounts.items() if percent >= SHOWN}
    came, left = list(here - there), list(there - here)
    moved = [
        (names[key], each.amounts[key] - percent)
        for key, percent in first.amounts.items()
        if key in here & there and abs(each.amounts[key] - percent) >= 0.05
    ]
    came.sort(key=lambda key: -each.amounts[key])
    left.sort(key=lambda key: -first.amounts[key])
    moved.sort(key=lambda move: -abs(move[1]))
    return Variant(
        formula=each,
        dearer_percent=_dearer(each, best),
        came_in=tuple(names[key] for key in came),
        left=tuple(names[key] for key in left),
        moved=tuple(moved),
    )
