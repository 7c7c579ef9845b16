"""A corner tried on other price lists, against solving each list."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser.domain.rule import Row
from optimiser.solving import Infeasible, optimise
from optimiser.solving.repricing import Corners
from tests.solving.random_programmes import blends
from tests.solving.test_optimise import small


def corners_of(session):
    arrays = session.arrays
    return Corners(
        arrays.matrix(), arrays.row_lower, arrays.row_upper, arrays.lower, arrays.upper
    )


def tried(optimum, costs):
    basic, idle = optimum.session.basic()
    return corners_of(optimum.session).still_best(optimum.amounts, basic, idle, costs)


def repriced(programme, costs):
    return replace(
        programme, goals=(replace(programme.goals[0], row=Row.of(enumerate(costs))),)
    )


def test_a_corner_is_kept_exactly_while_it_is_the_cheapest():
    # 40 of a, as little as may be, and the rest of c, the cheapest.
    optimum = optimise(small())
    lists = [
        [0.3, 0.2, 0.1],
        [0.3, 0.09, 0.1],  # b is cheaper
        [0.05, 0.2, 0.1],  # more of a is cheaper
        [9.0, 5.0, 4.9],
        [0.3, 0.2, -0.1],
        [-0.3, 0.2, 0.1],
    ]
    same, prices = tried(optimum, np.array(lists))
    assert same.tolist() == [0, 3, 4]
    # Each percent more in all costs what c does; of a, what it costs above c.
    assert prices == pytest.approx(np.array([[0.1, 0.2], [4.9, 4.1], [-0.1, 0.4]]))


@given(blends(most=8), st.data())
def test_a_corner_is_kept_where_and_only_where_no_other_is_better(programme, data):
    optimum = optimise(programme)
    assume(not isinstance(optimum, Infeasible))
    size = len(programme.columns)
    number = st.integers(-50, 100).map(lambda tenths: tenths / 10)
    costs = np.array(
        data.draw(
            st.lists(
                st.lists(number, min_size=size, max_size=size), min_size=1, max_size=6
            )
        )
    )
    unique = optimum.session.prices_are_unique()
    same, prices = tried(optimum, costs)
    for place, row in enumerate(costs):
        here = float(row @ optimum.amounts)
        best = optimise(repriced(programme, row)).best[0]
        if place in same:
            assert here == pytest.approx(best, rel=1e-7, abs=1e-7)
        elif unique:
            assert best < here
    assert prices.shape == (same.size, len(programme.rules))


def test_a_corner_that_is_none_is_best_for_nothing():
    optimum = optimise(small())
    basic, idle = optimum.session.basic()
    twice = np.array([[1.0, 1.0, 1.0], [2.0, 2.0, 2.0]])  # no inverse
    for corners, solved_for in (
        (corners_of(optimum.session), np.array([True, True, True])),
        (replace(corners_of(optimum.session), matrix=twice), basic),
    ):
        same, prices = corners.still_best(
            optimum.amounts, solved_for, idle, np.ones((4, 3))
        )
        assert same.shape == (0,)
        assert same.dtype == np.int64
        assert prices.shape == (0, 2)


def test_an_amount_at_its_most_may_earn_and_one_at_its_least_may_cost():
    # All a: it is full, and nothing else is in.
    programme = small(limit=10.0)
    columns = (replace(programme.columns[0], upper=30.0), *programme.columns[1:])
    costs = Row.of([(0, 0.1), (1, 0.3), (2, 0.2)])
    goal = replace(programme.goals[0], row=costs)
    optimum = optimise(replace(programme, columns=columns, goals=(goal,)))
    assert optimum.amounts == pytest.approx([30.0, 0.0, 70.0])
    lists = [[0.1, 0.3, 0.2], [0.21, 0.3, 0.2], [0.1, 0.19, 0.2], [0.19, 0.21, 0.2]]
    same, prices = tried(optimum, np.array(lists))
    assert same.tolist() == [0, 3]
    assert prices == pytest.approx(np.array([[0.2, 0.0], [0.2, 0.0]]))
    # What is off its bound by rounding only, for its size, is at it.
    basic, idle = optimum.session.basic()
    near = optimum.amounts - np.array([2e-8, 0.0, 0.0])
    same, _ = corners_of(optimum.session).still_best(near, basic, idle, np.array(lists))
    assert same.tolist() == [0, 3]
