"""What the proof, and the second looks at an answer, must notice."""

from importlib import import_module
from types import SimpleNamespace

import numpy as np
import pytest
from msgspec.structs import replace

from optimiser.domain.rule import Column, Goal, Link, Programme, Row
from optimiser.errors import ProofError
from optimiser.solving import Session, optimise, reprice
from optimiser.solving.arrays import Arrays
from optimiser.solving.proof import worst_violation
from tests.solving.random_programmes import rule
from tests.solving.test_optimise import TOTAL, small

# The package names the function so too.
MODULE = import_module("optimiser.solving.optimise")
CBC = import_module("optimiser.solving.cbc")


def linked():
    """As `small`, and a helping column that says by how much a is above 50."""
    programme = small()
    return replace(
        programme,
        columns=(*programme.columns, Column("moved", "a")),
        links=(Link(Row.of([(0, 1.0), (3, -1.0)]), -np.inf, 50.0),),
    )


def violation(programme, amounts):
    return worst_violation(programme, Arrays.of(programme), np.array(amounts))


@pytest.mark.parametrize("missing", [0.01, 1e-4])
def test_a_rule_broken_by_little_is_broken(missing):
    with pytest.raises(ProofError, match="breaks 'a min'"):
        violation(small(), [40.0 - missing, 0.0, 60.0 + missing])


def test_a_rule_missed_by_rounding_is_kept_and_told_by_how_much():
    assert violation(small(), [40.0 - 1e-7, 0.0, 60.0]) == pytest.approx(1e-7)
    assert violation(small(), [40.0, 0.0, 60.0]) == 0.0


@pytest.mark.parametrize(
    ("amounts", "broken"),
    [
        ([60.0, 0.0, 40.0, 10.0], False),
        ([60.0, 0.0, 40.0, 10.0 - 1e-5], False),  # a ten-millionth of the amounts
        ([60.0, 0.0, 40.0, 10.0 - 1e-4], True),  # 60 is 10 above 50
        ([60.0, 0.0, 40.0, 9.99], True),
        ([40.0, -0.01, 60.01, 0.0], True),
        ([40.0, 0.0, 60.0, -0.01], True),
    ],
)
def test_a_broken_definition_or_bound_is_noticed(amounts, broken):
    if not broken:
        assert violation(linked(), amounts) == 0.0
        return
    with pytest.raises(ProofError, match="definition of the model"):
        violation(linked(), amounts)


def test_an_upper_bound_is_noticed_too():
    programme = small()
    columns = (replace(programme.columns[0], upper=30.0), *programme.columns[1:])
    with pytest.raises(ProofError, match="definition of the model"):
        violation(replace(programme, columns=columns), [40.0, 0.0, 60.0])


@pytest.mark.parametrize(
    ("gap", "enough"), [(1e-2, False), (1.5e-6, False), (5e-7, True), (1e-8, True)]
)
def test_an_answer_that_is_not_proved_to_a_millionth_is_not_given(
    monkeypatch, gap, enough
):
    monkeypatch.setattr(MODULE, "duality_gap", lambda *_: np.float64(gap))
    if enough:
        assert optimise(small()).gap == gap
        return
    with pytest.raises(ProofError, match="could not be proved best"):
        optimise(small())


@pytest.mark.parametrize(
    ("off", "agree"), [(1e-2, False), (1e-4, False), (1e-8, True), (None, False)]
)
def test_cbc_may_not_disagree(monkeypatch, off, agree):
    best = optimise(small()).amounts

    def cbc(_problem):
        return None if off is None else best * (1.0 + off)

    monkeypatch.setattr(CBC, "solve_with_cbc", cbc)
    if agree:
        assert optimise(small(), solver="cbc").amounts == pytest.approx(best)
        return
    with pytest.raises(ProofError, match="the solvers disagree on cost"):
        optimise(small(), solver="cbc")


def test_cbc_is_told_how_much_room_an_earlier_aim_leaves(monkeypatch):
    change = Goal("change", "points", Row.of([(1, 1.0), (2, 1.0)]), slack=5.0)
    programme = small()
    most = rule("a max", "max", 80, [(0, 1.0)], per_constant=1.0)
    both = replace(
        programme,
        rules=(*programme.rules, most),
        goals=(change, *programme.goals),
    )
    told = []
    solve = CBC.to_pulp

    def to_pulp(arrays, goal, holds=()):
        told.append([top for _, top in holds])
        return solve(arrays, goal, holds)

    monkeypatch.setattr(CBC, "to_pulp", to_pulp)
    optimise(both, solver="cbc")
    assert told == [[], [pytest.approx(25.0, abs=1e-5)]]
    assert told[1][0] > 25.0  # rounding may not make the next aim impossible


def test_an_answer_holds_no_rounding(monkeypatch):
    corner = Session.corner

    def off_by_rounding(session):
        here = corner(session)
        return replace(here, amounts=here.amounts + np.array([0, 0, 0, 5e-10]))

    monkeypatch.setattr(Session, "corner", off_by_rounding)
    assert optimise(linked()).amounts[3] == 0.0


