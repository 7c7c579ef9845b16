"""Studies that search end in time, and say what they did not look for."""

import time

import pytest

from optimiser.reading import shipped_folder
from optimiser.solving import SolverError
from optimiser.studies.variants import variants
from tests.shipped import read_scenario

BAR = shipped_folder("scenarios") / "massage_bar.toml"


def test_variants_end_in_time_and_say_what_they_may_cost_less():
    scenario, catalogue = read_scenario(BAR)
    start = time.monotonic()
    found = variants(scenario, catalogue, 8, seconds=1.0)
    assert time.monotonic() - start < 60  # no measure: to the end it takes minutes
    widest = max(each.cheaper_percent for each in found.variants)
    assert found.cut_short or widest > 0
    assert widest <= found.within_percent
    assert not found.complete


def test_variants_searched_to_the_end_are_proved():
    scenario, catalogue = read_scenario(BAR)
    found = variants(scenario, catalogue, 2)
    assert [each.cheaper_percent for each in found.variants] == [0.0, 0.0]
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
