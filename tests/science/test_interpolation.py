"""Figures between temperatures: straight lines, nothing outside, zero stays zero."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.domain.properties import PROPERTIES, property_named
from optimiser.reading import read_catalogue, shipped_folder
from optimiser.science.properties import figure, interpolate
from tests.rules import workbench as wb

numbers = st.floats(0.0, 100.0, allow_subnormal=False)


@st.composite
def curves(draw, falling=False):
    """A curve over three to six temperatures, each with a spread of its own."""
    size = draw(st.integers(3, 6))
    at = sorted(draw(st.sets(st.integers(0, 60), min_size=size, max_size=size)))
    values = draw(st.lists(numbers, min_size=size, max_size=size))
    if falling:
        values = sorted(values, reverse=True)
    spreads = draw(st.lists(numbers, min_size=size, max_size=size))
    return {
        float(t): wb.figure(v, max(0.0, v - s), v + s)
        for t, v, s in zip(at, values, spreads, strict=True)
    }


@given(curves(), st.floats(0.0, 60.0))
def test_a_figure_lies_between_its_neighbours_and_nothing_is_known_outside(curve, at):
    found = interpolate(curve, at)
    known = sorted(curve)
    below = [t for t in known if t <= at]
    above = [t for t in known if t >= at]
    if not below or (not above and curve[known[-1]].high > 0.0):
        assert found is None
        return
    ends = [curve[below[-1]]] + ([curve[above[0]]] if above else [])
    for side in ("low", "value", "high"):
        around = [getattr(end, side) for end in ends]
        assert min(around) - 1e-9 <= getattr(found, side) <= max(around) + 1e-9
    assert found.low <= found.value <= found.high


@given(curves(falling=True), st.floats(0.0, 60.0), st.floats(0.0, 60.0))
def test_a_fat_that_only_melts_is_never_firmer_when_warmer(curve, one, other):
    cool = interpolate(curve, min(one, other))
    warm = interpolate(curve, max(one, other))
    if cool is not None and warm is not None:
        assert warm.value <= cool.value + 1e-9


@given(curves())
def test_a_known_temperature_gives_back_its_own_figure(curve):
    for at, known in curve.items():
        found = interpolate(curve, at)
        assert (found.low, found.value, found.high) == pytest.approx(
            (known.low, known.value, known.high)
        )


@pytest.mark.parametrize(
    ("at", "value"),
    # By hand: 80 at 20 and 30 at 30 degC, so 55 at 25; melted from 36 degC on.
    [(20.0, 80.0), (25.0, 55.0), (30.0, 30.0), (33.0, 15.0), (36.0, 0.0), (60.0, 0.0)],
)
def test_a_straight_line_joins_two_temperatures(at, value):
    curve = {20.0: wb.figure(80.0), 30.0: wb.figure(30.0), 36.0: wb.figure(0.0)}
    assert interpolate(curve, at).value == pytest.approx(value)


@pytest.mark.parametrize("at", [19.9, 30.1])
def test_outside_a_curve_that_has_not_ended_nothing_is_known(at):
    curve = {20.0: wb.figure(80.0), 30.0: wb.figure(30.0)}
    assert interpolate(curve, at) is None


def test_a_figure_between_two_rests_on_the_weaker_and_names_both_sources():
    curve = {
        20.0: wb.figure(80.0, evidence="measured", source="atlas"),
        30.0: wb.figure(30.0, evidence="memory", source="notes"),
    }
    found = interpolate(curve, 25.0)
    assert found.evidence == "memory"
    assert found.sources == ("atlas", "notes")


KNOWN = wb.catalogue(
    {"oil": "liquid oil", "wax": "wax", "clay": "powder", "bacuri": "hard butter",
     "cocoa": "hard butter"},
    figures={
        "solid fat": {"cocoa": {20.0: 80.0, 30.0: 40.0}},
        "density": {"oil": {20.0: 920.0, 60.0: 890.0}},
        "viscosity": {
            "oil": {20.0: 60.0, 40.0: 30.0},
            "wax": {80.0: 20.0, None: 700.0},
        },
        "iodine value": {"wax": {20.0: 12.0}},
        "wax firmness": {"wax": wb.figure(2.0, 1.0, 4.0)},
        "shine": {"oil": 3.0},
    },
)  # fmt: skip


@pytest.mark.parametrize(
    ("name", "key", "at", "value"),
    [
        # density is taken from the nearest temperature, for it moves 0.07 % a kelvin
        ("density", "oil", 25.0, 920.0),
        ("density", "oil", 55.0, 890.0),
        ("viscosity", "oil", 30.0, 45.0),
        # what is no fat holds no solid fat, by definition and without a row
        ("solid fat", "wax", 30.0, 0.0),
        ("solid fat", "clay", 30.0, 0.0),
        # a wax's term is told for 1 %, so 100 % would be a hundredfold
        ("firmness", "wax", 25.0, 200.0),
        ("shine", "oil", None, 3.0),
        # without a temperature the figure that holds anywhere counts, else the first
        ("density", "oil", None, 920.0),
        ("viscosity", "wax", None, 700.0),
        ("viscosity", "wax", 50.0, 700.0),
        # what no temperature is told of is the same at each
        ("iodine value", "wax", 25.0, 12.0),
        ("wax firmness", "wax", 60.0, 2.0),
    ],
)
def test_a_figure_is_looked_up_in_the_way_of_its_property(name, key, at, value):
    assert figure(KNOWN, name, key, at).value == pytest.approx(value)


@pytest.mark.parametrize(
    ("name", "key", "at"),
    [
        ("solid fat", "bacuri", 30.0),
        ("firmness", "bacuri", 30.0),
        ("solid fat", "cocoa", None),  # without a temperature
        ("density", "wax", 20.0),
        ("viscosity", "oil", 60.0),
        ("iodine value", "oil", None),
        ("gloss", "oil", None),
    ],
)
def test_what_is_not_known_is_none_and_not_zero(name, key, at):
    assert figure(KNOWN, name, key, at) is None


def test_a_property_that_only_a_catalogue_knows_mixes_by_mass_over_the_product():
    kind = property_named("shine", KNOWN)
    assert (kind.mixing, kind.over, kind.unit, kind.at) == (
        "mass",
        "product",
        "%",
        False,
    )
    assert property_named("gloss", KNOWN) is None


SHIPPED = read_catalogue(shipped_folder("catalogues"), None)


@pytest.mark.parametrize("name", list(PROPERTIES))
def test_every_shipped_figure_lies_between_its_own_low_and_high(name):
    points = SHIPPED.figures.get(name, {})
    for curve in points.values():
        for each in curve.values():
            assert each.low <= each.value <= each.high
            assert each.sources
    # Of viscosity little is known, and that of melts: the rest is the maker's own.
    assert [k for k in SHIPPED.ingredients if figure(SHIPPED, name, k, 40.0)]


def test_shipped_fats_never_harden_on_warming():
    rising = []
    for key, curve in SHIPPED.figures["solid fat"].items():
        known = [each.value for _, each in sorted(curve.items())]
        if known != sorted(known, reverse=True):
            rising.append(key)
    assert rising == []


# Cocoa butter is solid in a room and gone on the skin: about 80 % at 20 degC, under
# 10 % at 35 degC (common to tables of solid fat contents).
def test_the_shipped_cocoa_butter_is_hard_in_a_room_and_melts_on_the_skin():
    room = figure(SHIPPED, "solid fat", "cocoa_butter", 20.0)
    skin = figure(SHIPPED, "solid fat", "cocoa_butter", 35.0)
    assert 65.0 < room.value < 90.0
    assert skin.value < 10.0


# Common practice: 3 % of sunflower wax firms an oil about as 7 % of beeswax does.
def test_the_shipped_wax_terms_are_in_the_ratio_of_3_to_7():
    sunflower = figure(SHIPPED, "firmness", "sunflower_wax", 25.0).value
    beeswax = figure(SHIPPED, "firmness", "beeswax", 25.0).value
    assert 3 * sunflower == pytest.approx(7 * beeswax, rel=0.08)
