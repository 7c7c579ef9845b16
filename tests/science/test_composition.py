"""What ingredients are made of for melting: lists, profiles, and what never sets."""

import pytest
from msgspec.structs import replace

from optimiser.domain.fats import INERT, AcidShare, FatData, Solute
from optimiser.domain.material import Origin
from optimiser.science.composition import composition_of, takes_part
from optimiser.science.melting import Kitchen
from tests.rules import workbench as wb

ORIGIN = Origin("fatty_acids.csv")


def acids(**shares):
    return tuple(
        AcidShare(name.replace("_", ":"), s, s, "", "review", "book", ORIGIN)
        for name, s in shares.items()
    )


# What a correlation holds is of no matter here, but that there is one.
CORRELATED = FatData(
    acids={
        "kokum": acids(C16_0=3.0, C18_0=56.0, C18_1=41.0),
        "tallow": acids(C16_0=27.0, C18_0=33.0, C18_1=40.0),
        "short": acids(C12_0=4.0, C18_0=56.0, C18_1=40.0),
        "hardly": acids(C12_0=2.0, C18_0=58.0, C18_1=40.0),
        "olive": acids(C16_0=12.0, C18_1=78.0, C18_2=10.0),
    },
    triglycerides={"cocoa": {"P-O-S": 40.0, "S-O-S": 40.0, "other": 15.0, INERT: 4.0}},
    correlation={"h": {"beta": 1.0}},
    solutes={
        "wax": (
            Solute("esters", 70.0, 700.0, 65.0, 180.0, "estimated", "book"),
            Solute("alkanes", 30.0, 400.0, 60.0, 90.0, "estimated", "book"),
        )
    },
)
KINDS = {
    "cocoa": wb.ingredient("cocoa", "hard butter", family="cocoa-type"),
    "kokum": wb.ingredient("kokum", "hard butter", family="cocoa-type"),
    "short": wb.ingredient("short", "hard butter", family="cocoa-type"),
    "hardly": wb.ingredient("hardly", "hard butter", family="cocoa-type"),
    "tallow": wb.ingredient("tallow", "hard butter", family="animal"),
    "olive": "liquid oil",
    "hemp": "liquid oil",
    "wax": "wax",
    "bare_wax": "wax",
    "lavender": "scent",
    "vitamin": "antioxidant",
    "soother": "emulsifier",
    "sugar": "exfoliant",
}


def known(data=CORRELATED):
    return replace(wb.catalogue(KINDS), load_fats=lambda: data)


def test_a_list_is_taken_as_it_is_and_what_is_too_small_to_list_stays_liquid():
    found = composition_of("cocoa", known())
    # 80 and 15 of 95 are scaled to the 96 that are not inert
    each = 40.0 * 96.0 / 95.0
    rest = 15.0 * 96.0 / 95.0 + 4.0
    assert found == pytest.approx({"P-O-S": each, "S-O-S": each, INERT: rest})


@pytest.mark.parametrize(
    ("listed", "made"),
    [
        ({"P-O-S": 30.0, "S-O-S": 20.0}, {"P-O-S": 60.0, "S-O-S": 40.0}),
        ({"P-O-S": 40.0, "other": 10.0}, {"P-O-S": 80.0, INERT: 20.0}),
        ({"P-O-S": 40.0, INERT: 10.0}, {"P-O-S": 90.0, INERT: 10.0}),
    ],
)
def test_a_list_is_scaled_to_all_that_is_not_inert(listed, made):
    data = replace(CORRELATED, triglycerides={"cocoa": listed})
    assert composition_of("cocoa", known(data)) == pytest.approx(made)


def test_a_wax_is_made_of_its_parts():
    found = composition_of("wax", known())
    assert found == {"wax: esters": 70.0, "wax: alkanes": 30.0}


@pytest.mark.parametrize("key", ["kokum", "olive", "hardly"])
def test_a_fat_of_the_right_kind_is_made_up_from_its_acids(key):
    found = composition_of(key, known())
    assert sum(found.values()) == pytest.approx(100.0)
    assert not any("La" in name for name in found)  # a trace of lauric is left out


@pytest.mark.parametrize("key", ["tallow", "short", "bare_wax"])
def test_an_animal_a_lauric_fat_and_a_bare_wax_are_not_made_up(key):
    assert composition_of(key, known()) is None


@pytest.mark.parametrize("key", ["hemp", "lavender", "vitamin", "soother"])
def test_what_never_sets_is_one_liquid(key):
    assert composition_of(key, known()) == {INERT: 100.0}


def test_without_a_correlation_only_waxes_and_liquids_are_known():
    bare = known(replace(CORRELATED, correlation={}))
    found = {key: composition_of(key, bare) for key in KINDS if key != "sugar"}
    named = {key for key, shares in found.items() if shares is not None}
    assert named == {"wax", "olive", "hemp", "lavender", "vitamin", "soother"}
    assert found["olive"] == {INERT: 100.0}


# Molar masses, g/mol: terpenes and their alcohols 136 to 154, tocopherol 430, oils 880.
@pytest.mark.parametrize(
    ("key", "mass"),
    [("lavender", 150.0), ("vitamin", 430.0), ("soother", 430.0), ("hemp", 880.0)],
)
def test_liquids_are_counted_by_their_molar_mass(key, mass):
    kitchen = Kitchen((key,), known())
    assert kitchen.moles.tolist() == [pytest.approx([1.0 / mass])]


def test_what_is_no_fat_takes_no_part():
    taking = {key for key in KINDS if takes_part(known(), key)}
    assert set(KINDS) - taking == {"sugar"}
