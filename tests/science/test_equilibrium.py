"""Solids at rest: limits known by hand, and properties that must hold everywhere."""

import numpy as np
import pytest
from chemicals import Hfus, Tm
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.reading import read_catalogue, shipped_folder
from optimiser.science import equilibrium
from optimiser.science.equilibrium import MIXED, OWN, STAYS_LIQUID, Substances, settle
from optimiser.science.melting import Kitchen, solids
from optimiser.units import KELVIN

KNOWN = read_catalogue(shipped_folder("catalogues"), None)
FATS = (
    "cocoa_butter",
    "shea_butter",
    "mango_butter",
    "sal_butter",
    "kokum_butter",
    "coconut_oil",
    "palm_kernel_oil",
    "palm_kernel_stearin",
    "palm_stearin",
    "palm_oil",
    "sweet_almond_oil",
    "olive_oil",
)
LAURIC = ("coconut_oil", "palm_kernel_oil", "palm_kernel_stearin")
KITCHEN = Kitchen(FATS, KNOWN)
AMOUNTS = st.lists(st.floats(0.0, 1.0), min_size=12, max_size=12).filter(
    lambda each: sum(each) > 0.1
)
DEGREES = st.floats(5.0, 45.0)


def solid_share(amounts, degrees):
    rows = np.array([amounts]) / sum(amounts)
    found = KITCHEN.settle(rows, np.array([degrees]), fat_only=True)
    assert found.miss < 1e-7
    return 100.0 * found.solids[0]


def melt(groups, mass=500.0):
    n = len(groups)
    return Substances(np.full(n, mass), np.array(groups), np.ones(n))


def test_one_substance_in_oil_dissolves_to_its_solubility():
    # Of 1 mol with solubility 0.2 in 1 mol of oil, 0.25 dissolves: 0.25 / 1.25 = 0.2.
    found = settle(
        melt([OWN, STAYS_LIQUID]), np.array([[1.0, 1.0]]), np.array([[0.2, 1.0]])
    )
    assert found.solids[0] == pytest.approx(0.75 * 500.0)


def test_a_mixed_crystal_shares_its_substances_with_the_liquid():
    # Two alike substances, ratio of liquid to crystal 0.5 each, half as much oil:
    # x = 0.5 * y and y sums to one, so the liquid holds 0.5 of them and 0.5 of oil.
    found = settle(
        melt([MIXED, MIXED, STAYS_LIQUID]),
        np.array([[0.5, 0.5, 0.25]]),
        np.array([[0.5, 0.5, 1.0]]),
    )
    assert found.solids[0] == pytest.approx(0.75 * 500.0)


@pytest.mark.parametrize("groups", [[OWN, OWN], [MIXED, MIXED], [OWN, MIXED]])
def test_without_anything_liquid_a_cold_blend_is_all_solid(groups):
    found = settle(melt(groups), np.array([[1.0, 1.0]]), np.array([[1e-6, 1e-6]]))
    assert found.solids[0] == pytest.approx(1000.0, rel=1e-4)


def test_nothing_is_solid_above_every_melting_point():
    found = settle(melt([OWN, MIXED]), np.array([[1.0, 1.0]]), np.array([[3.0, 3.0]]))
    assert found.solids[0] == pytest.approx(0.0, abs=1e-9)


@given(AMOUNTS, AMOUNTS, DEGREES)
def test_solid_fat_is_convex_in_the_amounts(one, other, degrees):
    one, other = (np.array(each) / sum(each) for each in (one, other))
    middle = solid_share((one + other) / 2.0, degrees)
    ends = (solid_share(one, degrees) + solid_share(other, degrees)) / 2.0
    # Proved for mole shares; weight shares bend it, most between two lauric fats.
    assert middle <= ends + 1.5


@given(AMOUNTS, DEGREES, st.floats(0.1, 10.0))
def test_solid_fat_falls_on_warming(amounts, degrees, warmer):
    assert (
        solid_share(amounts, degrees + warmer) <= solid_share(amounts, degrees) + 1e-6
    )


