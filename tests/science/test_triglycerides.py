"""Triglycerides: names, masses, lists made from fatty acids, and how they melt."""

import csv
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.domain.fats import CHAINS, AcidShare, FatData, Fusion, canonical
from optimiser.domain.material import Origin
from optimiser.reading import read_catalogue, shipped_folder
from optimiser.science.triglycerides import (
    chain_shares,
    correlated,
    fusion_of,
    generated,
    molar_mass,
)

FATS = read_catalogue(shipped_folder("catalogues"), None).fats
# 213 values computed independently with the same published parameters (Moorthy et al.,
# 2017), pairs of equal unsaturated chains counted n (n - 1) / 2.
ROWS = Path(__file__).with_name("correlation_rows.csv")
CODES = st.sampled_from(list(CHAINS))


@given(CODES, CODES, CODES)
def test_a_triglyceride_and_its_mirror_image_are_one(first, middle, last):
    one, other = f"{first}-{middle}-{last}", f"{last}-{middle}-{first}"
    assert canonical(one) == canonical(other)
    assert canonical(canonical(one)) == canonical(one)
    assert molar_mass(one) == pytest.approx(molar_mass(other))


# Molar masses in g/mol: the calorimetry paper on tristearin and trielaidin gives
# 891.48 and 885.43 (J. Chem. Eng. Data 50:1624, 2005), by atomic weights of its day.
@pytest.mark.parametrize(("name", "mass"), [("S-S-S", 891.48), ("O-O-O", 885.43)])
def test_molar_masses_are_the_published_ones(name, mass):
    assert molar_mass(name) == pytest.approx(mass, abs=0.03)


# Sum formulas of the glycerides of one acid alone, tricaprylin to trilinolein.
@pytest.mark.parametrize(
    ("code", "carbons", "hydrogens"),
    [
        ("Cy", 27, 50), ("Ca", 33, 62), ("La", 39, 74), ("M", 45, 86), ("P", 51, 98),
        ("S", 57, 110), ("A", 63, 122), ("O", 57, 104), ("L", 57, 98),
    ],
)  # fmt: skip
def test_each_chain_has_its_carbons_and_its_double_bonds(code, carbons, hydrogens):
    mass = 12.011 * carbons + 1.008 * hydrogens + 6 * 15.999
    assert molar_mass(f"{code}-{code}-{code}") == pytest.approx(mass, abs=1e-6)


def test_the_correlation_gives_what_was_computed_with_it_independently():
    with ROWS.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 213
    for row in rows:
        melting, heat = correlated(row["triglyceride"], row["form"], FATS.correlation)
        assert melting == pytest.approx(float(row["melting_degC"]), abs=0.06), row
        if row["heat_kJ_per_mol"]:
            assert heat == pytest.approx(float(row["heat_kJ_per_mol"]), abs=0.06), row


# Root mean square against values as commonly tabulated (Wesdorp 1990, Small 1986): the
# correlation is good for beta, poor for beta'.
@pytest.mark.parametrize(
    ("form", "kelvin", "kilojoule"),
    [("alpha", 2.5, 9.0), ("beta_prime", 5.6, 13.0), ("beta", 2.4, 5.5)],
)
def test_the_correlation_is_as_far_from_published_values_as_is_said(
    form, kelvin, kilojoule
):
    off_melting, off_heat = [], []
    for (name, each), known in FATS.fusion.items():
        if each == form:
            melting, heat = correlated(name, form, FATS.correlation)
            if known.melting is not None:
                off_melting.append(melting - known.melting)
            if known.enthalpy is not None:
                off_heat.append(heat - known.enthalpy)
    assert math.hypot(*off_melting) / math.sqrt(len(off_melting)) < kelvin
    assert math.hypot(*off_heat) / math.sqrt(len(off_heat)) < kilojoule


def test_published_values_go_before_the_correlation_each_by_itself():
    known = Fusion(43.0, None, "memory", "book")
    data = FatData(fusion={("S-O-S", "beta"): known}, correlation=FATS.correlation)
    melting, heat = fusion_of("S-O-S", "beta", data)
    assert melting == 43.0
    assert heat == pytest.approx(correlated("S-O-S", "beta", FATS.correlation)[1])


# A list made independently by the same rule from the same fatty acids; percent by
# weight and by mole, and the small chains, account for a point or so.
KOKUM = {"P": 0.025, "S": 0.58, "A": 0.003, "O": 0.38, "L": 0.012}


def test_a_list_made_from_fatty_acids_is_the_one_made_independently():
    made = generated({k: v / sum(KOKUM.values()) for k, v in KOKUM.items()})
    for name in ("S-O-S", "O-O-S", "P-O-S", "S-L-S", "S-S-S"):
        theirs = FATS.triglycerides["kokum_butter"][canonical(name)]
        assert made[canonical(name)] == pytest.approx(theirs, abs=1.6), name


@given(
    st.dictionaries(
        st.sampled_from(["P", "S", "A", "O", "L"]), st.floats(0.01, 1.0), min_size=2
    )
)
def test_a_made_list_adds_to_a_hundred_and_keeps_the_fatty_acids(parts):
    total = sum(parts.values())
    shares = {code: part / total for code, part in parts.items()}
    made = generated(shares, least=0.0)
    assert sum(made.values()) == pytest.approx(100.0)
    moles = {name: share / molar_mass(name) for name, share in made.items()}
    held = dict.fromkeys(shares, 0.0)
    for name, share in moles.items():
        for code in name.split("-"):
            held[code] += share / 3.0 / sum(moles.values())
    unsaturated = sum(s for code, s in shares.items() if CHAINS[code][1])
    if 0.34 < unsaturated < 0.95:  # else the rule cannot hold exactly
        assert held == pytest.approx(shares, abs=0.02)


def acid(name, low, high):
    return AcidShare(name, low, high, "", "review", "book", Origin("fatty_acids.csv"))


def test_chains_are_the_middles_of_a_profile_and_add_up_to_one():
    found = chain_shares(
        [
            acid("C16:0", 20.0, 28.0),
            acid("C18:1", 30.0, 34.0),
            acid("C16:1", 3.0, 5.0),
            acid("C18:0", 30.0, 42.0),
            acid("C14:0", 0.0, 0.0),
            acid("C17:0", 3.0, 5.0),
        ]
    )
    # 24, 32 + 4 (it melts most like oleic) and 36, of 96; odd chains are left out
    assert found == pytest.approx({"P": 24 / 96, "O": 36 / 96, "S": 36 / 96})


@pytest.mark.parametrize(("odd", "known"), [(9.9, True), (10.2, False)])
def test_a_profile_with_more_than_a_tenth_of_odd_acids_is_not_made_up(odd, known):
    found = chain_shares([acid("C18:1", 90.0, 90.0), acid("C17:0", odd, odd)])
    assert bool(found) is known


def test_triglycerides_below_the_least_are_left_out_and_the_rest_fills_up():
    shares = {"P": 0.25, "S": 0.35, "O": 0.36, "L": 0.04}
    every, large = generated(shares, least=0.0), generated(shares, least=5.0)
    assert min(every.values()) < 0.1
    assert set(large) == {name for name, percent in every.items() if percent >= 5.0}
    assert sum(large.values()) == pytest.approx(100.0)
    one, other = (each["P-O-S"] / each["S-O-S"] for each in (every, large))
    assert one == pytest.approx(other)
    for name, percent in every.items():
        assert name not in generated(shares, least=1.001 * percent)
        assert name in generated(shares, least=0.999 * percent)
