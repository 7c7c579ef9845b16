"""Fatty acids, triglycerides and melting data are those of the collected tables."""

import csv
import pathlib
from collections import defaultdict

import pytest

from tests.catalogues.collected import adds_up, collected, total

CATALOGUES = pathlib.Path(__file__).resolve().parents[2] / "catalogues"


def rows(name):
    with (CATALOGUES / "materials" / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# Fats added later, from pages of their own, and the rows that each has.
LATER = {
    "camellia_oil": 7,
    "borage_oil": 9,
    "baobab_oil": 3,
    "moringa_oil": 11,
    "neem_oil": 4,
    "ucuuba_butter": 3,
}

# Rows and column sums of each table as it was collected.
PINNED = [
    ("fatty_acids.csv", 339, {"low": 3736.88, "high": 5223.51}),
    ("triglycerides.csv", 312, {"percent": 1419.0}),
    (
        "triglyceride_fusion.csv",
        45,
        {"melting_degC": 1234.4, "heat_kJ_per_mol": 3450.8},
    ),
    (
        "triglyceride_correlation.csv",
        27,
        {"alpha": 277.537, "beta_prime": 264.496, "beta": 285.9669},
    ),
    ("solutes.csv", 29, {"percent": 1965.0}),
]


@pytest.mark.parametrize(("name", "count", "sums"), PINNED)
def test_tables_are_transcribed_whole(name, count, sums):
    table = collected(name, rows(name))
    assert len(table) == count
    for column, expected in sums.items():
        adds_up(table, column, expected, within=0.01)


@pytest.mark.parametrize(("fat", "count"), LATER.items())
def test_fatty_acids_added_later_are_whole(fat, count):
    table = [row for row in rows("fatty_acids.csv") if row["ingredient"] == fat]
    assert len(table) == count


# Two tables of one fat side by side; a page that names two of a fat's acids.
OTHERWISE = {"shea_butter_unrefined", "bacuri_butter"}


def test_the_fatty_acids_of_every_fat_can_add_up_to_a_hundred():
    fats = defaultdict(list)
    for row in rows("fatty_acids.csv"):
        fats[row["ingredient"]].append(row)
    for fat in fats.keys() - OTHERWISE:
        assert total(fats[fat], "low") <= 100, fat
        # One sample of moringa oil adds up to 99.1 %, neem and baobab omit traces.
        assert total(fats[fat], "high") >= 91, fat


def test_the_triglycerides_of_a_fat_add_up_to_a_hundred():
    sums = defaultdict(float)
    for row in rows("triglycerides.csv"):
        if row["triglyceride"] != "inert":  # percent of the whole fat, not of the list
            sums[row["ingredient"]] += float(row["percent"])
    assert sums == pytest.approx(dict.fromkeys(sums, 100.0), abs=0.05)


# What of an emulsifier is in no row (polysorbate, soap, a glycol) stays liquid.
LIQUID_PARTS = {
    "emulsifying_wax": 20.0,
    "cetearyl_alcohol_cetearyl_glucoside": 20.0,
    "glyceryl_stearate_se": 5.0,
    "behentrimonium_methosulfate_cetyl_50": 10.0,
}


def test_the_parts_of_a_solute_add_up_to_a_hundred_but_for_what_stays_liquid():
    sums = defaultdict(float)
    for row in rows("solutes.csv"):
        sums[row["ingredient"]] += float(row["percent"])
    for key, percent in sums.items():
        assert percent == 100.0 - LIQUID_PARTS.get(key, 0.0), key


def test_low_is_at_most_high_in_every_fatty_acid():
    for row in rows("fatty_acids.csv"):
        assert float(row["low"]) <= float(row["high"]), row


def test_a_more_stable_crystal_form_melts_higher():
    forms = defaultdict(dict)
    for row in rows("triglyceride_fusion.csv"):
        if row["melting_degC"]:
            forms[row["triglyceride"]][row["form"]] = float(row["melting_degC"])
    assert len(forms) > 15
    for name, melting in forms.items():
        stable = [melting[f] for f in ("alpha", "beta_prime", "beta") if f in melting]
        if name == "S-S-O":  # beta' and beta are 0.3 K apart, in the other order
            continue
        assert stable == sorted(stable), name


def test_what_is_recalled_says_so():
    for name in ("triglycerides.csv", "triglyceride_fusion.csv", "solutes.csv"):
        for row in rows(name):
            if row["source"].endswith("_recalled"):
                assert row["evidence"].startswith("memory"), row
            if row["source"].endswith("_assumed"):
                assert row["evidence"] == "assumed", row
