"""How much to make, its density, and lines that a scale cannot weigh."""

from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser.domain.bench import Bench, Mould
from optimiser.domain.catalogue import Scale
from optimiser.domain.material import Figure, Ingredient, Origin
from optimiser.errors import InputError
from optimiser.reading import shipped_folder
from optimiser.reading.net_content import read_net_content
from optimiser.workshop.density import Density, mix_density
from optimiser.workshop.filling import target
from optimiser.workshop.sizes import SizeAsked, size_of, to_make
from optimiser.workshop.small_lines import least_weighed, small_lines
from optimiser.workshop.weighing import WeighedLine, Weighing

HERE = Origin("here")
BENCH = Bench(Scale(1e-4, 5e-3), loss=3.0, overfill=2.0)
PLAIN = Bench(Scale(1e-4, 5e-3))
OIL = Density(900.0, 920.0, 940.0)


# 24 bars of 60 g, 2 % over and 3 % lost: 24 * 60 * 1.02 / 0.97 = 1514.23 g.
def test_units_net_weight_overfill_and_loss_make_a_batch():
    assert to_make(24, 0.06, loss=3.0, overfill=2.0) == pytest.approx(1.51422680)
    size = size_of(SizeAsked(units=24, net_kg=0.06), BENCH, OIL, 2.0)
    assert size.kg == pytest.approx(1.51422680)
    assert size.fill_kg == pytest.approx(0.0612)
    assert not size.exact


def test_what_is_asked_goes_before_what_is_usual_and_nothing_before_both():
    asked = SizeAsked(units=10, net_kg=0.1, loss=0.0, overfill=10.0)
    assert size_of(asked, BENCH, OIL, 2.0).kg == pytest.approx(1.1)
    assert size_of(
        SizeAsked(units=10, net_kg=0.1), PLAIN, OIL, 2.0
    ).kg == pytest.approx(1)


# 6 cavities of 60 ml at 0.92 g/ml: 55.2 g each, 331.2 g, and 3 % more weighed in.
def test_a_mould_is_filled_by_its_volume_and_the_density_of_the_mix():
    mould = Mould("round", 6, volume=60e-6)
    size = size_of(SizeAsked(mould=mould), BENCH, OIL, 2.0)
    assert size.units == 6
    assert size.by_volume
    assert size.net_kg == pytest.approx(0.0552)
    assert size.kg == pytest.approx(0.3312 / 0.97)
    twice = size_of(SizeAsked(mould=mould, units=12), BENCH, OIL, 2.0)
    assert twice.kg == pytest.approx(2 * size.kg)
    measured = size_of(SizeAsked(mould=mould), BENCH, Density.of(1000.0), 2.0)
    assert measured.net_kg == pytest.approx(0.06)


def test_a_mould_known_by_weight_gets_its_overfill():
    size = size_of(SizeAsked(mould=Mould("tube", 10, net=0.0045)), BENCH, OIL, 2.0)
    assert size.kg == pytest.approx(10 * 0.0045 * 1.02 / 0.97)
    assert not size.by_volume


def test_a_batch_is_made_as_it_is_asked_and_tells_its_units():
    size = size_of(SizeAsked(batch_kg=5.0, net_kg=0.06), BENCH, OIL, 2.0)
    assert (size.kg, size.exact, size.units) == (5.0, True, 79)  # 5 / 0.0630928
    assert size_of(SizeAsked(), BENCH, OIL, 2.0).kg == 2.0


# What `fill` tells for 24 packs of 60 g that vary by 1.2 g in the EU, and 0.1 g more
# or less than that would be another fill.
def test_where_fills_are_known_to_vary_the_overfill_is_the_least_that_keeps_the_law():
    law = read_net_content(shipped_folder("catalogues"))["EU"]
    least = target(law, 60.0, 24, 1.2).fill
    bench = replace(BENCH, spread=1.2e-3)
    asked = SizeAsked(units=24, net_kg=0.06, content=(law,))
    size = size_of(asked, bench, OIL, 2.0)
    assert 1e3 * size.fill_kg == pytest.approx(least)
    assert size.overfill != BENCH.overfill
    assert size.spread == 1.2e-3
    # Asked for, it is what was asked; a spread of the day goes before the usual one.
    assert size_of(replace(asked, overfill=5.0), bench, OIL, 2.0).overfill == 5.0
    wider = size_of(replace(asked, spread_kg=3e-3), bench, OIL, 2.0)
    assert wider.overfill > size.overfill
    # No law covers it: the habit stays, and nobody says that it follows from the law.
    small = size_of(replace(asked, net_kg=0.004), bench, OIL, 2.0)
    assert (small.overfill, small.spread) == (BENCH.overfill, None)


