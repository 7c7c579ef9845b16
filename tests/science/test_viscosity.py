"""Viscosity of molten fats, against figures measured on shea butter and oils."""

import pathlib

import pytest

from optimiser.reading import read_catalogue
from optimiser.science.viscosity import at_temperature, melt_viscosity
from tests.rules import workbench as wb

ROOT = pathlib.Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def catalogue():
    return read_catalogue(ROOT / "catalogues", None)


# SpringerPlus 4:667, 2015, Table 1: two shea butters, mPa s at 40 deg C and kJ/mol
# over 35-65 deg C; carried to 38 deg C by its own law that is 83 to 109 together
# with a butter of twice the difference from cocoa butter.
@pytest.mark.parametrize(
    ("at_40", "energy", "at_38"), [(73.66, 46.81, 82.7), (96.00, 50.43, 108.7)]
)
def test_shea_thickens_by_an_eighth_from_40_to_38_degrees(at_40, energy, at_38):
    assert at_temperature(at_40, 40.0, energy, 38.0) == pytest.approx(at_38, abs=0.2)


def test_one_degree_changes_viscosity_by_a_few_percent_only():
    # So the fall of grains cannot be what makes one degree matter in practice.
    for energy in (30.0, 50.4):
        ratio = at_temperature(1.0, 38.0, energy, 37.0)
        assert 1.03 < ratio < 1.07


def test_a_viscosity_comes_back_when_cooled_and_warmed():
    there = at_temperature(50.0, 40.0, 45.0, 62.0)
    assert at_temperature(there, 62.0, 45.0, 40.0) == pytest.approx(50.0)


def test_shea_in_the_catalogue_spans_the_two_measured_butters(catalogue):
    found = melt_viscosity({"shea_butter": 100.0}, 40.0, catalogue)
    assert (found.low, found.high) == pytest.approx((73.66, 96.0))
    assert found.typical == ()


def test_cocoa_and_shea_mix_on_the_logarithm(catalogue):
    half = melt_viscosity({"cocoa_butter": 50.0, "shea_butter": 50.0}, 40.0, catalogue)
    assert half.value == pytest.approx((45.0 * 84.83) ** 0.5, rel=1e-3)


# Diamante and Lan 2014 (abstract): oils from 29.6 (walnut) to 39.8 mPa s (rice bran)
# at 38 deg C.
def test_an_oil_without_a_figure_lies_among_the_oils_measured(catalogue):
    found = melt_viscosity({"sweet_almond_oil": 100.0}, 38.0, catalogue)
    assert (found.low, found.high) == pytest.approx((29.6, 39.8))
    assert found.typical == ("sweet almond oil",)


def test_what_is_no_fat_is_left_out_and_without_fats_nothing_is_told(catalogue):
    with_sugar = {"cocoa_butter": 50.0, "sugar_fine": 50.0}
    alone = melt_viscosity({"cocoa_butter": 50.0}, 40.0, catalogue)
    assert melt_viscosity(with_sugar, 40.0, catalogue) == alone
    assert melt_viscosity({"sugar_fine": 100.0}, 40.0, catalogue) is None


def test_castor_oil_is_far_thicker_than_other_oils(catalogue):
    # 986 mPa s at 20 deg C and 231 at 40 (handbook figures).
    found = melt_viscosity({"castor_oil": 100.0}, 20.0, catalogue)
    assert found.value == pytest.approx(986.0, rel=0.02)


def test_an_oil_with_a_figure_but_no_energy_is_warmed_like_other_oils(catalogue):
    cool = melt_viscosity({"rice_bran_oil": 100.0}, 38.0, catalogue)
    warm = melt_viscosity({"rice_bran_oil": 100.0}, 48.0, catalogue)
    assert cool.value == pytest.approx(39.8)
    # 25 kJ/mol, the middle of the 21 to 30 measured on oils: a quarter less in 10 K.
    assert warm.value / cool.value == pytest.approx(0.7402, abs=0.0005)


KNOWN = wb.catalogue(
    {"hard": "hard butter", "soft": "soft butter", "wax": "wax", "oil": "liquid oil"},
    figures={"viscosity": {"wax": {90.0: 10.0, 40.0: wb.figure(80.0, 70.0, 90.0)}}},
)


# From cocoa butter (45) to shea (96), 60 between them, at 40 deg C; by 40 kJ/mol ten
# degrees more leave 0.6216 of it: exp(40 / R (1 / 323.15 - 1 / 313.15)).
@pytest.mark.parametrize("butter", ["hard", "soft"])
@pytest.mark.parametrize(("at", "left"), [(40.0, 1.0), (50.0, 0.62163)])
def test_a_butter_without_a_figure_lies_between_cocoa_butter_and_shea(butter, at, left):
    found = melt_viscosity({butter: 30.0}, at, KNOWN)
    known = (found.low, found.value, found.high)
    assert known == pytest.approx((45.0 * left, 60.0 * left, 96.0 * left), rel=1e-4)
    assert found.typical == (butter,)


@pytest.mark.parametrize(("at", "left"), [(40.0, 1.0), (50.0, 0.62163)])
def test_the_figure_of_the_nearest_temperature_is_moved_as_butters_move(at, left):
    found = melt_viscosity({"wax": 10.0}, at, KNOWN)
    known = (found.low, found.value, found.high)
    assert known == pytest.approx((70.0 * left, 80.0 * left, 90.0 * left), rel=1e-4)
    assert found.typical == ()


def test_near_ninety_degrees_the_figure_at_ninety_counts():
    assert melt_viscosity({"wax": 10.0}, 90.0, KNOWN).value == pytest.approx(10.0)


def test_what_is_not_used_changes_nothing():
    found = melt_viscosity({"wax": 10.0, "oil": 0.0}, 40.0, KNOWN)
    assert (found.value, found.typical) == (pytest.approx(80.0), ())
