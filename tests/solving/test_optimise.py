"""Optima against other solvers, and the proof that each one passes."""

import numpy as np
import pytest
from hypothesis import assume, given
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from optimiser.domain.rule import Column, Goal, Programme, Row
from optimiser.errors import ProofError
from optimiser.solving import Infeasible, optimise
from optimiser.solving.arrays import Arrays, dense
from optimiser.solving.proof import duality_gap, worst_violation
from tests.solving.random_programmes import blends, rule

TOTAL = [(0, 1.0), (1, 1.0), (2, 1.0)]


def matrix_of(arrays):
    full = np.zeros((arrays.row_lower.size, arrays.lower.size))
    rows = np.repeat(np.arange(arrays.row_lower.size), np.diff(arrays.starts))
    full[rows, arrays.columns] = arrays.values
    return full


def by_linprog(programme):
    arrays = Arrays.of(programme)
    full = matrix_of(arrays)
    equal = arrays.row_lower == arrays.row_upper
    below = np.isfinite(arrays.row_upper) & ~equal
    above = np.isfinite(arrays.row_lower) & ~equal
    return linprog(
        dense(programme.goals[0], arrays.lower.size),
        A_ub=np.vstack([full[below], -full[above]]),
        b_ub=np.concatenate([arrays.row_upper[below], -arrays.row_lower[above]]),
        A_eq=full[equal],
        b_eq=arrays.row_lower[equal],
        bounds=list(zip(arrays.lower, arrays.upper, strict=True)),
    )


@given(blends())
def test_linprog_finds_the_same_cost_or_the_same_lack_of_an_answer(programme):
    found = optimise(programme)
    other = by_linprog(programme)
    if isinstance(found, Infeasible):
        assert other.status == 2
    else:
        assert other.fun == pytest.approx(found.best[0], rel=1e-7, abs=1e-7)


@given(blends(most=7, whole=True))
def test_milp_finds_the_same_cost_when_choices_are_to_be_made(programme):
    found = optimise(programme)
    arrays = Arrays.of(programme)
    other = milp(
        dense(programme.goals[0], arrays.lower.size),
        constraints=LinearConstraint(
            matrix_of(arrays), arrays.row_lower, arrays.row_upper
        ),
        bounds=Bounds(arrays.lower, arrays.upper),
        integrality=arrays.whole.astype(int),
    )
    if isinstance(found, Infeasible):
        assert other.status == 2
    else:
        assert other.fun == pytest.approx(found.best[0], rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("whole", [False, True], ids=["continuous", "with choices"])
def test_cbc_agrees_on_random_scenarios(whole):
    agreed = 0

    @given(blends(most=6, whole=whole))
    def agrees(programme):
        nonlocal agreed
        assume(not isinstance(optimise(programme), Infeasible))
        optimise(programme, solver="cbc")  # raises ProofError where they differ
        agreed += 1

    agrees()
    assert agreed > 10


def small(limit=40.0):
    return Programme(
        ingredients=("a", "b", "c"),
        columns=tuple(Column("amount", k, 0.0, 100.0) for k in "abc"),
        rules=(
            rule("total", "exact", 100, TOTAL, per_constant=1.0),
            rule("a min", "min", limit, [(0, 1.0)], per_constant=1.0),
        ),
        links=(),
        goals=(Goal("cost", "EUR/kg", Row.of([(0, 0.3), (1, 0.2), (2, 0.1)])),),
    )


def test_a_formula_that_breaks_a_rule_does_not_pass_the_proof():
    programme = small()
    arrays = Arrays.of(programme)
    with pytest.raises(ProofError, match="breaks 'a min' by 1"):
        worst_violation(programme, arrays, np.array([39.0, 0.0, 61.0]))


def test_a_formula_that_is_not_the_cheapest_leaves_a_gap():
    programme = small()
    optimum = optimise(programme)
    arrays = Arrays.of(programme)
    costs = dense(programme.goals[0], 3)
    prices = optimum.session.corner().row_prices[:2]
    assert duality_gap(arrays, costs, optimum.amounts, prices) < 1e-9
    dearer = np.array([50.0, 0.0, 50.0])
    assert duality_gap(arrays, costs, dearer, prices) > 0.01


def test_prices_of_the_wrong_sign_prove_nothing():
    programme = small()
    arrays = Arrays.of(programme)
    costs = dense(programme.goals[0], 3)
    amounts = np.array([40.0, 0.0, 60.0])
    assert duality_gap(arrays, costs, amounts, np.array([0.1, -0.2])) == np.inf


def test_a_later_aim_is_solved_with_the_earlier_one_held():
    first = Goal("change", "points", Row.of([(1, 1.0), (2, 1.0)]), slack=5.0)
    programme = small()
    both = Programme(
        programme.ingredients,
        programme.columns,
        (*programme.rules, rule("a max", "max", 80, [(0, 1.0)], per_constant=1.0)),
        (),
        (first, *programme.goals),
    )
    optimum = optimise(both)
    assert optimum.best[0] == pytest.approx(20.0)
    # 5 points of room let 25 % be something cheaper than a.
    assert optimum.amounts == pytest.approx([75.0, 0.0, 25.0], abs=1e-6)
    assert optimise(both, solver="cbc").best == pytest.approx(optimum.best)