@pytest.mark.parametrize(
    ("asked", "options"),
    [
        (SizeAsked(units=0, net_kg=0.06), ["--units"]),
        (SizeAsked(units=4), ["--units"]),
        (SizeAsked(units=4, net_kg=0.06, batch_kg=1.0), ["--units"]),
        (SizeAsked(net_kg=0.0), ["--net"]),
        (SizeAsked(loss=90.0, overfill=-1.0), ["--loss", "--overfill"]),
        (SizeAsked(batch_kg=0.0), ["the batch"]),
        (SizeAsked(units=1_000_000, net_kg=100.0), ["the batch"]),
    ],
)
def test_what_makes_no_sense_is_told_all_at_once(asked, options):
    with pytest.raises(InputError) as told:
        size_of(asked, BENCH, OIL, 2.0)
    assert [each.field for each in told.value.problems] == options
    assert all(each.fix for each in told.value.problems)


# -- density -------------------------------------------------------------------------


def ingredient(key, category, dissolves="no"):
    return Ingredient(key, key, None, category, HERE, dissolves=dissolves)


def catalogue(kinds, densities=(), dissolves=()):
    """A catalogue of a few ingredients and densities (low, value, high), kg/m^3."""
    figures = {
        key: {20.0: Figure(value, low, high, "kg/m^3", "measured", (), HERE)}
        for key, (low, value, high) in dict(densities).items()
    }
    found = {
        key: ingredient(key, kind, dict(dissolves).get(key, "no"))
        for key, kind in kinds.items()
    }
    return SimpleNamespace(ingredients=found, figures={"density": figures})


# Half and half by weight of 0.9 and 1.6 g/ml: 2 / (1 / 0.9 + 1 / 1.6) = 1.152 g/ml.
def test_volumes_add_up():
    known = catalogue(
        {"oil": "liquid oil", "sugar": "exfoliant"},
        {"oil": (890, 900, 910), "sugar": (1600, 1600, 1600)},
    )
    found = mix_density({"oil": 50.0, "sugar": 50.0}, known)
    assert found.value == pytest.approx(1152.0)
    assert found.low == pytest.approx(2 / (1 / 890 + 1 / 1600))
    assert found.high == pytest.approx(2 / (1 / 910 + 1 / 1600))
    assert found.typical == ()


def test_what_is_not_known_takes_what_is_usual_with_its_whole_spread():
    known = catalogue(
        {"a": "liquid oil", "b": "liquid oil", "c": "liquid oil", "new": "liquid oil"},
        {"a": (900, 910, 915), "b": (910, 920, 930), "c": (940, 950, 960)},
    )
    found = mix_density({"a": 90.0, "new": 10.0}, known)
    assert found.value == pytest.approx(100 / (90 / 910 + 10 / 920))
    assert found.low == pytest.approx(100 / (90 / 900 + 10 / 900))
    assert found.high == pytest.approx(100 / (90 / 915 + 10 / 960))
    assert (found.typical, found.typical_percent) == (("new",), 10.0)


def test_a_trace_of_which_nothing_is_known_widens_the_doubt_a_little():
    known = catalogue(
        {"oil": "liquid oil", "scent": "scent", "red": "colour"},
        {"oil": (910, 910, 910)},
    )
    found = mix_density({"oil": 98.0, "scent": 1.0, "red": 1.0}, known)
    assert found.low < found.value < found.high
    assert found.high - found.low < 0.02 * found.value
    assert found.typical == ("scent", "red")


# -- too little for the scale --------------------------------------------------------


def weighing(grams, step=1e-4):
    """A weighing of some lines in grams."""
    total = sum(grams.values())
    share = {key: 100.0 * g / total for key, g in grams.items()}
    lines = tuple(
        WeighedLine(key, round(g * 1e-3 / step), step, g * 1e-3, share[key], share[key])
        for key, g in grams.items()
    )
    return Weighing(step, total * 1e-3, lines)


def too_little(grams, known, step=1e-4, smallest=5e-3):
    """What would do for the lines of a weighing that are below the least."""
    return small_lines(weighing(grams, step), {step: smallest}, known)


