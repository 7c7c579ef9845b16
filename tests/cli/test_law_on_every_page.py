"""The law stands at the top of every page that tells of formulas, in the same words."""

import json
import re

import pytest
from msgspec.structs import replace

from optimiser.explaining.basis import Coming, LawLine, one_a_market
from tests.rules import workbench as wb

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


# An ingredient of which not even the INCI name is known.
STRANGER = """
[base]
"cocoa butter" = 45
"refined shea butter" = 20
"beeswax" = 4
"sunflower oil" = 21
"garden oil" = 10

[only]
ingredients = ["garden oil"]

[limits]
"garden oil" = { min = 5 }
"""
PLAN = """\
title = "Two"
today = 2026-11-16
[[batches]]
scenario = "../stranger.toml"
size = "1 kg"
date = 2026-11-20
[[batches]]
scenario = "../bar.toml"
size = "1 kg"
date = 2026-11-21
"""


@pytest.fixture
def strange(kitchen):
    """Return a workspace whose base holds something that nothing is known of."""
    demo, scenarios = kitchen / "catalogues/workshops/demo", kitchen / "scenarios"
    row = "garden_oil,garden oil,,liquid oil,\n"
    (demo / "ingredients.csv").write_text(f"key,name,inci,category,note\n{row}")
    with (demo / "prices.csv").open("a", encoding="utf-8") as file:
        file.write("garden_oil,1,kg,5,0,EUR,2026-11-02,\n")
    with (demo / "stock.csv").open("a", encoding="utf-8") as file:
        file.write("garden_oil,G1,2,kg,,\n")
    (scenarios / "stranger.toml").write_text(f'extends = "bar.toml"\n{STRANGER}')
    (scenarios / "plans").mkdir(exist_ok=True)
    (scenarios / "plans" / "two.toml").write_text(PLAN, encoding="utf-8")
    base = re.findall(r'"(.+)" = (\d+)', STRANGER.partition("[only]")[0])
    rows = "".join(f"{name},{percent}\n" for name, percent in base)
    (kitchen / "base.csv").write_text(f"ingredient,percent\n{rows}", "utf-8")
    return kitchen


OF_THE_STRANGER = "scenarios/stranger.toml"
PAGES = {
    "formulate": (),
    "why": (),
    "sweep": (),
    "variants": ("--count", 2),
    "tradeoff": (),
    "robust": ("--draws", 50),
    "substitute": ("--without", "sunflower oil"),
    "stock": (),
    "check": (),
}


@pytest.mark.parametrize("command", PAGES)
def test_every_page_counts_what_no_limit_was_held_against(run, strange, command):  # noqa: ARG001
    asked = (OF_THE_STRANGER, *PAGES[command])
    asked = ("base.csv", *asked) if command == "check" else asked
    (line,) = law_of(run(command, *asked).out)
    kept = "kept but for 1 unknown ingredient, NOT checked"
    assert shares(line)[1] == kept
    (told,) = law_of(run("formulate", OF_THE_STRANGER).out)
    assert shares(line) == shares(told)


# What a label calls it is no figure of what is in it.
@pytest.mark.parametrize(
    ("inci", "known"),
    [("Aroma", False), ("Parfum (Fragrance)", False), ("Olus Oil", True)],
)
def test_a_mixture_that_only_a_word_names_is_not_held_against_limits(
    run, strange, inci, known
):
    own = strange / "catalogues/workshops/demo/ingredients.csv"
    text = own.read_text("utf-8").replace("oil,,liquid oil", f"oil,{inci},scent")
    own.write_text(text, encoding="utf-8")
    (line,) = law_of(run("formulate", OF_THE_STRANGER).out)
    unknown = "kept but for 1 unknown ingredient, NOT checked"
    assert shares(line)[1] == ("kept" if known else unknown)


def test_a_plan_tells_the_law_of_the_product_of_which_least_is_known(run, strange):  # noqa: ARG001
    (told,) = law_of(run("formulate", OF_THE_STRANGER).out)
    (line,) = law_of(run("plan", "scenarios/plans/two.toml").out)
    assert shares(line) == shares(told)
    (line,) = law_of(run("buy", OF_THE_STRANGER, "--batch", "1 kg").out)
    assert shares(line) == shares(told)


def coming(scent, has):
    return Coming(wb.law(scent, 0.5, {scent: 1.0}), has)


def test_a_line_for_several_formulas_leaves_out_nothing_of_any():
    one = LawLine("EU", 60, True, (), unknown=2, coming=(coming("a", 0.1),))
    more = (coming("a", 0.3), coming("b", 0.2))
    two = LawLine("EU", 61, True, (), unknown=1, coming=more)
    for lines in ((one, two), (two, one)):
        (told,) = one_a_market(lines)
        assert (told.limits, told.unknown) == (61, 2)
        assert {x.limit.name: x.has for x in told.coming} == {"a": 0.3, "b": 0.2}
    assert len(one_a_market((one, replace(two, market="GB")))) == 2


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