@given(AMOUNTS, DEGREES, st.floats(0.01, 50.0))
def test_twice_as_much_of_a_blend_has_twice_as_much_solid(amounts, degrees, times):
    rows = np.array([amounts, [times * each for each in amounts]])
    found = KITCHEN.settle(rows, np.full(2, degrees), fat_only=True)
    assert found.solids[1] == pytest.approx(times * found.solids[0], abs=1e-7 * times)


@given(AMOUNTS, DEGREES)
def test_the_slopes_add_up_to_the_solids_themselves(amounts, degrees):
    rows = np.array([amounts])
    found = KITCHEN.settle(rows, np.array([degrees]), fat_only=True)
    assert found.slopes[0] @ rows[0] == pytest.approx(found.solids[0], abs=1e-6)


def test_a_tangent_lies_below_the_solid_fat_of_nearly_every_other_blend():
    # Proved for mole shares. By weight, mixed crystals of two lauric fats differ: there
    # a tangent may lie up to six points too high, once in a thousand pairs.
    random = np.random.default_rng(1)
    over = []
    for _ in range(1500):
        pair = random.dirichlet(np.full(12, random.choice([0.1, 0.3, 1.0])), 2)
        degrees = np.full(2, random.uniform(5.0, 45.0))
        found = KITCHEN.settle(pair, degrees, fat_only=True)
        over.append(100.0 * (found.slopes[0] @ pair[1] - found.solids[1]))
    assert np.quantile(over, 0.99) < 0.5
    assert max(over) < 6.0


@settings(max_examples=20)
@given(AMOUNTS, DEGREES, st.integers(0, 11))
def test_the_slopes_are_those_felt_by_small_steps(amounts, degrees, which):
    start = np.array(amounts) + 0.05
    step = np.zeros(12)
    step[which] = 1e-5
    rows = np.array([start, start + step, start - step])
    found = KITCHEN.settle(rows, np.full(3, degrees), fat_only=True)
    felt = (found.solids[1] - found.solids[2]) / 2e-5
    kinks = sorted(
        [
            (found.solids[1] - found.solids[0]) / 1e-5,
            (found.solids[0] - found.solids[2]) / 1e-5,
        ]
    )
    near = found.slopes[0][which]
    assert (
        near == pytest.approx(felt, abs=2e-3)
        or kinks[0] - 1e-3 <= near <= kinks[1] + 1e-3
    )


# Melting points of acids and alcohols by another source, its CRC table: its default
# pick is an unstable crystal for tristearin (55) and triolein (-32), so those are not
# asked for. Commercial mixtures and the two fitted waxes are not in it.
CAS = {
    "cetyl alcohol": "36653-82-4",
    "stearyl alcohol": "112-92-5",
    "stearic acid": "57-11-4",
    "palmitic acid": "57-10-3",
    "behenyl alcohol": "661-19-8",
}


@pytest.mark.parametrize(("name", "cas"), CAS.items())
def test_acids_and_alcohols_melt_where_another_source_says(name, cas):
    parts = [p for each in KNOWN.fats.solutes.values() for p in each if p.part == name]
    assert parts
    for part in parts:
        crc = Tm(cas, method="CRC_ORG")
        assert part.melting + KELVIN == pytest.approx(crc, abs=0.11)
        heat = Hfus(cas, method="CRC")
        if heat is not None:
            assert part.enthalpy == pytest.approx(heat / 1000.0, abs=0.11)


