"""Studies that search end in time, and say what they did not look for."""

import math
from importlib import import_module

import numpy as np
import pytest
from msgspec.structs import replace

from optimiser.domain.rule import Column, Goal, Link, Programme, Row
from optimiser.errors import InputError
from optimiser.presenting.studies.tradeoff import tradeoff_page
from optimiser.presenting.terminal import as_text
from optimiser.reading import shipped_folder
from optimiser.solving import SolverError, left, optimise, patience, within
from optimiser.solving.optimise import _Searched
from optimiser.solving.session import CutShortError
from optimiser.studies.made import made
from optimiser.studies.tradeoff import tradeoff
from optimiser.studies.tradeoff.curve import _Asked
from optimiser.studies.variants import variants
from tests.presenting.shown import flat
from tests.shipped import read_scenario

BAR = shipped_folder("scenarios") / "massage_bar.toml"


# To the end it takes minutes. Nodes are the same on any machine, however busy.
@pytest.mark.parametrize(("seconds", "nodes"), [(0.0, math.inf), (1e6, 1), (1e6, 500)])
def test_variants_end_in_time_and_say_what_they_may_cost_less(
    seconds, nodes, monkeypatch
):
    monkeypatch.setattr(patience, "PACE", 1.0)
    scenario, catalogue = read_scenario(BAR)
    with within(None, nodes):
        found = variants(scenario, catalogue, 8, seconds=seconds)
    widest = max(each.formula.cheaper_percent for each in found.variants)
    assert found.cut_short or widest > 0
    assert widest <= found.within_percent
    assert not found.complete


def test_variants_searched_to_the_end_are_proved():
    scenario, catalogue = read_scenario(BAR)
    found = variants(scenario, catalogue, 2)
    assert [each.formula.cheaper_percent for each in found.variants] == [0.0, 0.0]
    assert (found.cut_short, len(found.variants)) == (False, 2)


def test_no_time_at_all_leaves_the_first(monkeypatch):
    def out_of_time(*_):
        raise SolverError("out of time")

    scenario, catalogue = read_scenario(BAR)
    monkeypatch.setattr("optimiser.studies.variants._Apart.next", out_of_time)
    found = variants(scenario, catalogue, 3, seconds=5.0)
    assert (len(found.variants), found.cut_short, found.stopped) == (1, True, False)
    with pytest.raises(SolverError):
        variants(scenario, catalogue, 3)


def test_the_keyboard_keeps_what_stands(monkeypatch):
    def ended(*_):
        raise KeyboardInterrupt

    scenario, catalogue = read_scenario(BAR)
    monkeypatch.setattr("optimiser.studies.variants._Apart.next", ended)
    found = variants(scenario, catalogue, 3)
    assert (len(found.variants), found.cut_short, found.stopped) == (1, True, True)


def test_a_curve_says_how_far_off_its_points_may_be(monkeypatch):
    def cut_short(*arguments):
        found = made(*arguments)
        return replace(found, proof=replace(found.proof, gap=0.031))

    scenario, catalogue = read_scenario(BAR)
    whole = tradeoff(scenario, catalogue)
    assert whole.better_percent == 0.0
    assert "cut short" not in as_text(tradeoff_page(whole), 80)
    monkeypatch.setattr("optimiser.studies.tradeoff.curve.made", cut_short)
    cut = tradeoff(scenario, catalogue, seconds=60.0)
    assert cut.better_percent == pytest.approx(3.1)
    assert "may be up to 3.1 % less" in flat(as_text(tradeoff_page(cut), 80))


