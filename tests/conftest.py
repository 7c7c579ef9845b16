"""How much Hypothesis tries, and that what one test leaves costs no other anything."""

import gc
import os
from pathlib import Path
from tempfile import TemporaryDirectory

# Several run beside each other: with threads for its sums each would wait for others.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import pytest
from hypothesis import settings

from optimiser.reading import catalogue, scenario
from optimiser.solving import patience
from tests.read_once import ReadOnce

# No test reads, or writes, what this user's own runs have kept.
os.environ["OPTIMISER_NO_CACHE"] = "tests"

# A little at the desk, more when asked to be thorough.
settings.register_profile("desk", max_examples=50, deadline=None)
settings.register_profile(
    "thorough", max_examples=500, deadline=None, derandomize=True, print_blob=True
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "desk"))


COPIES = TemporaryDirectory(prefix="catalogues-")  # goes when the process ends
HELD_CATALOGUES = ReadOnce(Path(COPIES.name))


def reading_once():
    """Return a patch, undone when it is left, that reads no catalogue twice."""
    patch = pytest.MonkeyPatch()
    for module in (catalogue, scenario):
        patch.setattr(module, "gather_catalogue", HELD_CATALOGUES)
    return patch


@pytest.hookimpl(wrapper=True)
def pytest_collection():
    """Collect what stays as long as the process: it need not be looked through again.

    Many modules read the shipped catalogue as they are imported: all have the same.
    """
    patch = reading_once()
    gc.disable()
    try:
        return (yield)
    finally:
        patch.undo()
        HELD_CATALOGUES.keep()
        gc.freeze()
        gc.enable()


@pytest.fixture(autouse=True, scope="module")
def read_once():
    """Read no catalogue twice of which every byte is the same.

    Where it is reading that is tested, a fixture of this name does nothing.
    """
    patch = reading_once()
    yield
    patch.undo()


@pytest.fixture(autouse=True, scope="module")
def unhurried():
    """No answer depends on how fast the machine is: its seconds are long ones.

    What a search comes to that is cut short is tested with nodes, not with seconds.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(patience, "PACE", 20.0)
        yield


@pytest.fixture(autouse=True)
def collected(monkeypatch):
    """A run of the command line ends its process uncollected; the tests' goes on.

    What is frozen once is never looked at while the process lives, thawed or not: a
    thousand runs would keep some gigabytes.
    """
    monkeypatch.setattr(gc, "freeze", lambda: None)
    yield
    gc.enable()
