"""Many price lists: each as if it were asked alone, and all proved together."""

from importlib import import_module

import numpy as np
import pytest
from msgspec.structs import replace

from optimiser.domain.rule import Goal, Row
from optimiser.errors import ProofError
from optimiser.solving import Infeasible, Session, optimise, reprice
from tests.benchmarks.test_speed import blend
from tests.benchmarks.test_sweep_speed import price_lists
from tests.solving.random_programmes import rule
from tests.solving.test_optimise import small
from tests.solving.test_proof import answering

MODULE = import_module("optimiser.solving.repricing")


def less_of_a():
    """As `small`, but first a is to be little, within 5 of the least."""
    programme = small()
    first = Goal("less a", "points", Row.of([(0, 1.0)]), slack=5.0)
    return replace(programme, goals=(first, *programme.goals))


def random_lists(count):
    return np.random.default_rng(3).integers(1, 30, (count, 3)) / 10


def counted(monkeypatch, where, name):
    calls, own = [], getattr(where, name)

    def call(*args):
        calls.append(args)
        return own(*args)

    monkeypatch.setattr(where, name, call)
    return calls


@pytest.mark.parametrize("programme", [small(), less_of_a()], ids=["one", "two"])
def test_every_list_is_answered_as_if_asked_alone_and_proved_at_once(
    monkeypatch, programme
):
    lists = random_lists(60)
    first = counted(monkeypatch, MODULE, "optimise")
    warm = counted(monkeypatch, Session, "resolve_with_costs")
    result = reprice(programme, lists)
    assert len(first) == 1  # none had to be solved again
    assert len(warm) <= 8  # as many as there are corners, and some
    for number, costs in enumerate(lists):
        cost = replace(programme.goals[-1], row=Row.of(enumerate(costs)))
        fresh = optimise(replace(programme, goals=(*programme.goals[:-1], cost)))
        assert result.values[number] == pytest.approx(fresh.best[-1], rel=1e-7)
        assert result.values[number] == pytest.approx(costs @ result.amounts[number])
    assert result.gaps.max() <= 1e-6


def test_a_list_that_cannot_be_proved_is_solved_again_at_its_own_prices(monkeypatch):
    lists = np.array([[0.3, 0.2, 0.1], [0.3, 0.1, 0.2], [0.3, 0.1, 0.1]])
    monkeypatch.setattr(Session, "resolve_with_costs", answering([40.0, 59.0, 1.0]))
    result = reprice(small(), lists)
    assert result.values == pytest.approx([18.0, 18.0, 18.0])
    assert result.amounts[:2] == pytest.approx(
        np.array([[40.0, 0.0, 60.0], [40.0, 60.0, 0.0]])
    )
    assert result.gaps.max() <= 1e-6


def test_an_answer_that_is_no_number_is_not_proved(monkeypatch):
    monkeypatch.setattr(Session, "resolve_with_costs", answering([np.nan] * 3))
    result = reprice(small(), np.array([[0.3, 0.2, 0.1]]))
    assert result.amounts[0] == pytest.approx([40.0, 0.0, 60.0])


@pytest.mark.parametrize(
    ("amounts", "kept"),
    [
        ([39.999, 0.0, 60.001], False),  # a too low
        ([40.00001, 0.0, 59.99999], True),
        ([39.99999, 0.0, 60.00001], True),  # by rounding: 1e-6 of 40
        ([40.0, 0.0, 60.001], False),  # more than 100
        ([40.0, 0.0, 59.999], False),
        ([70.001, 0.0, 29.999], False),  # a too high
        ([70.0, 0.0, 30.0], True),
    ],
)
def test_each_side_of_each_row_is_looked_at(monkeypatch, amounts, kept):
    alike = np.full((2, 3), 1e-3)  # no gap tells anything
    most = rule("a max", "max", 70, [(0, 1.0)], per_constant=1.0)
    programme = replace(small(), rules=(*small().rules, most))
    monkeypatch.setattr(Session, "resolve_with_costs", answering(amounts))
    again = counted(monkeypatch, MODULE, "optimise")
    result = reprice(programme, alike)
    assert len(again) == (1 if kept else 3)
    if kept:
        assert result.amounts.tolist() == [amounts, amounts]


def test_nothing_comes_of_rules_that_clash():
    lists = random_lists(2)
    assert reprice(small(limit=101.0), lists) is None
    last = Goal("less c", "points", Row.of([(2, 1.0)]))
    clash = small(limit=101.0)
    assert reprice(replace(clash, goals=(*clash.goals, last)), lists) is None


def test_a_list_that_takes_the_formula_away_is_an_error(monkeypatch):
    monkeypatch.setattr(Session, "resolve_with_costs", answering([0.0, 0.0, 100.0]))
    own, calls = MODULE.optimise, []

    def only_once(programme):
        calls.append(programme)
        found = own(programme)
        return found if len(calls) == 1 else Infeasible(found.session)

    monkeypatch.setattr(MODULE, "optimise", only_once)
    with pytest.raises(ProofError, match=r"^a price list took the formula away$"):
        reprice(small(), random_lists(1))


def test_progress_is_told_now_and_then(monkeypatch):
    monkeypatch.setattr(MODULE._Repricing, "TOLD_EVERY", 1)
    told = []
    reprice(small(), random_lists(40), told.append)
    assert told == sorted(told)
    assert told[0] >= 1
    assert told[-1] == 40


def test_lists_asked_one_by_one_are_told_one_by_one():
    programme, told = small(), []
    last = Goal("less c", "points", Row.of([(2, 1.0)]))
    lists = random_lists(3)
    result = reprice(
        replace(programme, goals=(*programme.goals, last)), lists, told.append
    )
    assert told == [1, 2, 3]
    assert result.gaps.max() <= 1e-6
    assert result.values == pytest.approx(reprice(programme, lists).values)


def test_other_prices_take_fewer_steps_from_the_corner_than_other_limits_would(
    monkeypatch,
):
    programme, costs = blend(50, 60)
    lists = price_lists(costs, 200)
    steps, own = [], Session.resolve_with_costs

    def counting(session, prices):
        found = own(session, prices)
        steps.append(session._solver.getInfo().simplex_iteration_count)
        return found

    monkeypatch.setattr(Session, "resolve_with_costs", counting)
    proved = reprice(programme, lists)
    taken, lists_solved = sum(steps), len(steps)
    monkeypatch.setattr(Session, "expect_other_costs", lambda _: None)
    steps.clear()
    again = reprice(programme, lists)
    assert again.values == pytest.approx(proved.values)
    assert taken / lists_solved < 0.7 * sum(steps) / len(steps)
