"""The compositional centre, against reference libraries."""

import composition_stats
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.stats import gmean

from optimiser.studies.survey.centre import centre, closed

SHARES = arrays(
    float,
    st.tuples(st.integers(2, 8), st.integers(2, 7)),
    elements=st.floats(0.01, 100),
)


@given(SHARES)
def test_the_centre_is_that_of_the_reference_library(shares):
    expected = composition_stats.center(composition_stats.closure(shares))
    assert centre(shares) == pytest.approx(expected, abs=1e-12)


@given(SHARES)
def test_the_centre_is_the_closed_geometric_mean(shares):
    assert centre(shares) == pytest.approx(closed(gmean(closed(shares), axis=0)))


def test_a_part_is_taken_over_those_that_hold_it():
    """By hand: 0.5 and 0.8, and 1 where it is alone; 0.5 and 0.2 of the other."""
    shares = np.array([[50.0, 50.0], [80.0, 20.0], [7.0, 0.0]])
    first, other = (0.5 * 0.8 * 1.0) ** (1 / 3), (0.5 * 0.2) ** (1 / 2)
    assert centre(shares) == pytest.approx([first, other] / np.sum([first, other]))


@given(SHARES)
def test_the_centre_does_not_care_how_each_recipe_is_scaled(shares):
    scaled = shares * np.arange(1, len(shares) + 1)[:, None]
    assert centre(scaled) == pytest.approx(centre(shares))


def test_the_centre_of_one_recipe_is_that_recipe():
    assert centre(np.array([[20.0, 30.0, 50.0]])) == pytest.approx([0.2, 0.3, 0.5])


# Ratios are averaged, not shares: 1:9 and 9:1 meet at 1:1, and so do 1:99 and 99:1.
def test_the_centre_of_opposite_recipes_is_even():
    assert centre(np.array([[1.0, 99.0], [99.0, 1.0]])) == pytest.approx([0.5, 0.5])
