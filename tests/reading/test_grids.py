"""Grid files: every combination, and every problem told at once."""

import os

import pytest

from optimiser.errors import InputError
from optimiser.reading.grids import is_grid, overlays_of, price_lists_of, read_grid


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bar.toml").write_text('title = "Bar"\n')
    return tmp_path


def grid(folder, text):
    file = folder / "grid.toml"
    file.write_text(text, encoding="utf-8")
    return file.relative_to(folder)


GOOD = """
title = "All"
scenarios = ["bar.toml"]
price_list = "months.csv"

[over]
"climate.zone" = ["II", "IVA"]
limits.beeswax.max = [4, 6, 8]

[prices]
"cocoa butter" = [20, 25.5]
"""


def test_every_combination_is_asked_for(folder):
    (folder / "months.csv").write_text(
        "case,ingredient,price_per_kg\n2026-01,shea butter,9\n2026-02,shea butter,8\n"
    )
    found = read_grid(grid(folder, GOOD))
    cases = overlays_of(found)
    assert len(cases) == 6
    assert cases[1][0] == {"climate.zone": "II", "limits.beeswax.max": 6}
    assert cases[1][1].content == {
        "climate": {"zone": "II"},
        "limits": {"beeswax": {"max": 6}},
    }
    lists = price_lists_of(found)
    assert len(lists) == 4
    assert lists[3].labels == {"prices": "2026-02", "price of cocoa butter": 25.5}
    assert lists[3].prices == {"shea butter": 8.0, "cocoa butter": 25.5}


def test_a_grid_that_varies_nothing_is_one_case_a_scenario(folder):
    found = read_grid(grid(folder, 'scenarios = "bar.toml"\n'))
    assert len(overlays_of(found)) == len(price_lists_of(found)) == 1
    assert found.title == "grid"


def test_a_scenario_is_no_grid(folder):
    assert not is_grid(folder / "bar.toml")
    assert not is_grid(folder / "none.toml")
    assert is_grid(grid(folder, 'scenarios = ["bar.toml"]\n'))


def test_every_problem_is_told_at_once(folder):
    text = """
scenario = "bar.toml"
scenarios = ["baz.toml"]
price_list = 3
[over]
"climate.zone" = "II"
[prices]
"cocoa butter" = [20, "dear"]
"""
    with pytest.raises(InputError) as told:
        read_grid(grid(folder, text))
    assert [(each.field, each.wrong) for each in told.value.problems] == [
        (
            "scenario",
            "is not a known key of a grid; the nearest known name is scenarios",
        ),
        ("price_list", "names no file"),
        ("scenarios", "is not there"),
        ("over.climate.zone", "is no list of values"),
        ("prices.cocoa butter", "holds something that is no price"),
    ]


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("over = 3\n", "is no table"),
        ("[over]\n", "is missing"),
        ("scenarios = 4\n", "is no list of files"),
        (
            'scenarios = "bar.toml"\n[prices]\n'
            + "".join(f"i{n} = {list(range(1, 101))}\n" for n in range(4)),
            "asks for 100000000 cases, more than 1000000",
        ),
    ],
)
def test_a_grid_that_makes_no_sense_is_told(folder, text, wrong):
    with pytest.raises(InputError, match=wrong):
        read_grid(grid(folder, text))


def told(folder, text):
    with pytest.raises(InputError) as found:
        read_grid(grid(folder, text))
    return [(each.field, each.found, each.wrong) for each in found.value.problems]


def test_one_thing_varied_twice_is_told(folder):
    (folder / "months.csv").write_text(
        "case,ingredient,price_per_kg\nMay,shea butter,9\nmay,Shea  Butter,8\n"
    )
    text = """
scenarios = ["bar.toml"]
price_list = "months.csv"
[over]
cautious = [true]
"cautious.x" = [1, 2]
"limits.beeswax.max" = [4, 4.0]
[prices]
"cocoa butter" = [8]
"Cocoa_Butter" = [9]
"""
    assert told(folder, text) == [
        ("ingredient", "Shea  Butter", "has a price for may in row 2 already"),
        (
            "prices.Cocoa_Butter",
            "Cocoa_Butter",
            "is cocoa butter in other letters, whose prices are there already",
        ),
        ("over.cautious.x", "cautious.x", "is inside cautious, which is varied too"),
        ("over.limits.beeswax.max", "4.0", "is listed twice"),
    ]


@pytest.mark.parametrize("price", ["1e18", "-1", "nan", "true", "'8'"])
def test_what_no_price_can_be_is_told(folder, price):
    found = told(folder, f"scenarios = ['bar.toml']\n[prices]\nbeeswax = [{price}]\n")
    assert found == [("prices.beeswax", None, "holds something that is no price")]


def test_a_price_of_a_list_is_bounded_too(folder):
    (folder / "m.csv").write_text("case,ingredient,price_per_kg\nMay,shea,1e18\n")
    found = told(folder, "scenarios = ['bar.toml']\nprice_list = 'm.csv'\n")
    assert found == [("price_per_kg", "1e18", "is more than 1000000")]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs pipes with a name")
def test_a_pipe_as_a_list_is_not_waited_for(folder):
    os.mkfifo(folder / "m.csv")
    found = told(folder, "scenarios = ['bar.toml']\nprice_list = 'm.csv'\n")
    assert found == [(None, None, "is a pipe, not a file")]
