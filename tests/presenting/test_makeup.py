"""What a fat is made of, on its sheet and as data."""

from optimiser.presenting.catalogue.makeup import makeup_data, makeup_items, profiles
from optimiser.reading import read_catalogue, shipped_folder

KNOWN = read_catalogue(shipped_folder("catalogues"), None)


def told(key):
    used = {}
    found = makeup_items(KNOWN, key, used)
    return " ".join(text for each in found for text in (each.text, *each.under)), used


def test_fatty_acids_stand_with_what_they_imply_and_what_the_table_has():
    text, used = told("coconut_oil")
    assert "fatty acids, %: C6:0 0-0.7, C8:0 4.6-10," in text
    assert (
        "iodine value worked out from these: 9.34 (5.93 to 13.4); the table has 6.3 to"
        " 10.6"
    ) in text
    assert "triglycerides, % (54 rows; estimated): Cy-La-La 10.93" in text
    assert list(used) == ["codex_cxs210_acids"]


def test_a_table_that_the_acids_cannot_reach_is_called_so():
    text, _ = told("shea_butter")
    assert "the table has 170 to 185, which they do not reach" in text


def test_two_profiles_of_one_butter_stand_side_by_side():
    assert set(profiles(KNOWN, "shea_butter_unrefined")) == {
        "West African",
        "identity limits",
    }
    text, _ = told("shea_butter_unrefined")
    assert "fatty acids (West African), %" in text
    assert "fatty acids (identity limits), %" in text


def test_a_wax_ester_is_not_taken_for_a_triglyceride():
    text, _ = told("jojoba_oil")
    assert "fatty acids" in text
    assert "worked out" not in text


def test_an_ingredient_without_a_make_up_has_no_lines():
    assert told("water") == ("", {})


def test_the_data_hold_acids_lists_and_solutes():
    fat, wax = makeup_data(KNOWN, "cocoa_butter"), makeup_data(KNOWN, "beeswax")
    assert fat["triglycerides"]["P-O-S"] == 40.22
    assert set(fat["fatty_acids"][0]["implied"]) == {
        "iodine value",
        "saponification value",
    }
    assert wax["solutes"][0].melting == 62.0