@pytest.mark.parametrize(("gap", "enough"), [(1e-6, True), (1e-3, False)])
def test_how_far_a_search_was_proved_is_part_of_the_proof(monkeypatch, gap, enough):
    used = (*small().columns, Column("used", "b", 0.0, 1.0, whole=True))
    link = Link(Row.of([(1, 1.0), (3, -100.0)]), -np.inf, 0.0)
    programme = replace(small(), columns=used, links=(link,))
    monkeypatch.setattr(Session, "search_bound", lambda _: 18.0 * (1.0 - gap))
    if enough:
        assert optimise(programme).gap == pytest.approx(gap, rel=1e-3)
        return
    with pytest.raises(ProofError, match="could not be proved best"):
        optimise(programme)


# -- many price lists ---------------------------------------------------------------


def answering(amounts):
    """A solver that keeps its prices and tells other amounts."""
    resolve = Session.resolve_with_costs

    def resolve_with_costs(session, costs):
        found = resolve(session, costs)
        return SimpleNamespace(col_value=amounts, row_dual=found.row_dual)

    return resolve_with_costs


def test_a_swept_formula_that_breaks_a_rule_is_solved_again(monkeypatch):
    alike = np.array([[0.1, 0.1, 0.1]])  # no formula costs more than another
    monkeypatch.setattr(Session, "resolve_with_costs", answering([0.0, 0.0, 100.0]))
    result = reprice(small(), alike)
    assert result.amounts[0, 0] >= 40.0 - 1e-6
    assert result.amounts[0].sum() == pytest.approx(100.0)
    assert result.gaps[0] <= 1e-6
    assert result.values == pytest.approx([10.0])


def test_a_swept_formula_that_is_not_the_cheapest_is_solved_again(monkeypatch):
    costs = np.array([[0.3, 0.2, 0.1]])
    monkeypatch.setattr(Session, "resolve_with_costs", answering([40.0, 0.1, 59.9]))
    result = reprice(small(), costs)
    assert result.amounts[0] == pytest.approx([40.0, 0.0, 60.0])
    assert result.values == pytest.approx([18.0])
    assert result.gaps[0] <= 1e-6


def test_a_swept_formula_holds_no_rounding(monkeypatch):
    rounded = [40.0, -5e-10, 60.0]
    monkeypatch.setattr(Session, "resolve_with_costs", answering(rounded))
    assert reprice(small(), np.array([[0.3, 0.2, 0.1]])).amounts[0, 1] == 0.0


def test_what_a_swept_formula_costs_is_told_where_cost_only_comes_first():
    programme = small()
    cost = replace(programme.goals[0], slack=1.0)
    less = Goal("less of c", "points", Row.of([(2, 1.0)]))
    result = reprice(
        replace(programme, goals=(cost, less)), np.array([[0.3, 0.2, 0.1]])
    )
    # 18 is the least; 1 more turns 10 of c into b.
    assert result.values == pytest.approx([19.0])
    assert result.amounts[0] == pytest.approx([40.0, 10.0, 50.0])


# -- one corner or more -------------------------------------------------------------


@pytest.mark.parametrize(
    ("more", "costs", "prices", "answer"),
    [
        ((), (0.3, 0.2, 0.1), True, True),
        ((), (0.3, 0.1, 0.1), True, False),  # b or c
        # At least 40 of a is at most 60 of b and c.
        (("max", 60, ((1, 1.0), (2, 1.0))), (0.3, 0.2, 0.1), False, True),
        (("max", 61, ((1, 1.0), (2, 1.0))), (0.3, 0.2, 0.1), True, True),
        (("min", 60, ((2, 1.0),)), (0.3, 0.2, 0.1), False, True),
    ],
)
def test_one_set_of_prices_and_one_answer_are_told(more, costs, prices, answer):
    programme = small()
    rules = programme.rules
    if more:
        side, limit, row = more
        rules = (*rules, rule("more", side, limit, row, per_constant=1.0))
    goal = replace(programme.goals[0], row=Row.of(enumerate(costs)))
    session = optimise(replace(programme, rules=rules, goals=(goal,))).session
    assert session.prices_are_unique() is prices
    assert session.answer_is_unique() is answer


def test_a_full_amount_is_not_the_only_set_of_prices():
    programme = Programme(
        ingredients=("a", "b", "c"),
        columns=tuple(Column("amount", key, 0.0, 100.0) for key in "abc"),
        rules=(rule("total", "exact", 100, TOTAL, per_constant=1.0),),
        links=(),
        goals=(Goal("cost", "EUR/kg", Row.of([(0, 0.1), (1, 0.2), (2, 0.3)])),),
    )
    assert optimise(programme).session.prices_are_unique() is False


# What a solver prints would stand in the middle of a report, or of its JSON.
@pytest.mark.parametrize("solver", ["highs", "cbc"])
def test_a_solver_says_nothing_on_the_screen(solver, capfd):
    optimise(small(), solver=solver)
    assert capfd.readouterr() == ("", "")
