"""Formula files: tables, TOML, and what formulate printed."""

import json

import pytest

from optimiser.errors import InputError
from optimiser.reading import read_formula
from optimiser.reading.formulas import formula_told

GOOD = {"cocoa_butter": 60.0, "beeswax": 40.0}


def said(desk, name, text):
    """Return what the problems of a formula file say."""
    with pytest.raises(InputError) as caught:
        read_formula(desk.write(name, text), desk.catalogue())
    return str(caught.value).replace(f"{desk.folder}/", "")


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("f.csv", "ingredient,percent\ncocoa butter,60\nCera alba,40\n"),
        (
            "f.csv",
            "name,ingredient,grams,percent,note\nx,cocoa_butter,6,60,y\n"
            "x,white wax,4,40,\n",
        ),
        ("f.csv", "ingredient,grams\ncocoa butter,3\nbeeswax,2\n"),
        ("f.toml", '[formula]\n"cocoa butter" = 60\nbeeswax = 40'),
        ("f.toml", 'title = "x"\n[base]\n"cacao butter" = 60\nbeeswax = 40.0'),
        (
            "f.json",
            json.dumps(
                {
                    "status": "answered",
                    "formula": [
                        {"ingredient": "cocoa_butter", "percent": 60.0, "grams": 6},
                        {"ingredient": "beeswax", "percent": 40},
                    ],
                }
            ),
        ),
    ],
)
def test_a_formula_is_read_from_each_kind_of_file(desk, name, text):
    assert read_formula(desk.write(name, text), desk.catalogue()) == GOOD


