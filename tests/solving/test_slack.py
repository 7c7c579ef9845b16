"""Aims that leave room to the next ones, with choices to be made."""

import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy.optimize import linprog

from optimiser import formulate, read_scenario
from optimiser.domain.material import Origin
from optimiser.domain.rule import Column, Goal, Link, Programme, Row
from optimiser.domain.scenario import Aim, Choice
from optimiser.explaining import trial_prices
from optimiser.explaining.answer import Answer
from optimiser.explaining.prices import price_sides
from optimiser.rules import build
from optimiser.solving import Infeasible, optimise
from optimiser.solving.arrays import Arrays, dense
from tests.solving.random_programmes import rule

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


def least_over_choices(programme):
    """Return each aim's least, over all choices one by one; None if nothing fits."""
    arrays = Arrays.of(programme)
    size = arrays.lower.size
    full, low, high = arrays.matrix(), arrays.row_lower, arrays.row_upper
    equal = low == high
    below, above = np.isfinite(high) & ~equal, np.isfinite(low) & ~equal
    flags = np.flatnonzero(arrays.whole)
    rows = [full[below], -full[above]]
    tops = [high[below], -low[above]]
    least = []
    for goal in programme.goals:
        row, found = dense(goal, size), []
        for chosen in itertools.product((0.0, 1.0), repeat=flags.size):
            lower, upper = arrays.lower.copy(), arrays.upper.copy()
            lower[flags] = upper[flags] = chosen
            answer = linprog(
                row,
                A_ub=np.vstack(rows),
                b_ub=np.concatenate(tops),
                A_eq=full[equal],
                b_eq=low[equal],
                bounds=list(zip(lower, upper, strict=True)),
                options={"primal_feasibility_tolerance": 1e-10},
            )
            if answer.status == 0:
                found.append(answer.fun)
        if not found:
            return None
        least.append(min(found))
        rows.append(row[None, :])
        tops.append(np.array([least[-1] + goal.slack + 1e-9]))
    return least


@st.composite
def programmes_with_slack(draw):
    """Blends of few out of some ingredients, and aims that leave one another room."""
    size = draw(st.integers(3, 5))
    prices = [draw(st.integers(1, 60)) / 1000 for _ in range(size)]
    base = np.array([draw(st.integers(0, 9)) for _ in range(size)], dtype=float)
    base[0] += 1.0
    base *= 100.0 / base.sum()
    columns = [Column("amount", f"i{i}", 0.0, 100.0) for i in range(size)]
    columns += [Column("used", f"i{i}", 0.0, 1.0, whole=True) for i in range(size)]
    everything = [(i, 1.0) for i in range(size)]
    flags = [(size + i, 1.0) for i in range(size)]
    most = draw(st.integers(1, 3))
    rules = [
        rule("total", "exact", 100, everything, per_constant=1.0),
        rule("count", "max", most, flags, per_constant=1.0, kind="choice"),
    ]
    links = []
    for i in range(size):
        links.append(Link(Row.of([(i, 1.0), (size + i, -100.0)]), -np.inf, 0.0))
        least = [(size + i, 1.0)]
        rules.append(rule(f"least {i}", "min", 5, [(i, 1.0)], least, kind="least"))
        if draw(st.booleans()):
            cap = draw(st.integers(30, 90))
            rules.append(rule(f"cap {i}", "max", cap, [(i, 1.0)], per_constant=1.0))
    figures = [(i, float(draw(st.integers(0, 100)))) for i in range(size)]
    floor = draw(st.integers(0, 60))
    rules.append(rule("window", "min", floor, figures, everything))
    moves = []
    for number in range(size):
        moved = len(columns)
        columns.append(Column("moved", f"i{number}"))
        row = Row.of([(number, 1.0), (moved, -1.0)])
        links.append(Link(row, -np.inf, float(base[number])))
        moves.append((moved, 1.0))
    aims = [
        Goal("cost", "EUR/kg", Row.of(enumerate(prices))),
        Goal("change", "points", Row.of(moves)),
        Goal("count", "ingredients", Row.of(flags)),
    ]
    order = draw(st.permutations(aims))[: draw(st.integers(2, 3))]
    room = {"cost": (0, 0.1, 0.5, 2), "change": (0, 1, 10, 40), "count": (0, 1)}
    goals = tuple(
        replace(aim, slack=float(draw(st.sampled_from(room[aim.name]))))
        for aim in order
    )
    return Programme(
        ingredients=tuple(f"i{i}" for i in range(size)),
        columns=tuple(columns),
        rules=tuple(rules),
        links=tuple(links),
        goals=goals,
    )


