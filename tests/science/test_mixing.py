"""How figures mix, against numbers worked by hand and figures that makers tell."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.domain.properties import PROPERTIES, property_named
from optimiser.reading import read_catalogue, shipped_folder
from optimiser.science.mixing import blend_value, terms
from optimiser.science.properties import figure
from tests.rules import workbench as wb

KINDS = {
    "soybean": "liquid oil",
    "cocoa": "hard butter",
    "mango": "soft butter",
    "low": "emulsifier",
    "high": "emulsifier",
    "water": "water",
    "salt": "exfoliant",
    "sugar": "exfoliant",
    "wax": "wax",
}
KNOWN = wb.catalogue(
    KINDS,
    figures={
        "required HLB": {"soybean": 7.0, "cocoa": 6.0, "mango": 8.0},
        "HLB": {"low": 2.9, "high": 15.0},
        "density": {
            "water": 1000.0,
            "salt": 2160.0,
            "soybean": wb.figure(920.0, 900.0, 940.0),
            "sugar": wb.figure(1590.0, 1500.0, 1700.0),
        },
        "iodine value": {"soybean": 130.0, "cocoa": 36.0},
        "saponification value": {"soybean": 190.0, "cocoa": 194.0},
        "viscosity": {"soybean": 50.0, "mango": 800.0},
    },
)


def blend(name, amounts, known=KNOWN, at=20.0):
    return blend_value(property_named(name, known), amounts, at, known)


# The worked example of an emulsified cream that makers pass on: an oil phase of 10
# soybean (7), 7.5 cocoa (6) and 7.5 mango (8) needs (70 + 45 + 60) / 25 = 7.0, and 34 %
# of an emulsifier of 15 with 66 % of one of 2.9 give 7.0 (5.1 + 1.914 = 7.014).
@pytest.mark.parametrize(
    ("name", "amounts", "value", "tolerance"),
    [
        (
            "required HLB",
            {"soybean": 10.0, "cocoa": 7.5, "mango": 7.5},
            7.0,
            1e-12,
        ),
        ("HLB", {"high": 34.0, "low": 66.0}, 7.014, 1e-12),
        ("HLB", {"high": 1.7, "low": 3.3}, 7.0, 0.05),
        # Soap tables: 60 parts of 190 with 40 of 194 take 191.6 mg/g.
        ("saponification value", {"soybean": 60.0, "cocoa": 40.0}, 191.6, 1e-9),
        ("iodine value", {"soybean": 60.0, "cocoa": 40.0}, 92.4, 1e-9),
        # Volumes add up: 1 kg of water and 1 kg of salt undissolved fill
        # 1 l + 1/2.16 l = 1.46296 l, so 2 kg / 1.46296 l = 1367.09 kg/m^3.
        ("density", {"water": 50.0, "salt": 50.0}, 1367.0886, 1e-4),
        # not 1580, the mean of the two by mass
        ("density", {"water": 20.0, "salt": 20.0}, 1367.0886, 1e-4),
        # 50 and 800 by halves: the root of 40 000
        ("viscosity", {"soybean": 1.0, "mango": 1.0}, 200.0, 1e-9),
        # 30 % salt: 138.89 ml in 138.89 + 760.87 ml
        ("solids load", {"soybean": 70.0, "salt": 30.0}, 15.4362, 1e-4),
        ("solids load", {"soybean": 70.0}, 0.0, 0.0),
    ],
)
def test_a_blend_has_the_value_worked_by_hand(name, amounts, value, tolerance):
    assert blend(name, amounts).value == pytest.approx(value, abs=tolerance, rel=0)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        # 100 g in 66.67 + 26.67 ml at the light end, in 63.83 + 23.53 at the dense
        ("density", 1071.4286, 1144.6991),
        # sugar at its lightest in oil at its densest takes the most, and the other
        # way round: 40/1700 in 40/1700 + 60/900, 40/1500 in 40/1500 + 60/940
        ("solids load", 26.0870, 29.4671),
    ],
)
def test_the_spread_of_a_blend_reaches_to_its_worse_ends(name, low, high):
    amounts = {"soybean": 60.0, "sugar": 40.0}
    found = blend(name, amounts)
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-5)
    assert found.low < found.value < found.high


def test_a_missing_figure_is_named_and_no_value_is_made_up():
    found = blend("iodine value", {"soybean": 50.0, "mango": 50.0})
    assert (found.low, found.value, found.high) == (None, None, None)
    assert found.missing == ("mango",)


def test_nothing_has_no_properties():
    assert blend("iodine value", {}).value is None


@pytest.mark.parametrize(
    ("mixing", "name", "number", "solid", "wanted"),
    [
        ("mass", "iodine value", 90.0, False, (90.0, 1.0)),
        ("volume", "density", 800.0, False, (1.0, 1 / 800)),
        ("volume share", "solids load", 800.0, False, (0.0, 1 / 800)),
        ("volume share", "solids load", 1600.0, True, (100 / 1600, 1 / 1600)),
        ("log", "viscosity", 1.0, False, (0.0, 1.0)),
    ],
)
def test_each_way_of_mixing_has_its_two_sums(mixing, name, number, solid, wanted):
    kind = PROPERTIES[name]
    assert kind.mixing == mixing
    assert terms(mixing, number, solid) == pytest.approx(wanted)


@given(
    st.sampled_from(["iodine value", "density", "viscosity"]),
    st.floats(0.01, 100.0),
    st.floats(0.01, 100.0),
    st.floats(0.1, 50.0),
)
def test_a_blend_lies_between_its_parts_and_does_not_depend_on_the_amount(
    name, first, second, factor
):
    pairs = {
        "iodine value": ("soybean", "cocoa"),
        "density": ("water", "salt"),
        "viscosity": ("soybean", "mango"),
    }
    one, other = pairs[name]
    found = blend(name, {one: first, other: second}).value
    alone = [blend(name, {each: 1.0}).value for each in (one, other)]
    assert min(alone) - 1e-9 <= found <= max(alone) + 1e-9
    scaled = blend(name, {one: first * factor, other: second * factor}).value
    assert scaled == pytest.approx(found, rel=1e-9)


SHIPPED = read_catalogue(shipped_folder("catalogues"), None)


# Common practice: a cavity of 100 ml holds about 94 g of a lotion bar, and about 115 g
# of a scrub bar at 45 % of sugar. Makers weigh to a gram or two, so 2 g is "about".
@pytest.mark.parametrize(
    ("bar", "grams"),
    [
        ({"cocoa_butter": 38.0, "shea_butter": 20.0, "sweet_almond_oil": 42.0}, 94.0),
        (
            {
                "cocoa_butter": 25.0,
                "shea_butter": 10.0,
                "sweet_almond_oil": 20.0,
                "sugar_fine": 45.0,
            },
            115.0,
        ),
    ],
)
def test_a_mould_of_100_ml_holds_what_makers_weigh(bar, grams):
    found = blend("density", bar, SHIPPED)
    assert found.missing == ()
    assert found.value * 0.1 == pytest.approx(grams, abs=2.0)
    assert found.low * 0.1 < grams < found.high * 0.1


@pytest.mark.parametrize("mixing", ["mass", "log", "volume", "volume share"])
@pytest.mark.parametrize("solid", [True, False])
def test_many_figures_at_once_count_as_each_alone(mixing, solid):
    many = np.array([0.5, 2.0, 800.0])
    above, below = terms(mixing, many, solid)
    for at, number in enumerate(many.tolist()):
        one = terms(mixing, number, solid)
        assert one == pytest.approx((above[at], below[at]))
    if mixing == "log":
        assert above.tolist() == pytest.approx([-math.log(2), math.log(2), 6.684612])


# What is dissolved of it is the same in all the lipids: the more there is, the greater
# the part that sets (ideal solubility).
@pytest.mark.parametrize("key", ["cetyl_alcohol", "stearic_acid"])
def test_more_of_an_alcohol_sets_where_there_is_more_of_it(key):
    catalogue = read_catalogue(shipped_folder("catalogues"), "demo")
    found = figure(catalogue, "solid fat", key, 15.0)
    assert 0.0 <= found.low < found.value < found.high <= 100.0
