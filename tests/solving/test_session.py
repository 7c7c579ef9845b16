"""The solver kept alive: what it is asked, and that everything is put back."""

import numpy as np
import pytest
from msgspec.structs import replace

from optimiser.domain.rule import Column, Goal, Link, Row
from optimiser.errors import ProofError
from optimiser.solving import (
    Infeasible,
    Session,
    SolverError,
    attempted,
    is_better,
    optimise,
)
from optimiser.solving.session import FAR
from tests.solving.random_programmes import rule
from tests.solving.test_optimise import small


def solved(session):
    assert session.run()
    return session.objective()


def opened(programme=None):
    """Least cost is 18: 40 of a at 0.3, 60 of c at 0.1."""
    optimum = optimise(programme or small())
    optimum.session.aim_at(len(optimum.best) - 1, optimum.tops)
    assert optimum.session.run()
    return optimum.session


def test_a_limit_is_moved_and_put_back():
    session = opened()
    session.move(1, 50.0)
    assert solved(session) == pytest.approx(20.0)
    session.restore(1)
    assert solved(session) == pytest.approx(18.0)


def test_a_rule_is_let_go_and_brought_back():
    session = opened()
    session.free(1)
    assert solved(session) == pytest.approx(10.0)
    session.restore(1)
    assert solved(session) == pytest.approx(18.0)


def test_an_exact_rule_moves_both_its_sides():
    session = opened()
    session.move(0, 110.0)
    assert solved(session) == pytest.approx(19.0)
    session.move(0, 90.0)
    assert solved(session) == pytest.approx(17.0)


def test_a_window_moves_its_coefficients():
    window = rule("window", "max", 0.5, [(2, 1.0)], [(0, 1.0), (1, 1.0), (2, 0.5)])
    programme = small()
    programme = replace(programme, rules=(*programme.rules, window))
    session = opened(programme)

    def least(limit):
        # c <= limit (a + b + c/2) and a + b + c = 100, a = 40: b makes up the rest.
        c = 100.0 * limit / (1.0 + limit / 2.0)
        return 12.0 + 0.2 * (60.0 - c) + 0.1 * c

    assert solved(session) == pytest.approx(least(0.5))
    session.move(2, 0.7)
    assert solved(session) == pytest.approx(least(0.7))
    session.move(2, 0.3)
    assert solved(session) == pytest.approx(least(0.3))
    session.restore(2)
    assert solved(session) == pytest.approx(least(0.5))


def test_rules_that_move_together_do():
    first = replace(small().rules[1], id="first")
    second = rule("b min", "min", 20, [(1, 1.0)], per_constant=1.0)
    programme = replace(
        small(), rules=(small().rules[0], first, replace(second, moves_with="first"))
    )
    session = opened(programme)
    assert session.has_tangents
    assert session.together(0) == (0,)
    assert session.together(1) == session.together(2) == (1, 2)
    assert solved(session) == pytest.approx(20.0)
    session.move(1, 43.0)  # b min becomes 23
    assert solved(session) == pytest.approx(0.3 * 43 + 0.2 * 23 + 0.1 * 34)
    session.restore(1)
    assert solved(session) == pytest.approx(20.0)
    assert not opened().has_tangents


def test_a_price_is_charged_and_taken_back():
    session = opened()
    session.charge(2, 0.25)
    assert solved(session) == pytest.approx(0.3 * 40 + 0.2 * 60)
    session.charge(2, None)
    assert solved(session) == pytest.approx(18.0)


def test_an_ingredient_is_forced_in():
    session = opened()
    session.bound(1, 10.0, 100.0)
    assert solved(session) == pytest.approx(19.0)


def test_a_wish_and_a_goal_held_last_until_the_next_aim():
    session = opened()
    session.hold(19.0)
    session.wish(np.array([0.0, -1.0]))  # as much b as 19 allows
    assert solved(session) == pytest.approx(-10.0)
    assert session.corner().amounts == pytest.approx([40.0, 10.0, 50.0])
    session.aim_at(0, ())
    assert solved(session) == pytest.approx(18.0)
    session.wish(np.array([0.0, -1.0, 0.0]))
    assert solved(session) == pytest.approx(-60.0)


def test_nothing_is_aimed_at_where_only_an_answer_is_asked_for():
    session = opened()
    session.aim_at_nothing()
    assert solved(session) == 0.0
    session.move(1, 101.0)
    assert not session.run()


