"""What is like what: every ingredient's kind, and the rules that kinds follow."""

import csv
import pathlib
import statistics

import pytest

from optimiser.domain.material import CATEGORIES, KINDS, UNKNOWN

MATERIALS = pathlib.Path(__file__).resolve().parents[2] / "catalogues" / "materials"


def rows(name):
    with (MATERIALS / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


INGREDIENTS = {row["key"]: row for row in rows("ingredients.csv")}


def figures(name):
    """The usual figure of each ingredient: the median of its rows' values."""
    found = {}
    for row in rows("properties.csv"):
        if row["property"] == name and row["value"]:
            found.setdefault(row["ingredient"], []).append(float(row["value"]))
    return {key: statistics.median(values) for key, values in found.items()}


def kinds(category):
    return {
        key: row["kind"]
        for key, row in INGREDIENTS.items()
        if row["category"] == category
    }


def test_every_category_has_its_kinds_and_no_kind_twice():
    assert set(KINDS) == set(CATEGORIES) - {UNKNOWN}  # that is of no kind
    for each in KINDS.values():
        assert len(set(each)) == len(each)


def test_every_ingredient_has_a_kind_of_its_category_or_says_why_not():
    for row in INGREDIENTS.values():
        if row["kind"]:
            assert row["kind"] in KINDS[row["category"]], row["key"]
            assert "makers_kinds" in row["source"].split(";"), row["key"]
        else:
            assert "Kind not told" in row["note"], row["key"]
    unknown = [key for key, row in INGREDIENTS.items() if not row["kind"]]
    assert unknown == [
        "bacuri_butter",
        "rose_wax",
        "pumpkin_seed_oil",
        "octyldodecanol",
        "calendula_sunflower_oil",
        "activated_charcoal",
        "fragrance_oil",
        "wintergreen_oil",
    ]


def test_kinds_are_told_as_common_practice_with_the_rules_they_follow():
    (source,) = (row for row in rows("sources.csv") if row["key"] == "makers_kinds")
    assert "common practice" in source["reference"]
    assert "usual iodine value of 125" in source["note"]
    assert "below 60, 60 to 75, above 75 degC" in source["note"]


def test_waxes_go_by_where_they_melt():
    melting = figures("melting point")
    found = {key: kind for key, kind in kinds("wax").items() if key in melting}
    assert len(found) == 11  # lanolin and microcrystalline wax go by use
    for key, kind in found.items():
        at = melting[key]
        wanted = "low" if at < 60 else "medium" if at <= 75 else "high"
        assert kind == f"{wanted}-melting", key


def test_plain_oils_dry_from_an_iodine_value_of_125():
    values = figures("iodine value")
    plain = {
        key: kind
        for key, kind in kinds("liquid oil").items()
        if kind in {"light", "rich", "drying"}
    }
    known = {key: kind for key, kind in plain.items() if key in values}
    assert len(known) == 22
    for key, kind in known.items():
        assert (kind == "drying") == (values[key] >= 125.0), key


def test_emulsifiers_love_oil_or_water_by_their_hlb():
    values = figures("HLB")
    found = {
        key: kind
        for key, kind in kinds("emulsifier").items()
        if kind.endswith("loving")
    }
    assert set(found) <= set(values)
    for key, kind in found.items():
        assert kind.endswith("oil-loving") == (values[key] < 9.0), key


@pytest.mark.parametrize("category", ["hard butter", "soft butter"])
def test_lauric_fats_are_a_kind(category):
    for key, kind in kinds(category).items():
        assert (kind == "lauric") == (INGREDIENTS[key]["family"] == "lauric"), key


def test_sugar_and_salt_dissolve_and_no_fat_or_other_grain_does():
    for key, row in INGREDIENTS.items():
        if row["category"] == "exfoliant":
            dissolves = row["kind"] in {"sugar", "salt"}
            assert row["dissolves"] == ("yes" if dissolves else "no"), key
        if row["category"] in {"hard butter", "soft butter", "wax", "liquid oil"}:
            assert row["dissolves"] == "no", key
