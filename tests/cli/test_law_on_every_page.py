"""The law stands at the top of every page that tells of formulas, in the same words."""

import json
import re

import pytest

BAR, CLASH = "scenarios/bar.toml", "scenarios/clash.toml"
RECIPES = "product_class,formula_id,ingredient,amount,unit,note\n" + "".join(
    f"lip balm,R{n},cocoa butter,{40 - n},%,\nlip balm,R{n},beeswax,{20 + n},%,\n"
    f"lip balm,R{n},sunflower oil,39.9,%,\nlip balm,R{n},wintergreen oil,0.1,%,\n"
    for n in range(3)
)


@pytest.fixture
def kitchen(workspace):
    (workspace / "mine.csv").write_text(RECIPES, encoding="utf-8")
    return workspace


def law_of(page):
    """The lines on law of a page, as one text each."""
    return re.findall(r"\bLaw[,:].*?\.(?= |$)", " ".join(page.split()))


def shares(line):
    return re.fullmatch(
        r"Law, EU: (\d+) limits (.+?) \((?:.*; )?(.+)\)\.", line
    ).groups()


def test_why_and_sweep_say_of_the_law_what_formulate_says(run, kitchen):  # noqa: ARG001
    (told,) = law_of(run("formulate", BAR).out)
    limits, kept, how = shares(told)
    assert (kept, "read in the text" in how) == ("kept", True)
    for command in ("why", "sweep"):
        (line,) = law_of(run(command, BAR).out)
        assert shares(line) == (limits, "kept", how)


def test_where_nothing_fits_the_law_is_told_as_what_is_to_be_kept(run, kitchen):  # noqa: ARG001
    (told,) = law_of(run("formulate", BAR).out)
    for command in ("formulate", "why"):
        done = run(command, CLASH)
        (line,) = law_of(done.out)
        assert (done.code, shares(line)[1]) == (3, "to be kept")
        assert shares(line)[0] == shares(told)[0]


# Wintergreen oil is up to 99.5 % methyl salicylate: 0.06 % of that may stay on the
# body, 0.03 % on lips (Annex III, entry 324).
@pytest.mark.parametrize(("product", "most"), [("lip balm", 0.03), ("body balm", 0.06)])
def test_a_survey_keeps_the_law_of_the_product_whose_recipes_it_reads(
    run, kitchen, product, most
):
    (kitchen / "mine.csv").write_text(RECIPES.replace("lip balm", product), "utf-8")
    asked = ("survey", "mine.csv", "--class", product, "--market", "EU")
    (line,) = law_of(run(*asked).out)
    assert shares(line)[1] == "kept"
    told = json.loads(run(*asked, "--replace", "--json").out)
    amounts = {x["ingredient"]: x["percent"] for x in told["base"]["formula"]}
    assert amounts["wintergreen_oil"] * 0.995 == pytest.approx(most, abs=1e-6)
    assert told["law"][0]["kept"] is True


@pytest.mark.parametrize("command", ["why", "sweep", "formulate"])
def test_without_a_market_every_page_says_that_no_law_was_checked(
    run, kitchen, command
):
    file = kitchen / BAR
    file.write_text(file.read_text("utf-8").replace('market = ["EU"]\n', ""), "utf-8")
    assert law_of(run(command, BAR).out) == [
        "Law: NOT checked, for no market is named."
    ]


@pytest.mark.parametrize(
    ("arguments", "kept"),
    [
        (("formulate", BAR), True),
        (("why", BAR), True),
        (("sweep", BAR), True),
        (("formulate", CLASH), None),
    ],
)
def test_the_law_is_data_under_one_key(run, kitchen, arguments, kept):  # noqa: ARG001
    (law,) = json.loads(run(*arguments, "--json").out)["law"]
    assert (law["market"], law["kept"]) == ("EU", kept)
    assert law["limits"] == sum(law["read"].values()) > 0