def test_an_earlier_goal_is_held_at_its_top_and_a_later_one_is_free():
    programme = small()
    less_c = Goal("less c", "points", Row.of([(2, 1.0)]))
    session = opened(replace(programme, goals=(*programme.goals, less_c)))
    session.aim_at(1, [20.0, -5.0])
    assert solved(session) == pytest.approx(40.0)
    session.aim_at(0, [0.0])
    assert solved(session) == pytest.approx(18.0)


def test_reduced_costs_tell_what_a_little_of_each_costs():
    assert opened().reduced_costs() == pytest.approx([0.0, 0.1, 0.0])
    # c is held by an earlier aim: a percent of b then takes the place of a.
    programme = small()
    less = Goal("less c", "points", Row.of([(2, 1.0)]), slack=50.0)
    most = rule("a max", "max", 45, [(0, 1.0)], per_constant=1.0)
    spare = replace(
        programme, rules=(*programme.rules, most), goals=(less, *programme.goals)
    )
    session = opened(spare)
    assert session.corner().amounts == pytest.approx([40.0, 10.0, 50.0])
    assert session.reduced_costs() == pytest.approx([0.0, 0.0, 0.0], abs=1e-12)


def test_ranges_tell_between_which_bounds_the_prices_hold():
    low, high = opened().bound_ranges()
    assert [low[1], high[1]] == pytest.approx([0.0, 100.0])
    tied = replace(small(), goals=(Goal("none", "", Row.of([(0, 1.0)])),))
    assert opened(tied).bound_ranges() is None  # b or c
    double = rule("b and c", "max", 60, [(1, 1.0), (2, 1.0)], per_constant=1.0)
    corner = replace(small(), rules=(*small().rules, double))
    assert opened(corner).bound_ranges() is None


def test_ranges_of_a_corner_with_more_prices_are_told_one_way():
    low, high = opened().corner_ranges()
    assert [low[1], high[1]] == pytest.approx([0.0, 100.0])
    # At least 40 of a is at most 60 of b and c: the corner rests on one of both.
    double = rule("b and c", "max", 60, [(1, 1.0), (2, 1.0)], per_constant=1.0)
    corner = replace(small(), rules=(*small().rules, double))
    low, high = opened(corner).corner_ranges()
    told = {n: (low[n], high[n]) for n in (1, 2) if not np.isnan(low[n])}
    ways = {1: pytest.approx((40.0, 100.0))}, {2: pytest.approx((0.0, 60.0))}
    assert told in ways


def test_a_clash_is_told_in_rows():
    most = rule("a max", "max", 30, [(0, 1.0)], per_constant=1.0)
    idle = rule("b max", "max", 90, [(1, 1.0)], per_constant=1.0)
    found = optimise(replace(small(), rules=(*small().rules, idle, most)))
    assert isinstance(found, Infeasible)
    assert found.session.conflicting_rows() == {1, 3}


@pytest.mark.parametrize(
    ("number", "direction", "slope", "wanted"),
    [
        (1, 1.0, 0.2, 60.0),  # until all is a
        (1, -1.0, -0.2, 40.0),  # until there is no a
        (0, -1.0, -0.1, 60.0),  # until there is no c
        (0, 1.0, 0.1, 40.0),  # until c is 100
    ],
)
def test_a_price_reaches_to_where_the_formula_changes(number, direction, slope, wanted):
    session = opened()
    assert session.reach(number, direction, slope, 18.0) == pytest.approx(
        wanted, abs=1e-6
    )
    # Everything stands as before.
    assert solved(session) == pytest.approx(18.0)
    session.move(1, 50.0)
    assert solved(session) == pytest.approx(20.0)
    session.aim_at_nothing()
    assert session.run()


def test_a_price_of_nothing_reaches_without_end():
    most = rule("a max", "max", 50, [(0, 1.0)], per_constant=1.0)
    session = opened(replace(small(), rules=(*small().rules, most)))
    assert session.reach(2, 1.0, 0.0, 18.0) == np.inf
    assert session.reach(2, -1.0, 0.0, 18.0) == pytest.approx(10.0, abs=1e-6)
    assert FAR * 50.0 > 1e5


