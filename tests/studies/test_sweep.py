"""Sweeps against one formulate a case, and the proof of many answers at once."""

from concurrent.futures import Executor, Future, ThreadPoolExecutor

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser.domain.rule import Row
from optimiser.explaining import formulate
from optimiser.solving import Infeasible, optimise, reprice
from optimiser.studies import sweep as study
from optimiser.studies.measures import measure, measures
from optimiser.studies.sweep import Group, sweep
from tests.rules.workbench import (
    bound,
    catalogue,
    choice,
    figure,
    pack,
    scenario,
    window,
)  # fmt: skip
from tests.solving.random_programmes import blends

KINDS = {
    "cocoa": "hard butter", "kokum": "hard butter", "shea": "soft butter",
    "olive": "liquid oil", "grape": "liquid oil",
}  # fmt: skip
KEYS = list(KINDS)
FAT = {"cocoa": 80.0, "kokum": 90.0, "shea": 30.0, "olive": 0.0, "grape": 0.0}
BASE = {"cocoa": 40.0, "shea": 20.0, "olive": 40.0}


def known(prices=(9.0, 8.0, 7.0, 6.0, 5.0)):
    return catalogue(
        KINDS,
        prices=dict(zip(KEYS, prices, strict=True)),
        figures={"solid fat": {k: {30.0: figure(v)} for k, v in FAT.items()}},
    )


def asked(**more):
    bands = (bound("hard butter", 20, 60), bound("liquid oil", 20, 60))
    windows = (window("solid fat", 25.0, 45.0, at=30.0, over="lipids"),)
    return scenario(**({"bands": bands, "windows": windows, "base": BASE} | more))


def with_prices(prices):
    return replace(
        known(), prices={key: (pack(key, price),) for key, price in prices.items()}
    )


lists = st.lists(
    st.fixed_dictionaries({key: st.floats(1, 40) for key in KEYS}),
    min_size=1,
    max_size=5,
)


@settings(deadline=None, max_examples=20)
@given(lists, st.sampled_from([("cost",), ("change", "cost"), ("cost", "change")]))
def test_each_case_costs_what_formulate_finds(prices, aims):
    of = asked(aims=aims)
    group = Group({}, of, known(), [({"n": n}, p) for n, p in enumerate(prices)])
    result = sweep([group])
    assert [case.labels["n"] for case in result.cases] == list(range(len(prices)))
    for case, each in zip(result.cases, prices, strict=True):
        answer = formulate(of, with_prices(each))
        assert case.cost_per_kg == pytest.approx(answer.cost_per_kg, abs=1e-5)
        assert case.gap <= 1e-6
        assert sum(case.amounts.values()) == pytest.approx(100.0)


def test_choices_are_solved_one_by_one():
    of = asked(choices=(choice("all", None, 3),))
    prices = [{"cocoa": price} for price in (1.0, 9.0, 40.0)]
    result = sweep([Group({}, of, known(), [({}, each) for each in prices])])
    for case, each in zip(result.cases, prices, strict=True):
        usual = dict(zip(KEYS, (9.0, 8.0, 7.0, 6.0, 5.0), strict=True))
        answer = formulate(of, with_prices(usual | each))
        assert case.cost_per_kg == pytest.approx(answer.cost_per_kg)


def test_measures_are_those_of_formulate():
    result = sweep([Group({}, asked(), known())])
    answer = formulate(asked(), known())
    case = result.cases[0]
    for line in answer.properties:
        name = next(n for n in case.properties if n.startswith(line.property))
        if line.at is not None and f"at {line.at:g} degC" in name:
            assert case.properties[name] == (
                None if line.value is None else pytest.approx(line.value)
            )
    assert case.change == pytest.approx(answer.change.by_ingredient)
    assert case.change_by_category == pytest.approx(answer.change.by_category)


def test_a_figure_that_is_not_known_is_not_zero():
    wanted = measures(KEYS, asked(), known())
    density = next(each for each in wanted if each.name.startswith("density"))
    assert np.isnan(measure(density, np.full((1, 5), 20.0))).all()


def test_a_clash_and_what_is_missing_are_rows_too():
    clashing = asked(bands=(bound("hard butter", 60), bound("liquid oil", 60)))
    unpriced = replace(known(), prices={})
    groups = [
        Group({"n": 1}, clashing, known(), [({}, {"cocoa": 1.0})]),
        Group({"n": 2}, asked(), unpriced),
        Group({"n": 3}, asked(), known()),
    ]
    told = [case.status for case in sweep(groups).cases]
    assert told[0] == "clash"
    assert "no price is known" in told[1]
    assert told[2] == "answered"


