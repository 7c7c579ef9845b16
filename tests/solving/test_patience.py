"""Searches are made in a thread of their own, also by a copy of this process."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

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
