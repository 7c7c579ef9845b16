"""Sweeps: many cases in one go, warm in one process or over any executor.

A group is one scenario with the price lists it is to be solved under. Groups are cut
into jobs whose size does not depend on who does them, so that one process, many, or a
cluster give the same table.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, wait
from contextlib import suppress
from typing import Any

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Aim, Scenario
from optimiser.errors import InputError
from optimiser.explaining.answering import lined, questions
from optimiser.explaining.basis import LawLine, laws, one_a_market
from optimiser.explaining.facts import TRACE
from optimiser.explaining.second_opinion import asks
from optimiser.solving import Infeasible, less, optimise, reprice
from optimiser.studies.measures import Measure, changes, measure, measures

__all__ = ["Case", "Group", "Sweep", "solve", "sweep"]

# Cases in one job: enough that sending it costs little beside solving it, and few
# enough that one that has begun soon ends; ALONE where each is searched for by itself.
JOB, ALONE = 1000, 10
PATIENCE = 5.0  # seconds until it is asked whether anybody still works on a job
MOST = 10**7  # more than a group has price lists
Progress = Callable[[int, int], None]


class Group(Struct, frozen=True):
    """A scenario and the price lists (money per kg by key) it is solved under."""

    labels: Mapping[str, Any]
    scenario: Scenario
    catalogue: Catalogue
    lists: Sequence[tuple[Mapping[str, Any], Mapping[str, float]]] = (({}, {}),)


class Case(Struct, frozen=True):
    """One row of the table. ``amounts`` is percent by ingredient key.

    ``status`` is answered, clash, or what the input lacks; then nothing else is told.
    """

    labels: Mapping[str, Any]
    status: str
    cost_per_kg: float | None
    change: float | None
    change_by_kind: float | None
    change_by_category: float | None
    properties: Mapping[str, float | None]
    amounts: Mapping[str, float]
    gap: float | None


class Sweep(Struct, frozen=True):
    """Cases in the order asked for; ``stopped`` if it was ended with some missing.

    ``melting`` counts scenarios with windows on melting; in ``lined`` of them the
    second opinion had to be held, by straight rules (`explaining.answering.lined`).
    ``lost`` counts cases that an executor failed to solve and that were solved here.
    ``law`` is what was looked at of each market's: the most of what cases ask for;
    ``invented`` tells how many prices of their workshops are: "all" or "some", and
    ``invented_of`` names those of what their formulas hold.
    """

    cases: tuple[Case, ...]
    asked: int
    currency: str
    names: Mapping[str, str]
    stopped: bool = False
    melting: int = 0
    lined: int = 0
    lost: int = 0
    law: tuple[LawLine, ...] = ()
    invented: str | None = None
    invented_of: tuple[str, ...] = ()

    @property
    def status(self) -> str:
        """What all cases come to: answered if one is, else a clash or an error."""
        statuses = {case.status for case in self.cases}
        if "answered" in statuses:
            return "answered"
        return "clash" if "clash" in statuses else "error"


def _laws(
    groups: Sequence[Group], done: Mapping[int, Sequence[Case]]
) -> tuple[LawLine, ...]:
    """Return the law of each market, where products or days differ the most of it.

    What it asks for is by the most that any case has of each ingredient.
    """
    asked: dict[object, tuple[Group, dict[str, float]]] = {}
    for start, cases in done.items():
        group = groups[start // MOST]
        it = group.scenario
        key = (it.markets, it.product_kinds, it.use, it.day)
        most = asked.setdefault(key, (group, {}))[1]
        for case in cases:
            for name, percent in case.amounts.items():
                most[name] = max(percent, most.get(name, 0.0))
    return one_a_market(
        line
        for group, most in asked.values()
        for line in laws(most, group.scenario, group.catalogue)
    )


class _Job(Struct, frozen=True, eq=False):
    """Programmes, the best of which counts, with a slice of their group's price lists.

    There is one for each total of emulsifiers, over the same ingredients.
    """

    group: int
    start: int
    programmes: tuple[Programme, ...]
    costs: Floats | None
    lined: bool

    @property
    def ingredients(self) -> tuple[str, ...]:
        return self.programmes[0].ingredients


Amounts = tuple[Floats, Floats] | None


def solve(programmes: Sequence[Programme], costs: Floats | None) -> Amounts:
    """Return proved amounts (cases, ingredients) and gaps; None if nothing fits.

    What a worker does: it stands alone and takes plain values, so that any executor
    can send it. Of several programmes with the same goals each case takes the best.
    """
    best: tuple[Floats, Floats, Floats] | None = None
    for programme in programmes:
        found = _solve(programme, costs)
        if best is None or found is None:
            best = best or found
            continue
        better = np.array([less(*each) for each in zip(found[2], best[2], strict=True)])
        for kept, new in zip(best, found, strict=True):
            kept[better] = new[better]
    return None if best is None else best[:2]


def _solve(
    programme: Programme, costs: Floats | None
) -> tuple[Floats, Floats, Floats] | None:
    """Return amounts, gaps, and what each goal comes to (cases, goals)."""
    size = len(programme.ingredients)
    if costs is None:
        found = optimise(programme)
        if isinstance(found, Infeasible):
            return None
        amounts, gaps = found.amounts[None, :], np.array([found.gap])
        return amounts[:, :size].copy(), gaps, np.array([found.best])
    repriced = reprice(programme, costs)
    if repriced is None:
        return None
    values = np.empty((len(costs), len(programme.goals)))
    for number, goal in enumerate(programme.goals):
        row = goal.row
        values[:, number] = (
            np.einsum("ij,ij->i", costs, repriced.amounts[:, :size])
            if goal.name == "cost"
            else repriced.amounts[:, row.columns] @ row.coefficients
        )
    return repriced.amounts[:, :size], repriced.gaps, values


def sweep(
    groups: Sequence[Group],
    executor: Executor | None = None,
    progress: Progress | None = None,
    there: Callable[[], bool] | None = None,
) -> Sweep:
    """Return the proved answer of every case of every group.

    Parameters
    ----------
    executor : Executor, optional
        Anything with the interface of ``concurrent.futures``: local processes, or
        the executor of a cluster. Without one, this process does it all.
    progress : callable, optional
        Told how many cases are done, and of how many.
    there : callable, optional
        Whether anybody is left behind the executor; asked while a job lasts long.

    Notes
    -----
    What an executor fails to do (its process was killed, its workers went away) is done
    here. Ended by the keyboard, it returns the cases that are done: what waits is not
    begun, and jobs under way are waited for unless the keyboard asks again.
    """
    asked = sum(len(group.lists) for group in groups)
    done: dict[int, list[Case]] = {}
    counted = [0]

    def keep(group: int, start: int, cases: list[Case]) -> None:
        done[group * MOST + start] = cases
        counted[0] += len(cases)
        if progress is not None:
            progress(counted[0], asked)

    stopped, lost = False, 0
    waiting: dict[Future[Amounts], _Job] = {}
    by_line: dict[int, bool] = {}
    try:
        for number, group in enumerate(groups):
            for job in _jobs(number, group, keep):
                by_line[number] = job.lined
                future = None if executor is None else _submitted(executor, job)
                if future is not None:
                    waiting[future] = job
                    continue
                solved = solve(job.programmes, job.costs)
                cases = _cases(group, job, solved)
                keep(job.group, job.start, cases)
                lost += 0 if executor is None else len(cases)
        for future in list(waiting):
            job = waiting[future]
            came = _came(future, there)
            solved = solve(job.programmes, job.costs) if came is None else came[0]
            cases = _cases(groups[job.group], job, solved)
            keep(job.group, job.start, cases)
            lost += len(cases) if came is None else 0
            del waiting[future]
    except KeyboardInterrupt:
        for future in _finished(list(waiting)):
            job = waiting[future]
            cases = _cases(groups[job.group], job, future.result())
            done[job.group * MOST + job.start] = cases
        stopped = sum(map(len, done.values())) < asked
    return Sweep(
        cases=tuple(case for key in sorted(done) for case in done[key]),
        asked=asked,
        currency=groups[0].catalogue.currency if groups else "",
        names={
            key: one.name
            for group in groups
            for key, one in group.catalogue.ingredients.items()
        },
        stopped=stopped,
        melting=sum(asks(groups[number].scenario) for number in by_line),
        lined=sum(by_line.values()),
        lost=lost,
        law=_laws(groups, done),
        invented=_invented(group.catalogue for group in groups),
        invented_of=tuple(dict.fromkeys(_invented_of(groups, done))),
    )


def _invented(catalogues: Iterable[Catalogue]) -> str | None:
    """Return how many of the prices of some catalogues are invented."""
    told = {each.invented_prices for each in catalogues}
    if told <= {None, "noted", "uncounted"}:
        return max(filter(None, told), default=None)
    return told.pop() if len(told) == 1 else "some" if told else None


def _invented_of(
    groups: Sequence[Group], done: Mapping[int, Sequence[Case]]
) -> Iterator[str]:
    """Yield names of what cases hold whose prices are invented."""
    for key in sorted(done):
        catalogue = groups[key // MOST].catalogue
        for case in done[key]:
            used = (x for x, percent in case.amounts.items() if percent > 0.0)
            yield from catalogue.invented_among(used)


def _submitted(executor: Executor, job: _Job) -> Future[Amounts] | None:
    """Hand a job over; None where the executor takes nothing any more."""
    try:
        return executor.submit(solve, job.programmes, job.costs)
    except Exception:
        return None


def _came(
    future: Future[Amounts], there: Callable[[], bool] | None
) -> tuple[Amounts] | None:
    """Return what came of a job; None where it failed, or nobody is left to do it.

    What fails for a reason of its own will fail again where it is done anew.
    """
    patience = None if there is None else PATIENCE
    while True:
        try:
            return (future.result(timeout=patience),)
        except TimeoutError:
            if future.done() or there is None or not there():
                break
        except Exception:
            break
    future.cancel()
    return None


def _finished(futures: Sequence[Future[Amounts]]) -> list[Future[Amounts]]:
    """Cancel what has not begun, and return what ends well."""
    # From the last: an executor takes the first ones up meanwhile.
    begun = [each for each in reversed(futures) if not each.cancel()]
    with suppress(KeyboardInterrupt):
        wait(begun)
    return [
        each
        for each in begun
        if each.done() and not each.cancelled() and each.exception() is None
    ]


def _jobs(
    number: int, group: Group, keep: Callable[[int, int, list[Case]], None]
) -> Iterator[_Job]:
    """Yield the jobs of a group; what cannot be asked is kept as such at once."""
    scenario = group.scenario
    priced = any(prices for _, prices in group.lists)
    if priced and all(aim.name != "cost" for aim in scenario.aims):
        aims = (*scenario.aims, Aim("cost"))
        scenario = replace(scenario, aims=aims, cost_asked=False)
    try:
        asked = questions(scenario, group.catalogue)
    except InputError as error:
        told = "; ".join(str(problem.wrong) for problem in error.problems)
        labels = [{**group.labels, **each} for each, _ in group.lists]
        keep(number, 0, [_no_case(each, told) for each in labels])
        return
    asked, held = lined(asked, group.catalogue)
    programmes = tuple(each.programme for each in asked)
    if not priced:
        for start in range(len(group.lists)):
            yield _Job(number, start, programmes, None, held)
        return
    costs = _costs(programmes[0].ingredients, group)
    alone = programmes[0].whole or programmes[0].goals[-1].name != "cost"
    size = min(JOB, ALONE) if alone else JOB
    for start in range(0, len(costs), size):
        yield _Job(number, start, programmes, costs[start : start + size], held)


def _costs(ingredients: Sequence[str], group: Group) -> Floats:
    """Return money per kg of product per percent, a row a price list."""
    usual = [group.catalogue.price_per_kg(key) or 0.0 for key in ingredients]
    places = {key: at for at, key in enumerate(ingredients)}
    costs = np.tile(np.array(usual) / 100.0, (len(group.lists), 1))
    for row, (_, prices) in enumerate(group.lists):
        for key, price in prices.items():
            if key in places:
                costs[row, places[key]] = price / 100.0
    return costs


def _no_case(labels: Mapping[str, Any], status: str) -> Case:
    return Case(labels, status, None, None, None, None, {}, {}, None)


def _cases(group: Group, job: _Job, solved: Amounts) -> list[Case]:
    """Return the rows of a job, its measures worked out together."""
    count = 1 if job.costs is None else len(job.costs)
    lists = group.lists[job.start : job.start + count]
    labels = [{**group.labels, **each} for each, _ in lists]
    if solved is None:
        return [_no_case(each, "clash") for each in labels]
    amounts, gaps = solved
    keys = job.ingredients
    wanted: Sequence[Measure] = measures(keys, group.scenario, group.catalogue)
    told = {each.name: measure(each, amounts) for each in wanted}
    costs = _costs(keys, replace(group, lists=lists))
    worth = np.einsum("ij,ij->i", costs, amounts)
    moved = changes(keys, amounts, group.scenario, group.catalogue)
    priced = all(group.catalogue.prices.get(key) for key in keys)
    return [
        Case(
            labels=each,
            status="answered",
            cost_per_kg=float(worth[row]) if priced else None,
            change=None if moved is None else _tidy(moved[0][row]),
            change_by_kind=None if moved is None else _tidy(moved[1][row]),
            change_by_category=None if moved is None else _tidy(moved[2][row]),
            properties={
                name: None if np.isnan(values[row]) else _tidy(values[row])
                for name, values in told.items()
            },
            amounts={
                key: _tidy(amounts[row, at])
                for at, key in enumerate(keys)
                if amounts[row, at] > TRACE
            },
            gap=float(gaps[row]),
        )
        for row, each in enumerate(labels)
    ]


def _tidy(value: float) -> float:
    """Return a figure without what is the solver's rounding."""
    return round(float(value), 7) + 0.0
