"""How much Hypothesis tries, and that what one test leaves costs no other anything."""

import gc
import os

import pytest
from hypothesis import settings

from optimiser.solving import patience

# No test reads, or writes, what this user's own runs have kept.
os.environ["OPTIMISER_NO_CACHE"] = "tests"

# A little at the desk, more when asked to be thorough.
settings.register_profile("desk", max_examples=50, deadline=None)
settings.register_profile(
    "thorough", max_examples=500, deadline=None, derandomize=True, print_blob=True
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "desk"))


# Coverage makes a test more than twice as slow. These walk a path many times, or try
# otherwise what is covered elsewhere; what they alone reach does not count as covered.
UNCOVERED = (
    "tests/cli/test_first_week.py",
    "tests/cli/test_guide.py",
    "tests/cli/test_kept_pages.py",
    "tests/cli/test_law_on_every_page.py",
    "tests/cli/test_spreadsheets.py::test_a_spreadsheet_holds",
    "tests/cli/test_tradeoff.py",
    "tests/cli/test_variants.py",
    "tests/explaining/test_answers.py",
    "tests/explaining/test_hard_questions.py",
    "tests/explaining/test_ingredient_prices.py",
    "tests/explaining/test_prices.py",
    "tests/explaining/test_second_opinion.py",
    "tests/explaining/test_ways_out.py",
    "tests/explaining/test_why.py",
    "tests/faults/",
    "tests/fuzz/",
    "tests/published/",
    "tests/random_scenarios/",
    "tests/reading/test_names_of_the_law.py",
    "tests/reading/test_one_way_for_names.py",
    "tests/rules/test_rule_list.py",
    "tests/science/test_equilibrium.py",
    "tests/solving/test_slack.py",
    "tests/studies/test_like_for_like.py",
    "tests/studies/test_melting_in_studies.py",
    "tests/studies/test_trials.py",
    "tests/studies/test_variants.py",
    "tests/survey/test_classes.py",
    "tests/survey/test_published.py",
    "tests/test_architecture.py",
    "tests/web/test_in_a_browser.py",
    "tests/web/test_moving.py::test_two_hundred_quick_changes",
)


def pytest_collection_modifyitems(items):
    for item in items:
        if item.nodeid.startswith(UNCOVERED):
            item.add_marker("no_cover")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_setup(item):
    """What is not covered is made ready uncovered too, fixtures and all."""
    measuring = getattr(
        item.config.pluginmanager.getplugin("_cov"), "cov_controller", None
    )
    if measuring is None or item.get_closest_marker("no_cover") is None:
        return (yield)
    measuring.pause()
    try:
        return (yield)
    finally:
        measuring.resume()


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