def test_how_far_a_price_of_a_later_aim_holds():
    programme = small()
    less = Goal("less c", "points", Row.of([(2, 1.0)]), slack=50.0)
    # At least 45 is not a: c is 45 of the 55 that are not, so that b stays.
    most = rule("a max", "max", 55, [(0, 1.0)], per_constant=1.0)
    spare = replace(
        programme, rules=(*programme.rules, most), goals=(less, *programme.goals)
    )
    optimum = optimise(spare)
    # No c at the least; then 50 of it, 40 of a and 10 of b.
    assert optimum.best == pytest.approx((0.0, 19.0))
    session = optimum.session
    session.aim_at(1, optimum.tops)
    assert session.run()
    # A point more of a takes the place of b, at 0.1, until there is no b.
    assert session.reach(1, 1.0, 0.1, 19.0) == pytest.approx(10.0, abs=1e-5)


def test_a_reach_is_told_in_the_unit_of_the_limit():
    # 200 of a over 2 is at least 4000: 40 of a. Each unit more costs 0.002.
    scaled = rule("scaled", "min", 4000, [(0, 200.0)], per_constant=2.0)
    session = opened(replace(small(), rules=(small().rules[0], scaled)))
    assert session.reach(1, 1.0, 0.002, 18.0) == pytest.approx(6000.0, rel=1e-6)


def test_a_low_price_reaches_no_further_than_it_holds():
    # Each point more of a takes the place of b, which is hardly cheaper, until there
    # is none; then of c, which is cheaper by hardly more.
    cost = Goal("cost", "EUR/kg", Row.of([(0, 0.3), (1, 0.3 - 1e-5), (2, 0.3 - 2e-5)]))
    least = rule("b and a min", "min", 50, [(0, 1.0), (1, 1.0)], per_constant=1.0)
    programme = replace(small(), goals=(cost,))
    session = opened(replace(programme, rules=(*programme.rules, least)))
    best = 0.3 * 40 + (0.3 - 1e-5) * 10 + (0.3 - 2e-5) * 50
    assert solved(session) == pytest.approx(best, rel=1e-12)
    assert session.reach(1, 1.0, 1e-5, best) == pytest.approx(10.0, abs=1e-7)


def test_a_reach_may_be_short_or_none():
    most = rule("a max", "max", 40.5, [(0, 1.0)], per_constant=1.0)
    session = opened(replace(small(), rules=(*small().rules, most)))
    assert session.reach(1, 1.0, 0.2, 18.0) == pytest.approx(0.5, abs=1e-6)
    assert session.reach(1, 1.0, 0.1, 18.0) == pytest.approx(0.0, abs=1e-6)
    assert session.reach(1, 1.0, 0.1, 17.0) == 0.0  # nothing costs so little


def test_the_last_of_two_goals_is_held():
    programme = small()
    less_b = Goal("less b", "points", Row.of([(1, 1.0)]), slack=30.0)
    session = opened(replace(programme, goals=(less_b, *programme.goals)))
    session.hold(19.0)
    session.wish(np.array([0.0, -1.0, 0.0]))
    assert solved(session) == pytest.approx(-10.0)  # 0.1 each, in place of c
    session.aim_at(1, [30.0])
    session.wish(np.array([0.0, -1.0, 0.0]))
    assert solved(session) == pytest.approx(-30.0)  # what the first aim leaves


def test_a_solver_that_is_lost_begins_anew_and_then_says_so(monkeypatch):
    session = opened()
    solver, asked = session._solver, []

    class Lost:
        def __getattr__(self, name):
            return getattr(solver, name)

        def setOptionValue(self, name, value):  # noqa: N802 - the solver's name
            asked.append((name, value))
            return solver.setOptionValue(name, value)

        def getModelStatus(self):  # noqa: N802 - the solver's name
            return "lost"

    usual = {
        name: solver.getOptionValue(name)[1]
        for name in ("presolve", "simplex_scale_strategy", "solver", "threads")
    }
    monkeypatch.setattr(session, "_solver", Lost())
    with pytest.raises(SolverError, match="the solver stopped with 'lost'"):
        session.run()
    assert ("presolve", "off") in asked
    assert ("simplex_scale_strategy", 0) in asked
    assert ("solver", "ipm") in asked
    for name, value in usual.items():
        assert solver.getOptionValue(name)[1] == value


