"""A balm with a little wax of which nobody knows how firm it sets."""

import json
import tomllib
from pathlib import Path

import pytest

BALM = """\
ingredient,amount,unit
beeswax,17.5,g
berry wax,2.52,g
cocoa butter,12.4,g
refined shea butter,23.9,g
coconut oil,13.6,g
sunflower oil,25,g
castor oil,5.08,g
"""
MICRO = BALM.replace("beeswax,17.5", "microcrystalline wax,17.5")
FILE = "scenarios/my_recipe.toml"
KEPT = """\
title = "With its own waxes"
extends = "my_recipe.toml"
[pins]
"microcrystalline wax" = 17.5
"berry wax" = 2.5
"""
UNKNOWN = {
    "cetyl_esters",
    "lanolin",
    "microcrystalline_wax",
    "myrica_fruit_wax",
    "ozokerite",
    "paraffin_wax",
    "rose_wax",
}


@pytest.fixture
def balm(begun):
    """Return a function that begins from a balm and goes there."""
    return lambda text: begun(text, "--product", "lip balm")


def amounts(told):
    return {x["ingredient"]: x["percent"] for x in told["formula"] if x["percent"]}


def test_a_window_holds_the_rest_and_the_unknown_stays_as_it_is(run, balm):
    done = balm(BALM)
    assert "Your recipe as it stands keeps every rule around it." in done.out
    assert "Not judged" not in done.out
    found = tomllib.loads(Path(FILE).read_text(encoding="utf-8"))
    firm, _ = found["windows"]
    assert firm["without"] == ["berry wax"]
    assert firm["min"] < firm["max"]
    assert found["pins"] == {"berry wax": 2.52}
    told = run("formulate", FILE).out
    assert "firmness at 25 °C of the lipids without berry wax: " in told


def test_beeswax_is_not_swapped_for_wax_nobody_has_judged(run, balm):
    balm(BALM)
    told = json.loads(run("substitute", FILE, "--without", "beeswax", "--json").out)
    found = amounts(told["formula"])
    assert found["candelilla_wax"] < 0.8 * 17.5
    assert not UNKNOWN & {*found}
    assert found["berry_wax"] == pytest.approx(2.52)


def test_no_variant_loses_the_wax_that_sets_it(run, balm):
    balm(BALM)
    told = json.loads(run("variants", FILE, "--count", "2", "--json").out)
    for each in told["variants"]:
        held = {x["ingredient"]: x["percent"] for x in each["formula"]}
        assert held.get("beeswax", 0.0) + 2.0 * held.get("candelilla_wax", 0.0) > 12.0
        assert not UNKNOWN & {key for key, percent in held.items() if percent}


def test_where_firmness_is_not_judged_every_page_says_so_first(run, balm):
    done = balm(MICRO)
    assert "Not judged: firmness at 25 degC" in done.out
    Path("scenarios/kept.toml").write_text(KEPT, encoding="utf-8")
    said = "Firmness is not judged: nothing is known of microcrystalline wax and berry"
    for asked in (
        ("formulate", FILE),
        ("substitute", FILE, "--without", "castor oil"),
        ("variants", "scenarios/kept.toml", "--count", "2"),
        ("tradeoff", "scenarios/kept.toml"),
        ("batch", FILE),
        ("check", "../my_recipe.csv", FILE),
    ):
        first = run(*asked).out.splitlines()[:12]
        assert said in " ".join(" ".join(first).split()), asked


def test_a_habit_that_is_told_and_not_enforced_stands_on_the_short_page(run, balm):
    balm(MICRO)
    told = " ".join(run("formulate", FILE).out.split())
    assert (
        "More than is usual: 17.5 % microcrystalline wax (at most 15 % by assumed"
        " practice)." in told
    )


OLIVE = """\
ingredient,amount,unit
my local olive wax,20,g
shea butter,30,g
coconut oil,25,g
sunflower oil,25,g
"""


def test_an_olive_wax_is_not_taken_for_the_emulsifier_of_olive_oil(run, balm):
    done = balm(OLIVE)
    assert "my local olive wax (taken as wax, by its name)" in " ".join(
        done.out.split()
    )
    text = 'title = "Sold"\nextends = "my_recipe.toml"\nmarket = ["GB"]\n'
    Path("scenarios/sold.toml").write_text(text, encoding="utf-8")
    told = run("label", "scenarios/sold.toml").out
    assert "Olivate" not in told
    assert "[INCI name of my local olive wax]" in " ".join(told.split())


def test_where_all_is_melted_is_not_told_of_wax_of_unknown_melting(run, balm):
    balm(MICRO)
    told = " ".join(run("fats", FILE).out.split())
    assert "All is melted" not in told
    assert (
        "Where all is melted is not known, for it is not how microcrystalline wax melts"
        " in oil: ask the supplier." in told
    )
    assert "wax too" not in told
    data = json.loads(run("fats", FILE, "--json").out)
    assert data["melted_at_degC"] is None
    assert {each["all_solids_by_model"] for each in data["points"]} == {None}


HOT = 'title = "Hot"\nextends = "my_recipe.toml"\n\n[climate]\nzone = "IVA"\n'
WARM = """
[[windows]]
name     = "firm in a room"
property = "firmness"
at       = "storage"
over     = "lipids"
min      = "as the base at 25 degC"
"""


def test_a_version_for_the_heat_holds_the_rest_as_the_base_does(run, balm):
    balm(BALM)
    Path("scenarios/hot.toml").write_text(HOT + WARM, encoding="utf-8")
    told = run("formulate", "scenarios/hot.toml").out
    assert "firmness at 30 °C of the lipids without berry wax: " in told


def test_fats_tells_that_less_that_is_solid_may_be_firmer(run, balm):
    balm(BALM)
    told = " ".join(run("fats", FILE).out.split())
    assert "1 % of beeswax that has set firms a bar as 2.1 % of solid fat does" in told


def test_how_hard_a_bar_for_the_heat_is_in_a_room_is_told(run, balm):
    balm(BALM.replace("berry wax,2.52,g\n", ""))
    Path("scenarios/hot.toml").write_text(HOT + WARM, encoding="utf-8")
    told = run("formulate", "scenarios/hot.toml").out
    assert "firmness at 30 °C: " in told
    line = next(x for x in told.splitlines() if "firmness at 25 °C: " in x)
    assert line.endswith("(no window asks)")