@settings(max_examples=settings.default.max_examples // 2)  # each takes long
@given(programmes_with_slack())
def test_each_aim_is_the_least_that_any_choice_allows_in_its_turn(programme):
    optimum = optimise(programme)
    wanted = least_over_choices(programme)
    if isinstance(optimum, Infeasible):
        assert wanted is None
        return
    assert optimum.best == pytest.approx(wanted, rel=1e-6, abs=1e-6)
    here = [goal.at(optimum.amounts) for goal in programme.goals]
    assert here[-1] == pytest.approx(wanted[-1], rel=1e-6, abs=1e-6)
    for value, least, goal in zip(here, wanted, programme.goals, strict=True):
        assert value <= least + goal.slack + 1e-6 * max(1.0, abs(least))
    for number, (top, goal) in enumerate(
        zip(optimum.tops, programme.goals, strict=True)
    ):
        counted = optimum.best[number] + goal.slack
        assert top == pytest.approx(counted, rel=2e-6, abs=2e-6)
        optimum.session.aim_at(number, optimum.tops)
        assert optimum.session.run()
        assert optimum.session.objective() == pytest.approx(optimum.best[number])


def one_of_two(slack):
    """Cheap or dear, one of the two only, and at most a fifth of water for nothing."""
    amounts = [Column("amount", key, 0.0, 100.0) for key in ("cheap", "dear", "water")]
    used = [Column("used", key, 0.0, 1.0, whole=True) for key in ("cheap", "dear")]
    everything, flags = [(0, 1.0), (1, 1.0), (2, 1.0)], [(3, 1.0), (4, 1.0)]
    return Programme(
        ingredients=("cheap", "dear", "water"),
        columns=(*amounts, *used),
        rules=(
            rule("total", "exact", 100, everything, per_constant=1.0),
            rule("water", "max", 20, [(2, 1.0)], per_constant=1.0),
            rule("one", "max", 1, flags, per_constant=1.0, kind="choice"),
        ),
        links=tuple(
            Link(Row.of([(i, 1.0), (i + 3, -100.0)]), -np.inf, 0.0) for i in (0, 1)
        ),
        goals=(
            Goal("cost", "EUR/kg", Row.of([(0, 0.02), (1, 0.03)]), slack=slack),
            Goal("not dear", "points", Row.of([(0, 1.0), (2, 1.0)])),
        ),
    )


def test_slack_counts_from_the_least_of_all_choices_not_of_those_kept():
    optimum = optimise(one_of_two(1.2))
    # 80 cheap and 20 water cost 1.60; 1.20 more buys 93 1/3 of what is dear.
    assert optimum.best == pytest.approx((1.6, 100.0 - 280.0 / 3.0))
    assert optimum.tops[0] == pytest.approx(2.8)
    assert optimum.amounts[1] == pytest.approx(280.0 / 3.0)
    assert optimum.amounts[3:].tolist() == [0.0, 1.0]


def test_prices_hold_for_the_least_of_all_choices_and_the_room_it_leaves():
    optimum = optimise(one_of_two(0.9))
    # 80 of the dear cost 2.40, so 2.50 leaves it 83 1/3.
    assert optimum.best == pytest.approx((1.6, 50.0 / 3.0))
    # One point more of water saves 0.02 of what is cheap: the cost answers first, by
    # the choices of its own least, not by the 0.03 of what is dear.
    water = price_sides(optimum, [1])[1]
    assert water.ease.of == "cost"
    assert water.ease.price == pytest.approx(-0.02)


def test_a_slack_of_exactly_what_another_choice_costs_allows_it():
    optimum = optimise(one_of_two(0.8))
    assert optimum.best == pytest.approx((1.6, 20.0))
    assert optimum.amounts[1] == pytest.approx(80.0)


ORDERS = [
    (Aim("cost", slack=1.0), Aim("change")),
    (Aim("change", slack=3.0), Aim("cost")),
]


@pytest.mark.parametrize("aims", ORDERS, ids=lambda aims: f"{aims[0].name} first")
@pytest.mark.parametrize(("what", "most"), [("all", 11), ("liquid oil", 2)])
@pytest.mark.parametrize("path", sorted(SCENARIOS.glob("*.toml")), ids=lambda p: p.stem)
def test_the_demos_answer_with_choices_and_room_for_the_first_aim(
    path, what, most, aims
):
    scenario, catalogue = read_scenario(path)
    wanted = Choice(what, None, most, None, Origin("test"))
    asked = replace(scenario, aims=aims, choices=(*scenario.choices, wanted))
    optimum = optimise(build(asked, catalogue))
    first = aims[0]
    assert optimum.tops[0] == pytest.approx(optimum.best[0] + first.slack)


def test_a_demo_with_a_choice_and_room_for_its_cost_is_explained(monkeypatch):
    # How finely prices are tried, each with choices made anew, is tested elsewhere.
    monkeypatch.setattr(trial_prices, "DOWN", (0.8473, 0.3943, 0.0))
    monkeypatch.setattr(trial_prices, "NARROW", 0.01)
    scenario, catalogue = read_scenario(SCENARIOS / "massage_bar_vegan_orange.toml")
    answer = formulate(replace(scenario, aims=ORDERS[0], steps=None), catalogue)
    assert isinstance(answer, Answer)
    assert answer.cost_per_kg <= answer.aims[0][1] + 1.0 + 1e-6
