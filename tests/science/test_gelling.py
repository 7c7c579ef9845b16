"""The gel point: found on made-up curves, and held to published gels of wax in oil."""

import pathlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.reading import read_catalogue
from optimiser.science.gelling import gel_point, reached
from optimiser.science.melting import solids

ROOT = pathlib.Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def catalogue():
    return read_catalogue(ROOT / "catalogues", None)


def straight(end, slope=1.0):
    return lambda at: np.maximum(0.0, slope * (end - at))


@given(st.floats(20.0, 80.0), st.floats(0.2, 20.0))
def test_a_straight_curve_is_read_where_it_crosses(end, slope):
    assert reached(straight(end, slope), 1.0) == pytest.approx(
        max(end - 1.0 / slope, 10.0), abs=0.02
    )


def test_a_curve_that_jumps_is_read_at_its_jump():
    found = reached(lambda at: np.where(at <= 41.03, 5.0, 0.0), 2.0)
    assert found == pytest.approx(41.0, abs=0.05)


def test_a_curve_that_is_found_a_hair_higher_the_second_time_is_read_at_the_step():
    hair = iter((-1e-9, 1e-9))

    def wavering(at):
        return np.where(at <= 40.0, 5.0, np.where(at <= 40.5, 2.0 + next(hair), 0.0))

    assert reached(wavering, 2.0) == 40.5


def test_a_melt_that_never_thickens_has_no_gel_point():
    assert reached(np.zeros_like, 1.0) is None
    assert gel_point(straight(11.5)) is None  # 1 % solid at 10.5, never 2 %


def test_what_is_solid_at_every_temperature_is_told_at_the_end_of_the_scale():
    assert reached(lambda at: np.full_like(at, 50.0), 2.0) == 95.0


def test_it_thickens_before_it_holds():
    found = gel_point(straight(40.0))
    assert (found.thickens, found.holds) == pytest.approx((39.0, 38.0))
    assert found.middle == pytest.approx(38.5)


# Sunflower wax in soybean oil: gels melt at 47 deg C with 0.5 % and 65 with 10 %
# (Hwang et al., JAOCS 89:639, 2012). The last crystals melt with the gel, so the model
# is read where a tenth of the wax is left.
@pytest.mark.parametrize(("wax", "melts"), [(0.5, 47.0), (10.0, 65.0)])
def test_sunflower_wax_gels_melt_where_they_were_measured(wax, melts, catalogue):
    formula = {"sunflower_wax": wax, "soybean_oil": 100.0 - wax}
    found = reached(lambda at: solids(formula, at, catalogue), 0.1 * wax)
    assert found == pytest.approx(melts, abs=2.0)


# Least wax that gels an oil: JAOCS 2014 (canola), JAOCS 89:639 (soybean), Gels 10:214
# (beeswax in olive and peanut oil). At room temperature such a gel must stand by the
# model too: 1 to 2 % solid, or all of its wax where it needs less.
@pytest.mark.parametrize(
    ("wax", "least"),
    [
        ("sunflower_wax", 1.0),
        ("rice_bran_wax", 1.0),
        ("candelilla_wax", 2.0),
        ("beeswax", 3.0),
        ("carnauba_wax", 4.0),
    ],
)
def test_the_least_wax_that_gels_an_oil_leaves_enough_solid_in_a_room(
    wax, least, catalogue
):
    formula = {wax: least, "rapeseed_oil": 100.0 - least}
    found = float(solids(formula, np.array([20.0]), catalogue)[0])
    assert min(1.0, 0.95 * least) <= found <= least


def bar(wax, oil=0.0):
    """Cocoa 50 : mango 50, with so much candelilla wax, and so much of an oil."""
    butter = (100.0 - wax) * (1.0 - oil / 100.0)
    return {
        "cocoa_butter": 0.5 * butter,
        "mango_butter": 0.5 * butter,
        "apricot_kernel_oil": (100.0 - wax) * oil / 100.0,
        "candelilla_wax": wax,
    }


def gel_of(formula, catalogue):
    return gel_point(lambda at: solids(formula, at, catalogue))


# Common practice: stir to about 37-38 deg C, whatever the recipe.
COMMON = (37.0, 38.0)


def test_common_practice_lies_between_bars_of_little_and_of_much_wax(catalogue):
    little, much = (gel_of(bar(wax), catalogue) for wax in (3.0, 7.0))
    assert little.thickens < COMMON[0]
    assert COMMON[1] < much.holds


@pytest.mark.parametrize(("wax", "middle"), [(0.0, 35.1), (7.0, 39.2), (10.0, 43.5)])
def test_common_practice_does_not_suit_every_amount_of_wax(wax, middle, catalogue):
    found = gel_of(bar(wax), catalogue).middle
    assert found == pytest.approx(middle, abs=0.5)
    assert not COMMON[0] <= found <= COMMON[1]


def test_oil_moves_the_gel_point_only_where_there_is_no_wax(catalogue):
    moved = {
        wax: gel_of(bar(wax), catalogue).middle
        - gel_of(bar(wax, oil=30.0), catalogue).middle
        for wax in (0.0, 7.0)
    }
    assert moved[7.0] < 0.5
    assert moved[0.0] > 1.0


def test_more_wax_never_lowers_the_gel_point_once_wax_sets_first(catalogue):
    middles = [gel_of(bar(wax), catalogue).middle for wax in (4, 5, 6, 8, 10, 15)]
    assert middles == sorted(middles)