def hard():
    """Return a market split that no search ends soon: 4 sums of 30 choices, halved."""
    random = np.random.default_rng(3)
    weights = random.integers(10, 100, (4, 30)).astype(float)
    columns = [Column("choice", str(n), 0.0, 1.0, whole=True) for n in range(30)]
    columns += [Column("off", str(n), 0.0) for n in range(8)]
    links = []
    for number, row in enumerate(weights):
        over, under = 30 + 2 * number, 31 + 2 * number
        pairs = [*enumerate(row.tolist()), (over, -1.0), (under, 1.0)]
        half = float(row.sum() // 2)
        links.append(Link(Row.of(pairs), half, half))
    goal = Goal("off", "", Row.of((n, 1.0) for n in range(30, 38)))
    return Programme((), tuple(columns), (), tuple(links), (goal,))


def test_a_search_that_is_cut_short_says_how_far_off_it_may_be():
    with within(None, 500):
        found = optimise(hard())
    assert found.session.cut_short
    assert found.gap > 0.01
    assert left() == math.inf


def choice_of_two():
    """Return the least of an amount that a choice allows: 1 with it, 3 without."""
    columns = [Column("choice", "of two", 0.0, 1.0, whole=True), Column("off", "it")]
    least = Link(Row.of([(0, 2.0), (1, 1.0)]), 3.0, math.inf)
    goal = Goal("off", "", Row.of([(1, 1.0)]))
    return Programme((), tuple(columns), (), (least,), (goal,))


def found_in_haste(monkeypatch, choice, best):
    """Let a search be cut short with a choice, and what it took that to come to."""

    def cut(session):
        session.cut_short = True
        return _Searched((np.array([choice, best]),), (best,), 0.01)

    monkeypatch.setattr(import_module("optimiser.solving.optimise"), "_searched", cut)


def test_what_a_search_had_in_haste_counts_as_what_it_exactly_comes_to(monkeypatch):
    assert optimise(choice_of_two()).best == (1.0,)
    found_in_haste(monkeypatch, 0.0, 2.0)
    found = optimise(choice_of_two())
    assert found.best == (3.0,)
    assert found.gap == pytest.approx(0.01 + (3.0 - 2.0) / 2.0)


def test_choices_found_in_haste_that_do_not_hold_are_a_search_cut_short(monkeypatch):
    asked = choice_of_two()
    tight = replace(asked, columns=(asked.columns[0], Column("off", "it", 0.0, 2.0)))
    found_in_haste(monkeypatch, 0.0, 2.0)
    with pytest.raises(CutShortError, match="too early"):
        optimise(tight)


def test_a_search_within_a_search_ends_with_the_outer_one():
    with within(5.0), within(None):
        assert left() <= 5.0
        with within(60.0):
            assert left() <= 5.0


def test_no_end_of_a_curve_in_the_time_is_told(monkeypatch):
    def out_of_time(*_, **__):
        raise SolverError("out of time")

    scenario, catalogue = read_scenario(BAR)
    monkeypatch.setattr("optimiser.studies.tradeoff.curve.best", out_of_time)
    with pytest.raises(InputError, match="in the time"):
        tradeoff(scenario, catalogue, ("cost", "count"), seconds=1.0)


COUNTED = ("cost", "count")


def curve_until(monkeypatch, calls):
    """Draw a curve that the keyboard ends after so many of its points."""
    asked, solve = [], _Asked.solve

    def until(self, value):
        asked.append(value)
        if len(asked) > calls:
            raise KeyboardInterrupt
        return solve(self, value)

    monkeypatch.setattr(_Asked, "solve", until)
    scenario, catalogue = read_scenario(BAR)
    return tradeoff(scenario, catalogue, COUNTED), asked


def test_the_keyboard_keeps_the_points_of_a_curve_that_stand(monkeypatch):
    found, asked = curve_until(monkeypatch, 3)
    assert (found.cut_short, found.stopped, len(asked)) == (True, True, 4)
    across = [each.across for each in found.points]
    assert across[0] == asked[0]
    assert across[-1] > asked[3]  # the other end stands too
    told = flat(as_text(tradeoff_page(found), 80))
    assert "Stopped: these points are found, others were not looked for." in told
    assert "none is better in both" not in flat(
        as_text(tradeoff_page(found, full=True), 80)
    )


def test_one_point_of_a_curve_that_was_ended_is_not_told_as_the_whole_of_it(
    monkeypatch,
):
    found, _ = curve_until(monkeypatch, 0)
    told = flat(as_text(tradeoff_page(found), 80))
    assert "One point is found, at " in told
    assert "Nothing is to be traded" not in told


def test_a_curve_ends_when_its_time_is_up_and_says_so(monkeypatch):
    clock = iter(range(1000))
    monkeypatch.setattr("optimiser.studies.tradeoff.curve.now", lambda: next(clock))
    scenario, catalogue = read_scenario(BAR)
    shown = []
    found = tradeoff(
        scenario, catalogue, COUNTED, seconds=5.0, progress=lambda *x: shown.append(x)
    )
    assert (found.cut_short, found.stopped) == (True, False)
    assert 2 <= len(found.points) < 5
    assert shown[0] == (1, 21)
    told = flat(as_text(tradeoff_page(found), 80))
    assert "others were not looked for. --thorough does." in told


def test_a_curve_whose_time_is_enough_is_not_cut_short():
    scenario, catalogue = read_scenario(BAR)
    whole = tradeoff(scenario, catalogue, seconds=1e6)
    assert (whole.cut_short, whole.stopped) == (False, False)
    assert "not looked for" not in flat(as_text(tradeoff_page(whole, full=True), 80))
