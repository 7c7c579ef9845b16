"""What is written around a recipe of one's own: what it holds has room, and no more."""

import tomllib

import pytest

from optimiser.presenting.scenario_text import RecipeTold, start_scenario
from optimiser.reading import read_catalogue, shipped_folder
from optimiser.studies.start import start


@pytest.fixture(scope="module")
def known():
    return read_catalogue(shipped_folder("catalogues"), "demo")


# 18 of 60 % butters are coconut oil: 30 %, and a point of room.
def test_the_guard_on_lauric_fats_has_a_point_of_room_above_the_recipe(known):
    recipe = {"cocoa_butter": 42.0, "coconut_oil": 18.0, "sunflower_oil": 40.0}
    assert start(recipe, "leave-on", known).lauric == 31.0
    recipe = {"cocoa_butter": 58.0, "coconut_oil": 2.0, "sunflower_oil": 40.0}
    assert start(recipe, "leave-on", known).lauric is None


@pytest.mark.parametrize(("market", "held"), [("US", True), ("EU", False)])
def test_what_an_opinion_says_elsewhere_lets_a_small_dose_stand(known, market, held):
    recipe = {"cocoa_butter": 99.6, "tea_tree_oil": 0.4}
    found = start(recipe, "leave-on", known, markets=(market,))
    assert ("tea_tree_oil" in found.pins) is held
    assert ("tea_tree_oil" in found.most) is not held


@pytest.mark.parametrize(("shea", "solid"), [(12.0, False), (40.0, True)])
def test_what_pours_has_no_firmness_to_keep(known, shea, solid):
    found = start({"shea_butter": shea, "olive_oil": 100.0 - shea}, "leave-on", known)
    firm, fat = found.windows
    assert (firm.low is not None, firm.high is not None) == (solid, solid)
    assert firm.lots[0] < firm.reads < firm.lots[1]
    assert fat.high >= fat.reads


def test_what_moves_nothing_is_held_without_bands_and_can_be_read_again(known):
    found = start({"beeswax": 99.0, "lavender_oil": 1.0}, "leave-on", known)
    assert list(found.bands) == ["wax"]
    about = RecipeTold("Bar", "bar.csv", None, "leave-on", True, ("EU",), "demo")
    assert "wax" in tomllib.loads(start_scenario(found, about, known))["bands"]
    scents = start({"lavender_oil": 60.0, "sweet_orange_oil": 40.0}, "leave-on", known)
    assert scents.bands == {}
    told = tomllib.loads(start_scenario(scents, about, known))
    assert "bands" not in told
    assert told["base"] == {"lavender oil": 60, "sweet orange oil": 40}
