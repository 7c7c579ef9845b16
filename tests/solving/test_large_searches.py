"""A search among thousands begins from a small one: no longer, and never worse."""

import numpy as np
import pytest
from hypothesis import given

from optimiser.domain.rule import Column, Goal, Link, Programme, Row
from optimiser.solving import Infeasible, Optimum, Session, diving, optimise
from optimiser.solving.arrays import Arrays
from optimiser.solving.diving import MANY, dived
from tests.solving.random_programmes import blends, rule

GROUPS = 4


def many(size, most):
    """Few of each of four groups, of many ingredients that cost the like of others."""
    random = np.random.default_rng(1)
    figures = random.integers(30, 150, size)
    costs = random.integers(4, 40, size) / 100.0
    everything = [(i, 1.0) for i in range(size)]
    sheen = [(i, float(figures[i])) for i in range(size)]
    rules = [
        rule("total", "exact", 100, everything, per_constant=1.0),
        rule("at least", "min", 90, sheen, per_constant=100.0),
        rule("at most", "max", 95, sheen, per_constant=100.0),
    ]
    for group in range(GROUPS):
        members = range(group, size, GROUPS)
        rules += [
            rule(f"{group} min", "min", 5, [(i, 1.0) for i in members], per_constant=1),
            rule(
                f"{group} max", "max", 40, [(i, 1.0) for i in members], per_constant=1
            ),
            rule(
                f"count {group}",
                "max",
                most,
                [(size + i, 1.0) for i in members],
                per_constant=1,
            ),
        ]
    rules += [
        rule(f"least {i}", "min", 1, [(i, 1.0)], [(size + i, 1.0)]) for i in range(size)
    ]
    keys = tuple(f"i{i}" for i in range(size))
    columns = [Column("amount", key, 0.0, 100.0) for key in keys]
    columns += [Column("used", key, 0.0, 1.0, whole=True) for key in keys]
    links = [
        Link(Row.of([(i, 1.0), (size + i, -100.0)]), -np.inf, 0.0) for i in range(size)
    ]
    goal = Goal("cost", "EUR/kg", Row.of(list(enumerate(costs.tolist()))))
    return Programme(keys, tuple(columns), tuple(rules), tuple(links), (goal,))


def test_nothing_is_searched_where_the_answer_without_choices_is_reached():
    programme = many(MANY, 3)
    session = Session(programme)
    assert session.run()
    assert session._solver.getInfo().mip_node_count == 0
    assert not session.cut_short
    assert session.search_bound() == pytest.approx(session.objective(), abs=1e-9)
    found = optimise(programme)
    assert isinstance(found, Optimum)
    assert found.gap <= 1e-9


@pytest.mark.parametrize("most", [1, 2])
def test_a_large_search_finds_what_one_without_a_smaller_before_it_does(
    monkeypatch, most
):
    programme = many(MANY, most)
    found = optimise(programme).best
    monkeypatch.setattr("optimiser.solving.session.MANY", MANY + 1)
    assert found == pytest.approx(optimise(programme).best, abs=1e-7)


@given(blends(whole=True))
def test_what_is_found_near_by_keeps_every_row_and_no_formula_is_below_its_bound(
    programme,
):
    session = Session(programme)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(diving, "NEAREST", ((2, 1), (4, 2)))
        dive = dived(programme, session._solver)
    best = optimise(programme)
    if isinstance(best, Infeasible):
        assert dive.amounts is None
        return
    assert dive.bound <= best.best[0] + 1e-6
    assert dive.value >= best.best[0] - 1e-6
    if dive.amounts is not None:
        arrays = Arrays.of(programme)
        rows = arrays.activity(dive.amounts)
        assert np.all(rows >= arrays.row_lower - 1e-6)
        assert np.all(rows <= arrays.row_upper + 1e-6)
        whole = dive.amounts[arrays.whole]
        assert whole == pytest.approx(np.round(whole), abs=1e-6)
