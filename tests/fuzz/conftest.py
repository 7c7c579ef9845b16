"""The small workspace, made once; and how many inputs are tried."""

import os

import pytest
from hypothesis import HealthCheck, settings

from tests.fuzz.small import workspace

# FUZZ_INPUTS=100000 pytest -n 0 tests/fuzz tries so many in all, anew each time.
INPUTS = os.environ.get("FUZZ_INPUTS")
FEW = 530  # of all tests together by default; each has the same share of more


def tried(few):
    """Return the settings of a test that tries a few inputs, always the same ones."""
    return settings(
        max_examples=-(-int(INPUTS) * few // FEW) if INPUTS else few,
        derandomize=INPUTS is None,
        database=None,
        deadline=None,
        print_blob=True,
        suppress_health_check=list(HealthCheck),
    )


@pytest.fixture(scope="module")
def unhurried():
    """Seconds are those that a maker waits, for here a run must end soon."""


@pytest.fixture(scope="module")
def read_once():
    """Every file is read each time, for it is readers that are tried."""


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """Return a folder with the small workspace."""
    folder = tmp_path_factory.mktemp("small")
    workspace(folder)
    return folder
