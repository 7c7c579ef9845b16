"""Catalogues as text and data: lists, sheets of one ingredient, inventories."""

import json
from datetime import date

import pytest
from msgspec.structs import replace

from optimiser import presenting
from optimiser.domain.catalogue import Catalogue, Source
from optimiser.domain.law import SubstanceLimit
from optimiser.domain.material import (
    AllergenStatus,
    Figure,
    Ingredient,
    Lot,
    Origin,
    PackPrice,
    UsageLimit,
)
from optimiser.presenting import catalogue as shown
from optimiser.presenting.catalogue.page import nut_status
from optimiser.presenting.terminal import as_text

HERE = Origin("catalogues/materials/ingredients.csv", row=2)


def status(key, allergen="tree nut", flag=None, **listed):
    return AllergenStatus(key, allergen, listed, flag, "lists", HERE)


def limit(whose, use, low, high, of):
    return UsageLimit("scent", whose, use, low, high, of, "memory_low", "sheet", HERE)


@pytest.fixture
def catalogue():
    names = ("almond oil", "peanut oil", "shea butter", "argan oil", "odd oil", "salt")
    ingredients = {
        name.replace(" ", "_"): Ingredient(
            name.replace(" ", "_"), name, "Inci Name", "liquid oil", HERE
        )
        for name in names
    }
    ingredients["scent"] = Ingredient(
        "scent", "scent", None, "scent", HERE, "other", ("perfume",), "yes", "ask",
        "cool-down", ("sensitiser",),
    )  # fmt: skip
    figure = Figure(40.0, 30.0, 50.0, "%", "memory_low", ("sheet",), HERE)
    pack = PackPrice("scent", 0.5, 10.0, 1.0, "EUR", date(2026, 11, 2), HERE)
    exact = Figure(8.0, 8.0, 8.0, "1", "measured", (), HERE)
    return Catalogue(
        ingredients=ingredients,
        figures={
            "solid fat": {"scent": {30.0: figure, 20.0: figure}},
            "required HLB": {"scent": {None: exact}},
        },
        contents={"limonene": {"scent": figure}},
        limits=(
            limit("supplier", "any", 0.5, 1.0, "product"),
            limit("practice", "leave-on", None, None, "lipids"),
        ),
        allergens={
            "tree nut": {
                "almond_oil": status("almond_oil", EU=True, US=None),
                "peanut_oil": status("peanut_oil", EU=False),
                "shea_butter": status("shea_butter", flag="delisted_us_2025", EU=False),
                "argan_oil": status(
                    "argan_oil", flag="botanical_nut_or_kernel_not_listed", EU=False
                ),
                "salt": status("salt", flag="no_nut_relation", EU=False),
                "odd_oil": status("odd_oil", EU=None),
            },
            "peanut": {"peanut_oil": status("peanut_oil", "peanut", EU=True)},
        },
        substance_limits=(
            SubstanceLimit(
                "EU", "limonene", "restricted", "leave-on", 0.1, "limonene",
                {"limonene": 1.0}, "Regulation", "entry 1", "sheet", HERE,
            ),
            SubstanceLimit(
                "EU", "other", "restricted", "leave-on", 0.0, None,
                {"other": 1.0}, "Regulation", "entry 2", "sheet", HERE,
            ),
        ),
        shared_limits=(),
        scent_allergens=(),
        zones={},
        prices={"scent": (pack,)},
        stock=(Lot("scent", "G1", 0.2, date(2027, 5, 31), HERE),),
        currency="EUR",
        sources={"sheet": Source("sheet", "A sheet", None, "2026-11-25")},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("almond_oil", "tree nut"),
        ("peanut_oil", "peanut"),
        ("shea_butter", "no longer listed"),
        ("argan_oil", "kernel, not listed"),
        ("salt", "none"),
        ("odd_oil", "not known"),
        ("scent", "not known"),
    ],
)
def test_nut_status_never_reads_unknown_as_none(catalogue, key, told):
    assert nut_status(catalogue, key) == told


@pytest.mark.parametrize("columns", [40, 64, 80, 120])
@pytest.mark.parametrize("priced", [True, False])
def test_a_list_fits_and_has_prices_only_if_they_were_read(catalogue, columns, priced):
    rows = tuple(catalogue.ingredients.values())
    text = as_text(shown.list_page(catalogue, rows, priced), columns)
    assert max(map(len, text.splitlines())) <= columns
    assert ("EUR/kg" in text) == priced
    assert "7 ingredients" in text


def test_a_long_list_is_cut_and_says_how_many_more_there_are(catalogue):
    (each, *_) = catalogue.ingredients.values()
    text = as_text(shown.list_page(catalogue, [each] * 30, priced=False), 80)
    assert text.count("almond oil") == 20
    assert "10 more with --full" in " ".join(text.split())
    full = as_text(shown.list_page(catalogue, [each] * 30, priced=False, full=True), 80)
    assert full.count("almond oil") == 30
    assert "--full" not in full


