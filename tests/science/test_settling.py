"""Grains in molten fat: Stokes' law, crowding, holding, and how a pot cools."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.science.settling import (
    crowding,
    fall_speed,
    reynolds,
    seconds_per_kelvin,
    solids_to_hold,
    stokes_speed,
    yield_stress_to_hold,
)

FAT, VISCOSITY = 900.0, 0.048  # kg/m^3 and Pa s: cocoa butter at 38 deg C

# Stokes' law worked out by hand to two figures, v = drho g d^2 / 18 mu with g 9.81:
# um, then mm/s for grains of 1100, 1300 and 1500 kg/m^3.
SPEEDS = [
    (100, 0.0227, 0.0454, 0.0681),
    (200, 0.0908, 0.182, 0.272),
    (400, 0.363, 0.726, 1.09),
    (800, 1.45, 2.90, 4.36),
]
# Time to fall 30 mm, from the same, in seconds.
TIMES = [
    (100, 22 * 60, 11 * 60, 7.4 * 60),
    (200, 5.6 * 60, 2.8 * 60, 1.9 * 60),
    (400, 84, 42, 28),
    (800, 21, 10.3, 6.9),
]
DENSITIES = (1100.0, 1300.0, 1500.0)


@pytest.mark.parametrize(("um", "light", "middling", "heavy"), SPEEDS)
def test_grains_fall_at_the_speed_of_stokes_law(um, light, middling, heavy):
    for density, speed in zip(DENSITIES, (light, middling, heavy), strict=True):
        found = stokes_speed(um * 1e-6, density - FAT, VISCOSITY) * 1e3
        assert found == pytest.approx(speed, rel=0.005)  # three figures


@pytest.mark.parametrize(("um", "light", "middling", "heavy"), TIMES)
def test_a_thirty_millimetre_mould_is_fallen_through_in_minutes(
    um, light, middling, heavy
):
    for density, time in zip(DENSITIES, (light, middling, heavy), strict=True):
        speed = stokes_speed(um * 1e-6, density - FAT, VISCOSITY)
        assert 0.030 / speed == pytest.approx(time, rel=0.05)  # two figures


def test_water_at_twenty_degrees_lets_fine_sand_fall_as_textbooks_have_it():
    # Quartz of 0.05 mm in water at 20 deg C: 2.2 mm/s by Stokes' law (mu 1.002 mPa s).
    speed = stokes_speed(50e-6, 2650.0 - 998.2, 1.002e-3)
    assert speed * 1e3 == pytest.approx(2.245, rel=0.001)


def test_what_is_lighter_than_the_fat_rises():
    assert stokes_speed(1e-4, -50.0, 0.05) < 0.0


@pytest.mark.parametrize(
    ("diameter", "viscosity"), [(0.0, 0.05), (-1e-4, 0.05), (1e-4, 0.0), (1e-4, -0.05)]
)
def test_no_speed_without_a_size_and_a_viscosity(diameter, viscosity):
    with pytest.raises(ValueError, match="above zero"):
        stokes_speed(diameter, 100.0, viscosity)


# Richardson and Zaki 1954, (1 - phi)^4.65.
@pytest.mark.parametrize(("share", "slows"), [(0.1, 0.61), (0.3, 0.19), (0.5, 0.04)])
def test_crowded_grains_fall_slower(share, slows):
    assert crowding(share) == pytest.approx(slows, abs=0.005)
    alone = stokes_speed(4e-4, 400.0, VISCOSITY)
    assert fall_speed(4e-4, 400.0, VISCOSITY, share) == pytest.approx(
        alone * slows, rel=0.05
    )


@pytest.mark.parametrize("share", [-0.1, 1.0, 2.0])
def test_a_share_of_the_volume_lies_between_none_and_all(share):
    with pytest.raises(ValueError, match="share"):
        crowding(share)


def test_the_largest_of_these_grains_are_still_within_stokes_law():
    speed = stokes_speed(8e-4, 600.0, VISCOSITY)
    assert reynolds(speed, 8e-4, FAT, VISCOSITY) < 0.07


def test_the_reynolds_number_is_inertia_over_viscosity():
    # rho v d / mu: 900 * 2e-3 * 5e-4 / 0.05, of a grain that rises as of one that falls
    assert reynolds(2e-3, 5e-4, 900.0, 0.05) == pytest.approx(0.018)
    assert reynolds(-2e-3, 5e-4, 900.0, 0.05) == pytest.approx(0.018)


# 0.048 (theory) to 0.2 (experiment) times drho g d, grains of 1300 kg/m^3: Pa.
@pytest.mark.parametrize(
    ("um", "low", "high"),
    [(100, 0.019, 0.078), (200, 0.038, 0.157), (400, 0.075, 0.314), (800, 0.15, 0.628)],
)
def test_a_fraction_of_a_pascal_holds_a_grain(um, low, high):
    found = yield_stress_to_hold(um * 1e-6, 400.0)
    assert found == pytest.approx((low, high), rel=0.02)


def test_between_a_fifth_and_two_percent_of_crystals_hold_grains():
    ends = [solids_to_hold(um * 1e-6, 400.0) for um in (100, 800)]
    assert ends[0][0] == pytest.approx(0.14, abs=0.02)
    assert ends[1][1] == pytest.approx(1.6, abs=0.1)


@given(st.floats(1e-5, 2e-3), st.floats(1.0, 2000.0))
def test_larger_grains_need_more_to_hold_them(diameter, excess):
    low, high = solids_to_hold(diameter, excess)
    assert 0.0 < low < high
    more = solids_to_hold(2.0 * diameter, excess)
    assert more[0] > low
    assert more[1] > high


def test_a_pot_near_the_gel_point_loses_a_degree_in_a_minute_or_two():
    assert seconds_per_kelvin(38.0, 20.0) == pytest.approx((50.0, 100.0))


def test_newtons_law_gives_the_time_between_two_temperatures():
    # tau ln((T0 - room) / (T1 - room)) for tau 900 s, from 40 to 39 in a room of 20.
    exact = 900.0 * math.log(20.0 / 19.0)
    assert seconds_per_kelvin(39.5, 20.0)[0] == pytest.approx(exact, rel=0.001)


def test_a_melt_at_room_temperature_does_not_cool():
    with pytest.raises(ValueError, match="warmer"):
        seconds_per_kelvin(20.0, 20.0)