# Mass percent that stays dissolved in oil of 880 g/mol, worked out from that source by
# the ideal law; 880 is what an oil without a profile is taken as.
@pytest.mark.parametrize(
    ("ingredient", "degrees", "dissolved"),
    [
        ("stearyl_alcohol", 20, 4.0),
        ("stearyl_alcohol", 30, 8.0),
        ("cetyl_alcohol", 20, 9.9),
        ("cetyl_alcohol", 30, 18.4),
    ],
)
def test_what_dissolves_in_oil_is_ideal(ingredient, degrees, dissolved):
    oil = "evening_primrose_oil"  # no fatty acids known: one liquid of 880 g/mol
    blend = {ingredient: dissolved + 10.0, oil: 90.0 - dissolved}
    solid = solids(blend, [degrees], KNOWN)[0]
    left = blend[ingredient] - solid
    assert 100.0 * left / (100.0 - solid) == pytest.approx(dissolved, abs=0.15)


# ln x = H/R (1/Tm - 1/T) worked out by hand, H/R = 5412 K and Tm = 331.15 K for stearyl
# alcohol (45.0 kJ/mol, 58.0 deg C), 4041 K and 322.45 K for cetyl (33.6, 49.3):
# 5412 (0.0030198 - 0.0033540) = -1.809, 5412 (0.0030198 - 0.0031934) = -0.9395,
# 4041 (0.0031013 - 0.0033540) = -1.0214, and 0 where it melts.
@pytest.mark.parametrize(
    ("ingredient", "degrees", "share"),
    [
        ("stearyl_alcohol", 25.0, 0.1638),
        ("stearyl_alcohol", 40.0, 0.3908),
        ("stearyl_alcohol", 58.0, 1.0),
        ("cetyl_alcohol", 25.0, 0.3601),
    ],
)
def test_ideal_solubility_is_the_textbook_law(ingredient, degrees, share):
    kitchen = Kitchen((ingredient,), KNOWN)
    found = kitchen.solubility(np.array([degrees]))[0, 0]
    assert found == pytest.approx(share, rel=1e-3)


def half_liquid(state):
    """Return a guess that is nobody's answer, for steps and halving to start from."""
    amounts = np.zeros((state.z.shape[0], state.least.size))
    amounts[:, 0] = 0.5
    return amounts


@settings(max_examples=20)
@given(AMOUNTS, DEGREES)
def test_halving_and_newton_steps_from_afar_come_to_the_same(amounts, degrees):
    rows = np.array([amounts])
    quick = KITCHEN.settle(rows, np.array([degrees]), fat_only=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(equilibrium._State, "start", half_liquid)
        stepped = KITCHEN.settle(rows, np.array([degrees]), fat_only=True)
        patch.setattr(equilibrium, "ROUNDS", 0)
        slow = KITCHEN.settle(rows, np.array([degrees]), fat_only=True)
    assert stepped.solids[0] == pytest.approx(quick.solids[0], abs=1e-6)
    assert slow.solids[0] == pytest.approx(quick.solids[0], abs=1e-6)


@settings(max_examples=20)
@given(AMOUNTS, DEGREES)
def test_where_no_mixed_crystal_sets_the_first_guess_is_the_answer(amounts, degrees):
    others = [n for n, key in enumerate(FATS) if key not in LAURIC]
    rows = np.zeros((1, len(amounts)))
    rows[0, others] = np.array(amounts)[others] + 0.1
    with pytest.MonkeyPatch.context() as patch:
        patch.delattr(equilibrium._State, "lowered")
        found = KITCHEN.settle(rows, np.array([degrees]), fat_only=False)
    assert found.miss < 1e-10


def test_every_single_fat_melts_steadily_from_0_to_60_degrees():
    degrees = np.arange(0.0, 60.0, 0.5)
    for key in KNOWN.ingredients:
        solid = solids({key: 100.0}, degrees, KNOWN)
        assert (np.diff(solid) < 1e-7).all(), key
        assert solid.min() >= 0.0, key
        assert solid.max() <= 100.0 + 1e-7, key


def test_a_trace_of_short_chains_does_not_make_a_fat_unknown():
    assert Kitchen(("shea_butter_unrefined",), KNOWN).unknown == ()