def many(count):
    random = np.random.default_rng(5)
    prices = random.uniform(2, 30, (count, 5))
    return Group(
        {},
        asked(),
        known(),
        [({"n": n}, dict(zip(KEYS, map(float, row), strict=True)))
         for n, row in enumerate(prices)],
    )  # fmt: skip


def test_any_executor_gives_the_same_table(monkeypatch):
    monkeypatch.setattr(study, "JOB", 7)
    alone = sweep([many(30)])
    with ThreadPoolExecutor(2) as executor:
        shared = sweep([many(30)], executor)
    assert [c.amounts for c in shared.cases] == [c.amounts for c in alone.cases]


class Interrupted(Executor):
    """Does two jobs, and is then ended by the keyboard."""

    def __init__(self):
        self.done = 0

    def submit(self, fn, /, *arguments, **named):  # noqa: D102
        if self.done == 2:
            raise KeyboardInterrupt
        self.done += 1
        future = Future()
        future.set_result(fn(*arguments, **named))
        return future


def test_what_is_done_is_kept_when_it_is_stopped(monkeypatch):
    monkeypatch.setattr(study, "JOB", 10)
    told = []
    result = sweep([many(50)], Interrupted(), lambda done, of: told.append((done, of)))
    assert result.stopped
    assert (len(result.cases), result.asked) == (20, 50)


def test_progress_is_told(monkeypatch):
    monkeypatch.setattr(study, "JOB", 10)
    told = []
    sweep([many(25)], None, lambda done, of: told.append((done, of)))
    assert told == [(10, 25), (20, 25), (25, 25)]


@settings(deadline=None, max_examples=30)
@given(blends(), st.data())
def test_repriced_programmes_are_proved_and_equal_fresh_ones(programme, data):
    goals = (replace(programme.goals[-1], name="cost"),)
    programme = replace(programme, goals=goals)
    size = len(programme.ingredients)
    rows = data.draw(
        st.lists(
            st.lists(st.floats(-5, 5), min_size=size, max_size=size),
            min_size=1, max_size=4,
        )
    )  # fmt: skip
    result = reprice(programme, np.array(rows))
    if result is None:
        assert isinstance(optimise(programme), Infeasible)
        return
    for number, row in enumerate(rows):
        goal = replace(goals[0], row=Row.of(enumerate(row)))
        fresh = optimise(replace(programme, goals=(goal,)))
        assert result.values[number] == pytest.approx(fresh.best[0], abs=1e-6)
        assert result.gaps[number] <= 1e-6


class Slow(Executor):
    """Ended by the keyboard while the first result is waited for; one job is done."""

    def __init__(self, done=(0,)):
        self.done, self.futures = done, []

    def submit(self, fn, /, *arguments, **named):  # noqa: D102
        future = Interrupts() if not self.futures else Future()
        if len(self.futures) in self.done:
            future.set_running_or_notify_cancel()
            future.set_result(fn(*arguments, **named))
        self.futures.append(future)
        return future


class Interrupts(Future):
    """A future that is waited for when the keyboard ends it; asked again, it tells."""

    asked = False

    def result(self, timeout=None):  # noqa: D102
        if not self.asked:
            self.asked = True
            raise KeyboardInterrupt
        return super().result(timeout)


def test_what_waits_is_cancelled_and_what_is_finished_kept(monkeypatch):
    monkeypatch.setattr(study, "JOB", 10)
    executor = Slow()
    result = sweep([many(50)], executor)
    assert [future.cancelled() for future in executor.futures] == [False] + [True] * 4
    assert result.stopped
    assert [case.labels["n"] for case in result.cases] == list(range(10))


def test_a_sweep_with_nothing_missing_was_not_stopped(monkeypatch):
    monkeypatch.setattr(study, "JOB", 10)
    result = sweep([many(20)], Slow(done=(0, 1)))
    assert (len(result.cases), result.stopped) == (20, False)


def test_jobs_of_cases_that_are_searched_alone_are_small():
    of = asked(choices=(choice("all", None, 3),))
    told = []
    prices = [({}, {"cocoa": 1.0 + n}) for n in range(25)]
    sweep([Group({}, of, known(), prices)], None, lambda done, _: told.append(done))
    assert told == [10, 20, 25]
