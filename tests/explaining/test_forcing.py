"""Forcing an ingredient in with the choices kept: over few columns as over all."""

import numpy as np
import pytest
from msgspec.structs import replace

from optimiser.domain.scenario import Aim
from optimiser.explaining.entering import Forcing
from optimiser.rules import build
from optimiser.solving import Optimum, optimise
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


def test_what_no_choice_is_about_costs_what_its_price_tells_with_the_choices_kept():
    told = 0
    for seed in range(8):
        scenario, known = choosing(seed)
        scenario = replace(scenario, choices=(wb.choice("hard butter", at_most=2),))
        optimum = optimise(build(scenario, known))
        session = optimum.session
        session.aim_at(0, optimum.tops)
        session.run()
        few = Forcing(session, session.objective())
        every = Forcing(session, session.objective())
        every._one_more = every._slopes = None
        free = [n for n in range(18) if n % 3 and optimum.amounts[n] <= 1e-6]
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