def test_a_sum_within_the_rounding_of_a_table_is_kept_as_it_is(desk):
    path = desk.write("f.csv", "ingredient,percent\ncocoa_butter,60.05\nbeeswax,40")
    assert sum(read_formula(path, desk.catalogue()).values()) == 100.05


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        (
            "f.csv",
            'ingredient,percent\ncocoa butter,"60,5"\nbeeswax,40\n',
            "f.csv, row 2, column percent: '60,5' is not a number.\n"
            "  To fix: write the decimal with a point, as in 60.5.",
        ),
        (
            "f.csv",
            "ingredient,percent\ncocoa butter,60\nbees wax,40\n",
            "f.csv, row 3, column ingredient: 'bees wax' is not a known ingredient; "
            "the nearest known name is beeswax.\n"
            "  To fix: correct the name, or add the ingredient to ingredients.csv.",
        ),
        (
            "f.csv",
            "ingredient,percent\ncocoa butter,60\nbeeswax,20\nBeeswax,20\n",
            "f.csv, row 4, column ingredient: 'Beeswax' is there twice.\n"
            "  To fix: write it once, with both added up.",
        ),
        (
            "f.csv",
            "ingredient,percent\ncocoa butter,110\nbeeswax,-10\n",
            "f.csv, row 2, column ingredient: 'cocoa butter' has 110 percent.\n"
            "  To fix: write a percentage from 0 to 100.\n"
            "f.csv, row 3, column ingredient: 'beeswax' has -10 percent.\n"
            "  To fix: write a percentage from 0 to 100.",
        ),
        (
            "f.csv",
            "ingredient,percent\ncocoa butter,60\nbeeswax,38\n",
            "f.csv: sums to 98, not to 100.\n"
            "  To fix: add the 2 percent that are missing.",
        ),
        (
            "f.csv",
            "ingredient,percent\ncocoa butter,60\nbeeswax,42.5\n",
            "f.csv: sums to 102.5, not to 100.\n  To fix: take 2.5 percent away.",
        ),
        (
            "f.csv",
            "ingredient,percent\ncocoa butter,0.6\nbeeswax,0.4\n",
            "f.csv: sums to 1, not to 100.\n"
            "  To fix: write percent of the finished product, as in 40 for 0.4.",
        ),
        (
            "f.csv",
            "ingredient,percent\n",
            "f.csv: has a header but no rows.\n"
            "  To fix: write a row for each ingredient, with its percent.",
        ),
        (
            "f.csv",
            "ingredient,ounces\nbeeswax,100\n",
            "f.csv, row 1, column percent: is missing.\n"
            "  To fix: the columns are ingredient,percent or ingredient,grams.",
        ),
        (
            "f.csv",
            "ingredient,grams\n",
            "f.csv: has a header but no rows.\n"
            "  To fix: write a row for each ingredient, with its grams.",
        ),
        (
            "f.csv",
            "ingredient,grams\nbeeswax,0\n",
            "f.csv: has 0 grams in all.\n"
            "  To fix: write how many grams there are of each ingredient.",
        ),
        (
            "f.csv",
            "ingredient,grams\nbeeswax,-3\ncocoa butter,1e10\n",
            "f.csv, row 2, column grams: '-3' is negative.\n"
            "  To fix: write a number of at least 0.\n"
            "f.csv, row 3, column grams: '1e10' is more than 1000000000.\n"
            "  To fix: write a number of at most 1000000000.",
        ),
        (
            "f.csv",
            "Zutat;Anteil\nbeeswax;100\n",
            "f.csv, row 1, column ingredient: is missing.\n"
            "  To fix: the columns are ingredient,percent or ingredient,grams or"
            " ingredient,amount,unit; what stands there is Zutat, Anteil.",
        ),
        (
            "f.toml",
            '[formula]\nbeeswax = "100"\n"shea butter" = true\n"cocoa butter" = nan',
            "f.toml, key formula.beeswax: '100' is text, not a number.\n"
            "  To fix: write 100 without quotes.\n"
            "f.toml, key formula.shea butter: 'true' is not a number.\n"
            "  To fix: write a plain number, as in 2.65.\n"
            "f.toml, key formula.cocoa butter: 'nan' is not a percentage.\n"
            "  To fix: write a number from 0 to 100.",
        ),
        (
            "f.toml",
            '[formula]\nbeeswax = "100,5"\n',
            "f.toml, key formula.beeswax: '100,5' is not a number.\n"
            "  To fix: write the decimal with a point, as in 100.5.",
        ),
        (
            "f.toml",
            "base = 3",
            "f.toml: has no table [formula] or [base].\n"
            '  To fix: write [formula] and, below it, lines such as "cocoa butter" = '
            "40.",
        ),
        (
            "f.toml",
            "[formula]\nbeeswax = 40,5",
            "f.toml: line 2 is not written as TOML (expected newline or end of "
            "document after a statement).\n"
            "  To fix: write the decimal with a point, as in 40.5.",
        ),
        (
            "f.json",
            "{",
            "f.json: line 1 is not written as JSON.\n"
            "  To fix: print it again with: optimiser formulate SCENARIO --json.",
        ),
        (
            "f.json",
            "[" * 100_000,
            "f.json: is not written as JSON.\n"
            "  To fix: print it again with: optimiser formulate SCENARIO --json.",
        ),
        (
            "f.json",
            '{"status": "clash"}',
            "f.json: has no list formula of entries with ingredient and percent.\n"
            '  To fix: write {"formula": [{"ingredient": "cocoa_butter", "percent": '
            "40}]}.",
        ),
        (
            "f.json",
            '{"formula": [{"ingredient": "beeswax", "percent": Infinity}]}',
            "f.json, key formula.beeswax: 'inf' is not a percentage.\n"
            "  To fix: write a number from 0 to 100.",
        ),
        (
            "f.json",
            b"\xe9",
            "f.json: '\xe9' in line 1 is not UTF-8 text; it looks like Windows-1252 "
            "or Latin-1.\n  To fix: save it as UTF-8 text.",
        ),
    ],
)
def test_slips_in_a_formula_are_told(desk, name, text, message):
    assert said(desk, name, text) == message


def test_a_formula_that_is_not_there_is_told(desk):
    with pytest.raises(InputError) as caught:
        read_formula(desk.folder / "f.csv", desk.catalogue())
    assert str(caught.value).endswith(
        "f.csv: is not there.\n"
        "  To fix: correct the name; no file there has a name like it."
    )


def test_every_name_that_is_not_an_ingredient_s_own_is_told(desk):
    old = "shea_butter,shea butter,"
    desk.table("materials/ingredients.csv", old, "shea_butter,refined shea butter,")
    catalogue = desk.catalogue()
    path = desk.write("f.csv", "ingredient,percent\nshea butter,40\nbeeswax,60\n")
    told = formula_told(path, catalogue).read_as
    assert told == ("read as: shea butter = refined shea butter",)
    path = desk.write("f.csv", "ingredient,percent\nshea_butter,40\nBeeswax,60\n")
    assert formula_told(path, catalogue).read_as == ()  # our own tables write keys
