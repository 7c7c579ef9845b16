"""A workspace begun from the maker's own recipe."""

import json
import tomllib
from pathlib import Path

import pytest

KITCHEN = """\
ingredient,amount,unit
shea,1/2,cup
coconut oil 76,3,tbsp
beeswax,30,g
almond oil,60,ml
vit E,1/2,tsp
lavender eo,20,drops
"""
PERCENT = """\
ingredient,amount,unit
cocoa butter,45,%
shea,20,%
beeswax,4,%
sunflower oil,30,%
lavender oil,1,%
"""


@pytest.fixture
def begun(run, tmp_path, monkeypatch):
    """Return a function that begins from a recipe and goes there."""

    def begin(text, *more, name="my_recipe.csv"):
        (tmp_path / name).write_text(text, encoding="utf-8")
        monkeypatch.chdir(tmp_path)
        done = run("begin", "kitchen", "--from", name, *more)
        if done.code == 0:
            monkeypatch.chdir(tmp_path / "kitchen")
        return done

    return begin


def written():
    return Path("scenarios/my_recipe.toml").read_text(encoding="utf-8")


def scenario():
    return tomllib.loads(written())


@pytest.mark.parametrize("text", [KITCHEN, PERCENT])
def test_the_workspace_answers_at_once(run, begun, text):
    done = begun(text, "--product", "lip balm", "--market", "EU")
    assert done.code == 0
    assert "optimiser formulate scenarios/my_recipe.toml" in done.out
    for line in done.out.splitlines():
        if line.strip().startswith("optimiser "):
            assert run(*line.split()[1:]).code == 0
    told = json.loads(run("formulate", "scenarios/my_recipe.toml", "--json").out)
    assert told["steps"]["kept"] is True


def test_what_is_written_follows_the_rule_its_comments_state(begun):
    begun(PERCENT, "--product", "lip balm", "--market", "UK")
    told = scenario()
    assert (told["use"], told["market"], told["product"]) == (
        "leave-on",
        ["GB"],
        "lip balm",
    )
    assert told["base"] == {
        "cocoa butter": 45.0,
        "refined shea butter": 20.0,
        "beeswax": 4.0,
        "sunflower oil": 30.0,
        "lavender oil": 1.0,
    }
    assert told["bands"]["hard butter"] == {"min": 33, "max": 57}
    assert told["bands"]["wax"] == {"min": 3, "max": 5}
    assert "scent" not in told["bands"]
    assert told["pins"] == {"lavender oil": 1.0}
    assert told["amounts"] == {
        "step": 0.5,
        "scent": 0.1,
        "preservative": 0.1,
        "antioxidant": 0.1,
    }
    text = written()
    assert text.startswith("# lip balm: rules around your recipe my_recipe.csv")
    assert "give or take a quarter of itself" in text


def test_windows_hold_what_the_base_reads_today(run, begun):
    begun(PERCENT, "--product", "lip balm", "--market", "EU")
    reads = {
        (each["property"], each["at"]): each["value"]
        for each in json.loads(
            run("formulate", "scenarios/my_recipe.toml", "--json").out
        )["properties"]
    }
    firm, skin = scenario()["windows"]
    assert (firm["property"], firm["at"]) == ("firmness", "25 degC")
    assert firm["min"] < reads["firmness", "25 degC"] < firm["max"]
    assert firm["max"] - firm["min"] < 0.3 * firm["max"]
    assert (skin["property"], skin["at"]) == ("solid fat", "35 degC")
    assert "min" not in skin
    assert skin["max"] >= reads["solid fat", "35 degC"]


def test_what_was_converted_and_taken_for_granted_is_told(begun):
    said = " ".join(begun(KITCHEN).out.split())
    assert "Shea: 1/2 cup is about 97 g (75 to 122)." in said
    assert "It is taken as leave-on, for nobody said what it is" in said
    assert "No market is named, so no law is checked" in said
    assert 'use = "leave-on" # nobody said' in " ".join(written().split())


def test_a_recipe_beyond_a_limit_is_told_and_still_runs(run, begun):
    done = begun(PERCENT.replace("30,%", "25,%").replace("oil,1,%", "oil,6,%"))
    said = " ".join(done.out.split())
    assert (
        "breaks a rule: lavender oil at most 3 % (common practice); it has 6 %" in said
    )
    assert scenario()["limits"] == {"lavender oil": {"max": 6.0}}
    assert run("formulate", "scenarios/my_recipe.toml").code == 0


@pytest.mark.parametrize(
    ("text", "more", "asked"),
    [
        (
            PERCENT.replace("sunflower oil", "dragon oil"),
            (),
            "row 5, column ingredient: 'dragon oil' tells only that it is of the",
        ),
        (PERCENT.replace("4,%", "some,"), (), "row 4, column amount: 'beeswax some'"),
        (PERCENT, ("--product", "bar"), "add --use leave-on, or --use rinse-off"),
        (PERCENT, ("--market", "Mars"), "'Mars' is no market that is known"),
    ],
)
def test_what_cannot_be_read_is_asked_and_nothing_is_made(
    begun, tmp_path, text, more, asked
):
    done = begun(text, *more)
    assert (done.code, done.out) == (1, "")
    assert asked in done.err
    if text != PERCENT:  # a row of the recipe, not an option
        assert "optimiser catalogue list shows every name" in done.err
    assert [each.name for each in tmp_path.iterdir()] == ["my_recipe.csv"]


def test_a_second_recipe_is_added_to_the_workspace(run, begun, tmp_path):
    begun(PERCENT, "--product", "lip balm", "--market", "EU")
    (tmp_path / "kitchen" / "second.csv").write_text(KITCHEN, encoding="utf-8")
    done = run("begin", ".", "--from", "second.csv")
    assert done.code == 0
    assert done.out.startswith("scenarios/second.toml is added to .")
    assert run("formulate", "scenarios/second.toml").code == 0
    again = run("begin", ".", "--from", "second.csv")
    assert again.code == 1
    assert "which is there already" in again.err


def test_words_about_a_recipe_without_one_are_refused(run, tmp_path):
    done = run("begin", tmp_path / "kitchen", "--product", "lip balm")
    assert done.code == 1
    assert "key --product: says something about a recipe, and none is named" in done.err


# Almond oil is a light oil, as apricot kernel oil is; olive oil is rich (trade words).
def test_like_may_stand_in_for_like(run, begun):
    assert begun(KITCHEN, "--product", "lip balm", "--market", "EU").code == 0
    may = scenario()["only"]["ingredients"]
    assert {"sweet almond oil", "apricot kernel oil", "rapeseed oil"} <= set(may)
    assert not {"olive oil", "stearic acid", "peppermint oil"} & set(may)
    assert len(may) == len(set(may))
    told = run("substitute", "scenarios/my_recipe.toml", "--without", "tree nut")
    assert told.code == 0


def test_how_names_were_read_is_told(begun):
    told = begun(KITCHEN).out.replace("\n", " ")
    assert "Read as: shea = refined shea butter; coconut oil 76 = coconut oil" in told
    assert "beeswax = " not in told
