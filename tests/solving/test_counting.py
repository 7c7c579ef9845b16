"""A question in counts alone asks the same as one of amounts and counts."""

import numpy as np
import pytest

from optimiser.domain.rule import Column, Goal, Link, Programme, Row
from optimiser.solving import Infeasible, optimise
from optimiser.solving.arrays import Arrays
from optimiser.solving.counting import counted
from tests.solving.random_programmes import rule

STEP, REST = 0.5, 0.2
# a and b come in steps, one of them with a rest; c is free, and d told as much as c.
KEYS = "abcd"
COLUMNS = (
    Column("amount", "a", 4.0, 30.0),
    Column("amount", "b", 0.0, 100.0),
    Column("amount", "c", 0.0, 100.0),
    Column("amount", "d", 0.0, 100.0),
    Column("steps", "a", 0.0, 200.0, whole=True),
    Column("steps", "b", 0.0, 200.0, whole=True),
    Column("takes the rest", "b", 0.0, 1.0, whole=True),
    Column("used", "b", 0.0, 1.0, whole=True),
)


def programme(*more, total=100.0):
    return Programme(
        tuple(KEYS),
        COLUMNS,
        (
            rule("total", "exact", total, [(i, 1.0) for i in range(4)], per_constant=1),
            rule("b", "min", 10.2, [(1, 1.0)], per_constant=1.0),
            *more,
        ),
        (
            Link(Row.of([(0, 1.0), (4, -STEP)]), 0.0, 0.0),
            Link(Row.of([(1, -2.0), (5, 2 * STEP), (6, 2 * REST)]), 0.0, 0.0),
            Link(Row.of([(2, 1.0), (3, -1.0)]), 0.0, 0.0),
            Link(Row.of([(1, 1.0), (7, -100.0)]), -np.inf, 0.0),
        ),
        (
            Goal("cost", "EUR/kg", Row.of([(0, 0.1), (1, 0.3), (2, 0.2), (7, 0.01)])),
            Goal("less c", "points", Row.of([(2, 1.0)])),
        ),
    )


def test_amounts_told_by_counts_are_no_columns_and_all_else_stays():
    asked = programme()
    arrays = Arrays.of(asked)
    small = counted(asked, arrays)
    assert small.left.tolist() == [2, 3, 4, 5, 6, 7]
    assert small.programme.ingredients == ("c", "d")
    assert [each.key for each in small.programme.columns] == list("cdabbb")
    own = np.array([7.0, 3.0, 11.0, 40.0, 1.0, 1.0])
    amounts = small.told @ own
    assert amounts == pytest.approx([5.5, 20.2, *own])
    here, there = small.arrays.activity(own), arrays.activity(amounts)
    rows = [0, 1, 4, 5]
    assert here[rows] == pytest.approx(there[rows])
    assert there[[2, 3]] == pytest.approx(0.0)
    assert here[[2, 3]] == pytest.approx(amounts[:2])
    assert small.arrays.row_lower[[2, 3]].tolist() == [4.0, 0.0]
    assert small.arrays.row_upper[[2, 3]].tolist() == [30.0, 100.0]
    for one, other in zip(small.programme.goals, asked.goals, strict=True):
        assert one.at(own) == pytest.approx(other.at(amounts))


def test_the_bounds_of_an_amount_in_steps_are_kept():
    found = optimise(programme())
    # a is the cheapest up to its 30, and b, the dearest, has its least: 20 and a rest.
    assert found.amounts[:4] == pytest.approx([30.0, 10.2, 29.9, 29.9])
    assert found.amounts[4:] == pytest.approx([60.0, 20.0, 1.0, 1.0])
    assert found.best[0] == pytest.approx(3.0 + 3.06 + 5.98 + 0.01)


def test_where_no_counts_do_there_is_no_formula():
    little = rule("little a", "max", 3.9, [(0, 1.0)], per_constant=1.0)
    assert isinstance(optimise(programme(little)), Infeasible)


def test_a_question_without_steps_stays_as_it_is():
    asked = programme()
    plain = Programme(asked.ingredients, COLUMNS, asked.rules, (), asked.goals)
    assert counted(plain, Arrays.of(plain)) is None