def test_a_sheet_tells_everything_known_of_one_ingredient(catalogue, snapshot):
    each = catalogue.ingredients["scent"]
    page = shown.ingredient_page(catalogue, each, full=True)
    snapshot(as_text(page, 80), "ingredient.txt")


def test_a_sheet_of_an_ingredient_nobody_knows_says_so(catalogue):
    each = Ingredient("new", "new oil", None, "liquid oil", HERE)
    text = as_text(shown.ingredient_page(catalogue, each), 80)
    assert "nothing is known; that is not the same as none" in text


@pytest.mark.parametrize(
    ("inci", "known", "told"),
    [
        ("Cera Alba", "memory", "  INCI: Cera Alba (recalled, not re-checked)\n"),
        ("Cera Alba", None, "  INCI: Cera Alba\n"),
        (None, None, None),
    ],
)
def test_a_sheet_tells_how_well_the_inci_name_is_known(catalogue, inci, known, told):
    each = Ingredient("new", "new wax", inci, "wax", HERE, inci_evidence=known)
    text = as_text(shown.ingredient_page(catalogue, each), 80)
    assert (told or "  category: wax\n") in text
    assert ("INCI" in text) == (told is not None)
    (row,) = shown.catalogue_data(catalogue, [each])["ingredients"]
    assert row["inci_evidence"] == known


def test_a_short_sheet_counts_what_is_left_out_and_nothing_else(catalogue):
    def left(known):
        page = shown.ingredient_page(known, known.ingredients["scent"])
        return as_text(page, 120).partition("With --full: ")[2].strip()

    assert left(catalogue) == "1 content and sources."
    figures = dict.fromkeys(
        map(float, range(9)), catalogue.contents["limonene"]["scent"]
    )
    figures = {**catalogue.figures, "solid fat": {"scent": figures}}
    more = replace(catalogue, figures=figures, limits=catalogue.limits * 5)
    assert left(more) == "7 more figures, 8 more limits, 1 content and sources."


def test_lists_and_sheets_tell_what_is_like_what(catalogue):
    each = Ingredient(
        "salt", "salt", None, "exfoliant", HERE, kind="salt", dissolves="yes"
    )
    text = as_text(shown.ingredient_page(catalogue, each), 80)
    assert "  kind: salt\n  dissolves in water: yes\n" in text
    page = shown.list_page(catalogue, [each], priced=False)
    assert "exfoliant: salt" in as_text(page, 80)
    (row,) = shown.catalogue_data(catalogue, [each])["ingredients"]
    assert (row["kind"], row["dissolves"]) == ("salt", "yes")


def test_lists_and_sheets_as_data_keep_unknown_as_null(catalogue):
    rows = tuple(catalogue.ingredients.values())
    told = json.loads(presenting.as_json(shown.catalogue_data(catalogue, rows)))
    assert told["ingredients"][0]["price_per_kg"] is None
    assert told["ingredients"][-1]["solid_fat_30_degC"] == 40.0
    each = catalogue.ingredients["scent"]
    told = json.loads(presenting.as_json(shown.ingredient_data(catalogue, each)))
    assert told["ingredient"]["origin"] == str(HERE)
    assert told["prices"][0]["day"] == "2026-11-02"
    assert [each["name"] for each in told["law"]] == ["limonene"]


def test_an_inventory_counts_rows_below_the_header(catalogue, tmp_path):
    (tmp_path / "materials").mkdir()
    table = tmp_path / "materials" / "ingredients.csv"
    table.write_text('\ufeffkey,note\na,"two\nlines"\n\n,\n', encoding="utf-8")
    (tmp_path / "materials" / "empty.csv").write_text("", encoding="utf-8")
    told = shown.inventory_data(tmp_path, {"demo": catalogue, None: catalogue})
    assert told["files"] == {"materials/empty.csv": 0, "materials/ingredients.csv": 1}
    assert told["workshops"] == {"demo": {"prices": 1, "lots": 1}}
    for full in (True, False):
        page = shown.inventory_page(tmp_path, {"demo": catalogue}, full=full)
        text = as_text(page, 80)
        assert "workshop demo: 1 price, 1 lot." in text
        assert text.splitlines()[2] == "No problem found."
        assert "  2 files, 7 ingredients," in text
        assert ("materials/ingredients.csv" in text) == full


def test_an_inventory_says_what_is_not_known(catalogue, tmp_path):
    told = shown.inventory_data(tmp_path, {"demo": catalogue})["not_known"]
    assert len(told["fats_without_solid_fat"]) == 6
    assert told["waxes_without_firmness"] == []
    assert len(told["without_density"]) == 7
    assert len(told["without_kind"]) == 7
    assert told["without_allergen_row"] == ["scent"]
    assert "scent" not in told["without_price"]["demo"]
    page = shown.inventory_page(tmp_path, {"demo": catalogue})
    text = " ".join(as_text(page, 80).split())
    assert "1 ingredient without any allergen row: scent" in text
    assert "6 ingredients without a price in workshop 'demo': almond oil," in text
    assert "waxes" not in text
    assert " No problem found. 0 files, 7 ingredients" in text
