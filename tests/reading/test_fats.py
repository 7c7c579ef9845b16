"""Reading what fats are made of: only when asked, and every problem with its place."""

import shutil

import pytest

from optimiser.errors import InputError
from optimiser.reading import read_catalogue, shipped_folder

SHIPPED = shipped_folder("catalogues")


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(SHIPPED, tmp_path / "catalogues")


def told(folder, workshop=None):
    with pytest.raises(InputError) as caught:
        _ = read_catalogue(folder, workshop).fats
    return str(caught.value)


def swap(folder, name, old, new):
    path = folder / "materials" / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_the_shipped_tables_are_read():
    fats = read_catalogue(SHIPPED, "demo").fats
    assert fats.triglycerides["cocoa_butter"]["P-O-S"] == 40.22
    assert fats.fusion["S-O-S", "beta"].melting == 43.0
    assert fats.fusion["S-S-S", "beta"].enthalpy == 194.2  # the first of three rows
    assert fats.correlation["T_inf"]["beta"] == 401.15
    assert fats.solutes["beeswax"][0].melting == 62.0
    assert fats.evidence["cocoa_butter"] == "retrieved"
    assert fats.evidence["palm_oil"] == "memory_low"


def test_a_slip_is_told_only_when_fats_are_asked_for(folder):
    swap(folder, "triglycerides.csv", "cocoa_butter,P-O-S,", "cocoa_butter,P-O-X,")
    assert read_catalogue(folder, None).ingredients
    assert told(folder) == (
        "catalogues/materials/triglycerides.csv, row 2, column triglyceride: 'P-O-X' is"
        " not a triglyceride that is known here.\n"
        "  To fix: write three of Cy, Ca, La, M, P, S, A, O, L, as in P-O-S."
    )


@pytest.mark.parametrize(
    ("name", "old", "new", "wrong"),
    [
        ("fatty_acids.csv", "C8:0,4.6,10,", "C8:0,14.6,10,", "is more than high"),
        ("fatty_acids.csv", "coconut_oil,C6:0", "coconut_oyl,C6:0", "coconut_oyl"),
        ("triglyceride_fusion.csv", ",alpha,", ",gamma,", "'gamma' is not one of"),
        ("triglyceride_correlation.csv", "2.7,3.86", "2.7,", "is blank"),
        ("triglyceride_correlation.csv", "1.99,2.88", "1.99,0", "is less than 0.01"),
        ("triglyceride_correlation.csv", "401.15,", "1e-300,", "is less than 100"),
        ("solutes.csv", "beeswax,100,660", "beeswax,100,", "is blank"),
        ("solutes.csv", "memory_low,wax_fusion", "memory_low,wax_fuzion", "wax_fuzion"),
    ],
)
def test_what_is_wrong_is_told_with_its_file(folder, name, old, new, wrong):
    swap(folder, name, old, new)
    message = told(folder)
    assert f"catalogues/materials/{name}, row " in message
    assert wrong in message


def test_a_catalogue_without_these_files_knows_nothing_of_fats(folder):
    for name in ("fatty_acids", "triglycerides", "triglyceride_fusion", "solutes"):
        (folder / "materials" / f"{name}.csv").unlink()
    (folder / "materials" / "triglyceride_correlation.csv").unlink()
    fats = read_catalogue(folder, None).fats
    assert fats.acids == fats.triglycerides == fats.fusion == fats.solutes == {}


def test_a_makers_own_list_replaces_the_shared_one(folder):
    own = folder / "workshops" / "demo" / "triglycerides.csv"
    own.write_text(
        "ingredient,triglyceride,percent,evidence,source,note\n"
        "cocoa butter,S-O-S,100,measured,,my own lot\n",
        encoding="utf-8",
    )
    fats = read_catalogue(folder, "demo").fats
    assert fats.triglycerides["cocoa_butter"] == {"S-O-S": 100.0}
    assert "palm_oil" in fats.triglycerides
