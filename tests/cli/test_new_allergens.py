"""What a changed formula brings that people are allergic to, and its base did not."""

import json

import pytest

from tests.cli.conftest import BAR

NUTS = """\
title = "Nut bar"
workshop = "demo"
use = "leave-on"
market = ["CA"]

[base]
"cocoa butter" = 45
"beeswax" = 4
"{oil}" = 51

[only]
ingredients = ["cocoa butter", "beeswax", "sweet almond oil", "soybean oil"]

[exclude]
{exclude}
"""
OUT = 'allergens = ["tree nut"]'
SAID = "new against your base: soy (soybean oil)"


def flat(text):
    return " ".join(text.split())


def written(workspace, oil, exclude=OUT):
    text = NUTS.format(oil=oil, exclude=exclude)
    (workspace / "scenarios" / "nuts.toml").write_text(text, encoding="utf-8")
    return "scenarios/nuts.toml"


def test_a_short_page_says_which_allergens_are_new(run, workspace):
    path = written(workspace, "sweet almond oil")
    page = flat(run("formulate", path).out)
    assert SAID in page
    told = json.loads(run("formulate", path, "--json").out)["allergens"]
    assert [x["told"] for x in told if x["allergen"] == "soy"] == [
        "soybean oil: soy, listed in AU, CA, EU, GB and US, new against your base"
    ]


def test_what_the_base_brings_already_is_not_new(run, workspace):
    page = flat(run("formulate", written(workspace, "soybean oil")).out)
    assert "soy (soybean oil)" in page
    assert "new against" not in page


@pytest.mark.parametrize("command", ["substitute", "variants"])
def test_studies_say_it_too(run, workspace, command):
    if command == "substitute":
        path = written(workspace, "sweet almond oil", "")
        found = run("substitute", path, "--without", "tree nut")
    else:
        found = run("variants", written(workspace, "sweet almond oil"))
    page = flat(found.out)
    assert (
        "soybean oil: soy, listed in AU, CA, EU, GB and US, new against your base"
        in page
    )


def test_without_a_base_nothing_is_new(run, workspace):
    text = BAR.partition("[base]")[0] + '[only]\ningredients = ["soybean oil"]\n'
    (workspace / "scenarios" / "soy.toml").write_text(text, encoding="utf-8")
    page = flat(run("formulate", "scenarios/soy.toml").out)
    assert "soy (soybean oil)" in page
    assert "new against" not in page
