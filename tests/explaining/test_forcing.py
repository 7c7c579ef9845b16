"""Forcing an ingredient in with the choices kept: over few columns as over all."""

import numpy as np
import pytest
from msgspec.structs import replace

from optimiser.domain.scenario import Aim
from optimiser.explaining.entering import Forcing
from optimiser.rules import build
from optimiser.solving import OneMore, Optimum, optimise
from tests.rules import workbench as wb

CATEGORIES = ("hard butter", "soft butter", "liquid oil")


def choosing(seed, *, aims=(), least=0.0):
    """Eighteen ingredients of which at most six, and two of each category, are used."""
    random = np.random.default_rng(seed)
    keys = [f"i{number}" for number in range(18)]
    known = wb.catalogue(
        {key: CATEGORIES[number % 3] for number, key in enumerate(keys)},
        prices={key: float(random.uniform(3, 40)) for key in keys},
        figures={"iodine value": {key: float(random.uniform(10, 120)) for key in keys}},
    )
    capped = random.choice(keys, 4, replace=False)
    base = dict.fromkeys(keys[:5], 20.0) if aims else {}
    scenario = wb.scenario(
        bands=tuple(wb.bound(name, 20.0, 50.0) for name in CATEGORIES),
        limits=tuple(
            wb.bound(key, high=high, table="limits")
            for key, high in zip(capped, (0.005, 0.008, 1.5, 9.0), strict=True)
        ),
        windows=(wb.window("iodine value", 40.0, 70.0),),
        choices=(
            wb.choice("all", at_most=6),
            *(wb.choice(name, at_most=2) for name in CATEGORIES[:2]),
        ),
        least_if_used={"default": (least, wb.toml("least_if_used.default"))}
        if least
        else {},
        aims=aims,
        base=base,
    )
    return scenario, known


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(
    "more",
    [
        {},
        {"least": 2.0},
        {"aims": (Aim("change", 3.0), Aim("cost"))},
        {"aims": (Aim("count", 1.0), Aim("cost")), "least": 1.0},
    ],
)
def test_over_few_columns_it_costs_what_it_does_over_all(seed, more):
    scenario, known = choosing(seed, **more)
    optimum = optimise(build(scenario, known))
    if not isinstance(optimum, Optimum):
        return
    session = optimum.session
    stage = [goal.name for goal in session.programme.goals].index("cost")
    session.aim_at(stage, optimum.tops)
    assert session.run()
    few = Forcing(session, session.objective())
    every = Forcing(session, session.objective())
    every._one_more, every._full = None, frozenset()
    assert few._off
    told = 0
    for column in range(18):
        if optimum.amounts[column] > 1e-6:
            continue
        mine, theirs = few.cost_of(column), every.cost_of(column)
        assert (mine is None) == (theirs is None), column
        if mine is not None:
            assert mine == pytest.approx(theirs, abs=1e-5)
            told += 1
    assert told or any(few._full)


def off_without_choice(seed):
    """Two ways of forcing in, and the columns that are off and no choice is about."""
    scenario, known = choosing(seed)
    scenario = replace(scenario, choices=(wb.choice("hard butter", at_most=2),))
    optimum = optimise(build(scenario, known))
    session = optimum.session
    session.aim_at(0, optimum.tops)
    session.run()
    few = Forcing(session, session.objective())
    every = Forcing(session, session.objective())
    every._one_more = every._slopes = None
    free = [
        column
        for column, key in enumerate(session.programme.ingredients)
        if known.ingredients[key].category != "hard butter"
        and optimum.amounts[column] <= 1e-6
    ]
    return few, every, free


def test_what_no_choice_is_about_costs_what_its_price_tells_with_the_choices_kept():
    told = 0
    for seed in range(8):
        few, every, free = off_without_choice(seed)
        for column in free:
            theirs = every.cost_of(column)
            if few._slopes is not None and theirs is not None:
                assert few.cost_of(column) == pytest.approx(theirs, abs=1e-5)
                told += few._slopes[column] == few.cost_of(column)
    assert told


def test_some_of_them_can_be_forced_in_and_some_cannot():
    found = set()
    for seed in range(6):
        scenario, known = choosing(seed)
        scenario = replace(scenario, choices=(wb.choice("all", at_most=17),))
        optimum = optimise(build(scenario, known))
        session = optimum.session
        session.aim_at(0, optimum.tops)
        session.run()
        forcing = Forcing(session, session.objective())
        out = [n for n in range(18) if optimum.amounts[n] <= 1e-6]
        found |= {forcing.cost_of(column) is None for column in out}
    assert found == {True, False}


def test_where_the_corner_bears_a_dose_no_question_is_solved_for_it(monkeypatch):
    solved, solve = [], OneMore._solved
    told = asked = 0

    def counted(self):
        solved.append(self)
        return solve(self)

    monkeypatch.setattr(OneMore, "_solved", counted)
    for seed in range(6):
        scenario, known = choosing(seed, least=2.0)
        optimum = optimise(build(scenario, known))
        session = optimum.session
        session.aim_at(0, optimum.tops)
        session.run()
        few = Forcing(session, session.objective())
        every = Forcing(session, session.objective())
        every._one_more._corner = None
        for column in np.flatnonzero(optimum.amounts[:18] <= 1e-6):
            solved.clear()
            mine, by_corner = few.cost_of(column), not solved
            theirs = every.cost_of(column)
            assert (mine is None) == (theirs is None)
            if mine is not None:
                assert mine == pytest.approx(theirs, abs=1e-9)
                told += by_corner
                asked += not by_corner
    assert told > asked > 0


def one_more(session):
    """Return the question with room for one more, and what is off in it."""
    forcing = Forcing(session, session.objective())
    keys = session.programme.ingredients
    off = {n: forcing._flags[key] for n, key in enumerate(keys)}
    return forcing._one_more, {n: f for n, f in off.items() if f in forcing._off}


@pytest.mark.parametrize("stage", [0, 1])
def test_what_the_corner_tells_is_what_solving_finds_in_any_aim(stage):
    told = 0
    for seed in range(6):
        scenario, known = choosing(
            seed, aims=(Aim("count", 1.0), Aim("cost")), least=1.0
        )
        optimum = optimise(build(scenario, known))
        session = optimum.session
        session.aim_at(stage, optimum.tops)
        session.run()
        more, off = one_more(session)
        for column, flag in off.items():
            mine = more.value(column, flag, 1.0, 100.0)
            told += more._told_by_the_corner(column, flag, 1.0) is not None
            corner, more._corner = more._corner, None
            theirs = more.value(column, flag, 1.0, 100.0)
            more._corner = corner
            assert mine == (theirs and pytest.approx(theirs, abs=1e-9))
    assert told


def test_the_corner_tells_nothing_of_what_one_would_take_more_of_than_a_dose():
    scenario, known = choosing(0, least=1.0)
    optimum = optimise(build(scenario, known))
    session = optimum.session
    session.aim_at(0, optimum.tops)
    session.run()
    more, off = one_more(session)
    for column, flag in off.items():
        more._costs = session.costs().copy()
        more._costs[column] = -1.0  # it would pay to take all of it that is let in
        assert more._told_by_the_corner(column, flag, 0.01) is None
    assert off


def test_what_no_choice_is_about_is_forced_in_over_few_columns_at_any_corner():
    told = 0
    for seed in range(8):
        few, every, free = off_without_choice(seed)
        few._slopes = None
        for column in free:
            mine, theirs = few.cost_of(column), every.cost_of(column)
            assert mine == (theirs and pytest.approx(theirs, abs=1e-6))
            told += mine is not None
    assert told
