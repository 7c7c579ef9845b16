"""A workspace remembers its workshop."""

import json

import pytest

FORMULA = "ingredient,percent\ncocoa butter,45\nshea,20\nbeeswax,5\nsunflower oil,30\n"
OWN_FIGURE = (
    "ingredient,property,at,value,unit,evidence\n"
    "cocoa_butter,solid fat,20 degC,51,%,measured\n"
)
NAMELESS = """\
title = "Bar"
use = "leave-on"
market = ["EU"]

[base]
"cocoa butter" = 45
"refined shea butter" = 20
"beeswax" = 5
"sunflower oil" = 30
"""


@pytest.fixture
def kitchen(workspace):
    """The workspace with a formula and a figure of its own."""
    (workspace / "f.csv").write_text(FORMULA, encoding="utf-8")
    (workspace / "bar.toml").write_text(NAMELESS, encoding="utf-8")
    own = workspace / "catalogues" / "workshops" / "demo" / "properties.csv"
    own.write_text(OWN_FIGURE, encoding="utf-8")
    return workspace


@pytest.mark.usefixtures("kitchen")
def test_the_catalogue_is_listed_with_its_prices(run):
    plain = run("catalogue", "list")
    assert plain.out == run("catalogue", "list", "--workshop", "demo").out
    shown = run("catalogue", "show", "cocoa butter", "--json")
    assert (
        shown.out
        == run("catalogue", "show", "cocoa butter", "--workshop", "demo", "--json").out
    )
    assert "workshops/demo/properties.csv" in shown.out


@pytest.mark.parametrize("command", ["fats", "pour"])
@pytest.mark.usefixtures("kitchen")
def test_a_formula_is_made_with_its_own_figures(run, command):
    plain = run(command, "f.csv", "--json")
    assert plain.code == 0
    assert plain.out == run(command, "f.csv", "--workshop", "demo", "--json").out


@pytest.mark.usefixtures("kitchen")
def test_a_scenario_need_not_name_it(run):
    told = json.loads(run("check", "f.csv", "bar.toml", "--json").out)
    assert told["status"] == "kept"
    assert told["cost_per_kg"] > 0
    assert run("formulate", "bar.toml").code == 0


@pytest.mark.usefixtures("kitchen")
def test_limits_alone_are_checked_with_its_prices(run):
    done = run("check", "f.csv", "--market", "EU", "--use", "leave-on", "--json")
    assert json.loads(done.out)["cost_per_kg"] > 0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('workshop = "gone"\n', "'gone' is not a workshop of catalogues/workshops"),
        ("", "key workshop: is missing"),
    ],
)
def test_a_workshop_that_is_not_there_is_told_once(run, kitchen, text, said):
    (kitchen / "catalogues" / "workspace.toml").write_text(text, encoding="utf-8")
    for command in (("catalogue", "list"), ("formulate", "bar.toml")):
        done = run(*command)
        assert done.code == 1
        assert said in done.err
        assert "catalogues/workspace.toml" in done.err


def test_without_the_file_no_workshop_is_taken(run, kitchen):
    (kitchen / "catalogues" / "workspace.toml").unlink()
    assert "price" not in run("catalogue", "list").out.splitlines()[0]
    assert "workshop: is missing" in run("formulate", "bar.toml").err