def test_a_solver_that_is_lost_once_is_asked_again(monkeypatch):
    session = opened()
    honest, statuses = session._run_once, iter(["lost", "lost"])

    def once():
        found = honest()
        return next(statuses, found)

    monkeypatch.setattr(session, "_run_once", once)
    assert session.run()
    assert session.objective() == pytest.approx(18.0)


class Counting:
    """A solver that counts how often it is run."""

    def __init__(self, solver):
        self.solver, self.times = solver, 0

    def __getattr__(self, name):
        return getattr(self.solver, name)

    def run(self):
        """Run it once more."""
        self.times += 1
        return self.solver.run()


@pytest.mark.parametrize(
    ("change", "given", "times"),
    [
        ("aim_at", (1, [12.0]), 0),
        ("aim_at", (1, [12.5]), 1),
        ("aim_at", (0, [12.0]), 1),
        ("move", (1, 41.0), 1),
        ("wish", (np.ones(3),), 1),
        ("start_afresh", (), 1),
    ],
    ids=str,
)
def test_only_what_has_changed_is_solved_again(monkeypatch, change, given, times):
    less_a = Goal("less a", "points", Row.of([(0, 0.3)]))
    session = opened(replace(small(), goals=(less_a, *small().goals)))
    session.aim_at(1, [12.0])
    assert solved(session) == pytest.approx(18.0)
    counting = Counting(session._solver)
    monkeypatch.setattr(session, "_solver", counting)
    getattr(session, change)(*given)
    session.run()
    assert counting.times == times


def test_choices_that_are_kept_are_kept_again_where_they_were_not(monkeypatch):
    flag = Column("used", "b", 0.0, 1.0, whole=True)
    tied = Link(Row.of([(1, 1.0), (3, -100.0)]), -np.inf, 0.0)
    programme = replace(small(), columns=(*small().columns, flag), links=(tied,))
    session = opened(programme)
    assert session.corner().amounts == pytest.approx([40.0, 0.0, 60.0, 0.0])
    counting = Counting(session._solver)
    monkeypatch.setattr(session, "_solver", counting)
    session.aim_at(0, ())
    assert session.run()
    assert counting.times == 0
    session.bound(3, 1.0, 1.0)
    session.aim_at(0, ())
    assert session.run()
    assert counting.times == 1
    assert session.corner().amounts == pytest.approx([40.0, 0.0, 60.0, 0.0])


def test_what_has_not_been_solved_has_no_corner():
    with pytest.raises(ProofError, match="did not end in a corner"):
        Session(small()).prices_are_unique()


def test_costs_cannot_take_a_formula_away():
    session = opened()
    found = session.resolve_with_costs(np.array([0.3, 0.1, 0.2]))
    assert list(found.col_value)[:3] == pytest.approx([40.0, 60.0, 0.0])
    session.move(1, 101.0)
    with pytest.raises(SolverError, match="costs alone took the formula away"):
        session.resolve_with_costs(np.array([0.3, 0.1, 0.2]))


def test_which_columns_and_rows_a_corner_solves_for():
    columns, rows = opened().basic()
    assert columns.tolist() == [True, False, True]
    assert rows.tolist() == [False, False, True]  # the last is the goal's own


# -- one answer or another ------------------------------------------------------------


def with_best(*best):
    return replace(optimise(small()), best=best)


@pytest.mark.parametrize(
    ("one", "other", "better"),
    [
        ((1.0, 5.0), (2.0, 1.0), True),
        ((2.0, 1.0), (1.0, 5.0), False),
        ((1.0, 1.0), (1.0, 2.0), True),
        ((1.0, 2.0), (1.0, 2.0), False),
        ((100.0005, 1.0), (100.0, 2.0), True),  # the first is the same to 1e-5
        ((100.002, 1.0), (100.0, 2.0), False),
        ((0.000005, 1.0), (0.0, 2.0), True),
        ((99.998, 3.0), (100.0, 2.0), True),
    ],
)
def test_the_first_aim_that_differs_tells_which_is_better(one, other, better):
    assert is_better(with_best(*one), with_best(*other)) is better


def test_an_attempt_gives_an_answer_or_nothing(monkeypatch):
    found = attempted(small())
    assert found.best == pytest.approx((18.0,))
    assert attempted(small(limit=101.0)) is None

    def lost(_session):
        raise SolverError("lost")

    monkeypatch.setattr(Session, "run", lost)
    assert attempted(small()) is None