KINDS = {
    "oil": "liquid oil",
    "butter": "hard butter",
    "scent": "scent",
    "vitamin": "antioxidant",
    "clay": "powder",
    "sugar": "exfoliant",
    "water": "water",
    "glycerin": "humectant",
}


# 1.2 g of scent in 200 g of oil on a scale that should weigh 5 g: one part in five
# gives 6 g to take, with 4.8 g of the oil; 1.2 g is 0.6 % of the batch, so 5 g are of
# 833.3 g; and 50 steps are no more than 1.2 g at 0.02 g.
def test_larger_batch_premix_and_finer_scale_are_worked_out():
    found = too_little({"oil": 198.8, "scent": 1.2}, catalogue(KINDS))
    assert [each.ingredient for each in found] == ["scent"]
    small = found[0]
    assert small.larger_kg == pytest.approx(0.8333333)
    assert small.finer == pytest.approx(2e-5)
    premix = small.premix
    assert (premix.carrier, premix.one_in) == ("oil", 5)
    assert premix.small_kg == pytest.approx(5e-3)
    assert premix.carrier_kg == pytest.approx(20e-3)
    assert premix.take_kg == pytest.approx(6e-3)
    assert premix.saved_kg == pytest.approx(4.8e-3)
    assert premix.left_kg == pytest.approx(194e-3)


def test_nothing_is_melted_that_is_liquid_with_what_it_goes_into():
    found = too_little({"oil": 197.6, "scent": 1.2, "vitamin": 1.2}, catalogue(KINDS))
    assert [each.premix.melted for each in found] == [False, False]
    (into_butter,) = too_little({"butter": 198.8, "scent": 1.2}, catalogue(KINDS))
    assert into_butter.premix.melted


def test_several_premixes_share_a_carrier_once():
    grams = {"oil": 198.0, "scent": 1.0, "vitamin": 1.0}
    found = too_little(grams, catalogue(KINDS))
    saved = sum(each.premix.saved_kg for each in found)
    assert found[-1].premix.left_kg == pytest.approx(0.198 - saved)


@pytest.mark.parametrize(
    ("grams", "small", "carrier"),
    [
        ({"oil": 150.0, "sugar": 48.0, "clay": 2.0}, "clay", "sugar"),
        ({"water": 150.0, "oil": 48.0, "glycerin": 2.0}, "glycerin", "water"),
        ({"butter": 198.0, "scent": 2.0}, "scent", "butter"),
    ],
)
def test_a_premix_is_made_with_what_a_line_mixes_with(grams, small, carrier):
    known = catalogue(KINDS, dissolves={"glycerin": "yes"})
    found = too_little(grams, known)
    assert (found[0].ingredient, found[0].premix.carrier) == (small, carrier)


def test_no_premix_is_offered_where_nothing_carries_it():
    known = catalogue(KINDS)
    (clay,) = too_little({"oil": 99.0, "clay": 1.0}, known)
    assert clay.premix is None
    # Of 6 g of oil 0.5 g of scent would leave too little: it needs 4.5 g of it.
    both = {"oil": 6.0, "butter": 93.5, "scent": 0.5}
    assert too_little(both, known)[0].premix is None


@given(
    st.integers(1, 49),
    st.integers(1000, 100_000),
    st.sampled_from([1e-3, 1e-4, 1e-5]),
)
def test_a_premix_holds_just_what_the_line_asks_for(small, oil, step):
    grams = {"scent": small * step * 1e3, "oil": oil * step * 1e3}
    found = too_little(grams, catalogue(KINDS), step, 50 * step)
    (line,) = found
    premix = line.premix
    if premix is None:
        return
    share = premix.small_kg / (premix.small_kg + premix.carrier_kg)
    assert share == pytest.approx(1 / premix.one_in)
    assert premix.take_kg * share == pytest.approx(line.kg)
    assert premix.take_kg == pytest.approx(line.kg + premix.saved_kg)
    assert premix.left_kg + premix.saved_kg == pytest.approx(oil * step)
    least = 50 * step * (1 - 1e-9)
    weighed = (premix.take_kg, premix.small_kg, premix.carrier_kg, premix.left_kg)
    assert min(weighed) >= least


def test_the_least_weighing_is_fifty_steps_unless_the_workshop_says_it():
    assert least_weighed(1e-4, None) == pytest.approx(5e-3)
    assert least_weighed(1e-4, 2e-3) == 2e-3
