"""Searches are made in a thread of their own, also by a copy of this process."""

import math
import os
import subprocess
import sys
from pathlib import Path

import pytest

from optimiser.solving.patience import left, within

TWICE = """
import os, signal
from optimiser import formulate, read_scenario

asked, catalogue = read_scenario("scenarios/massage_bar.toml")
cost = formulate(asked, catalogue).cost_per_kg
child = os.fork()
if child == 0:
    signal.alarm(300)
    os._exit(0 if formulate(asked, catalogue).cost_per_kg == cost else 1)
print(os.waitpid(child, 0)[1])
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork on this system")
def test_a_copy_of_a_process_that_has_searched_searches_too():
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", TWICE],
        cwd=root, capture_output=True, text=True, timeout=900, check=False,
    )  # fmt: skip
    assert (done.stdout.strip(), done.stderr) == ("0", "")


@pytest.mark.parametrize(("inner", "nodes"), [(60.0, 100.0), (None, math.inf)])
def test_what_is_searched_inside_has_no_longer_than_what_is_around(inner, nodes):
    with within(5.0, 20.0) as outer, within(inner, nodes) as patience:
        assert left() <= 5.0
        assert (patience.end, patience.nodes) == (outer.end, 20.0)
        with within(1.0, 3.0) as shorter:
            assert left() <= 1.0
            assert shorter.nodes == 3.0
