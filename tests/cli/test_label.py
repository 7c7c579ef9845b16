"""``optimiser label`` from the maker's side."""

import json

import pytest

BAR = "scenarios/massage_bar.toml"
SCALE = "catalogues/workshops/demo/scale.toml"
FORMULA = "ingredient,percent\ncocoa butter,60\nbeeswax,20\nsunflower oil,19\nmica,1\n"


def flat(told):
    return " ".join(told.split())


def test_a_label_says_what_it_can_and_what_is_to_fill_in(run, workspace):  # noqa: ARG001
    told = run("label", BAR, "--net", "60 g", "--lot", "B-1")
    assert told.code == 0
    text = flat(told.out)
    assert "60 g Ingredients: Brassica Campestris (Rapeseed) Seed Oil, " in text
    assert "Batch B-1" in text
    assert "name and address of the responsible person in the EU" in text
    assert "figures of the net content at least 3 mm high" in text
    assert "to be checked by a qualified person" in text
    without = flat(run("label", BAR).out)
    assert "net content (--net)" in without
    assert "batch code (--lot)" in without


def test_who_makes_it_is_asked_for_with_its_lines_and_stands_on_the_label(
    run, workspace
):
    asked = flat(run("label", BAR).out)
    lines = 'scale.toml: name = "", address = "", contact = "")'
    assert f"if imported ([maker] of {lines}" in asked
    whole = flat(run("label", BAR, "--full").out)
    assert f"if imported ([maker] of catalogues/workshops/demo/{lines}" in whole
    with (workspace / SCALE).open("a", encoding="utf-8") as file:
        file.write('\n[maker]\nname = "<b>Me</b>"\naddress = "1 Street, Town"\n')
    told = run("label", BAR, "--size", "60 x 40 mm", "--html", "label.html")
    said = flat(told.out)
    assert "<b>Me</b>, 1 Street, Town" in said
    assert "[maker] of" not in said
    assert "name and address of the responsible person in the EU; who else" in said
    page = (workspace / "label.html").read_text(encoding="utf-8")
    assert "&lt;b&gt;Me&lt;/b&gt;, 1 Street, Town" in page
    assert "<b>" not in page


def test_months_after_opening_are_a_number(run, workspace):  # noqa: ARG001
    assert "6M" in run("label", BAR, "--after-opening", "6").out
    for written in ("6 months", "0", "-1", "1.5"):
        done = run("label", BAR, "--after-opening", written)
        assert done.code == 2
        said = f"'{written}' is no number of months. Write it without a word, as in 6."
        assert said in flat(done.err)


def test_the_label_is_that_of_the_answer(run, workspace):  # noqa: ARG001
    found = json.loads(run("label", BAR, "--json").out)
    made = json.loads(run("formulate", BAR, "--json").out)
    entries = {
        name: each["percent"]
        for each in found["labels"][0]["entries"]
        for name in each["of"]
        if each["kind"] == ""
    }
    for line in made["formula"]:
        if line["percent"] > 0 and line["ingredient"] != "lavender_oil":
            assert entries[line["name"]] == pytest.approx(line["percent"])


def test_a_formula_of_ones_own_may_be_labelled(run, workspace):
    (workspace / "mine.csv").write_text(FORMULA, encoding="utf-8")
    told = flat(run("label", BAR, "--formula", "mine.csv", "--market", "US").out)
    assert "Ingredients: Theobroma Cacao (Cocoa) Seed Butter, Beeswax," in told
    assert "US is no market of the scenario: its limits were NOT checked" in told
    assert "Colours stand by their CI number where they have one: Mica." in told


def test_the_day_decides_which_scent_names_stand_there(run, workspace):  # noqa: ARG001
    def names(day):
        found = json.loads(run("label", BAR, "--on", day, "--json").out)
        return found["labels"][0]["ingredients"]

    assert "Linalyl Acetate" not in names("2026-07-31")
    assert "Linalyl Acetate" in names("2026-08-01")


def test_a_label_is_written_to_print_and_written_again(run, workspace):
    arguments = ("label", BAR, "--size", "60x40 mm", "--html", "label.html")
    assert run(*arguments, "--net", "60g").code == 0
    first = (workspace / "label.html").read_text(encoding="utf-8")
    assert "60 g" in first
    assert run(*arguments, "--net", "75 g").code == 0
    assert "75 g" in (workspace / "label.html").read_text(encoding="utf-8")
    page = "<!DOCTYPE html>\n<p>mine</p>\n"
    (workspace / "label.html").write_text(page, encoding="utf-8")
    told = run(*arguments)
    assert told.code == 1
    assert (workspace / "label.html").read_text(encoding="utf-8") == page


def test_a_label_too_small_says_what_would_do(run, workspace):  # noqa: ARG001
    told = flat(run("label", BAR, "--size", "3 x 2 cm").out)
    assert "It does NOT fit on 30 x 20 mm" in told
    assert "Else: precautions and ingredients on a leaflet" in told


@pytest.mark.parametrize(
    "size",
    ["76.2 x 50.8 mm", "7.62x5.08 cm", "3 x 2 in", '3" x 2"', "3 inches x 2 inches",
     "3in x 2 IN.", "3 in x 50.8 mm", "2 2/2 \N{MULTIPLICATION SIGN} 4/2 in"],
)  # fmt: skip
def test_a_label_is_measured_in_mm_or_in_inches(run, workspace, size):  # noqa: ARG001
    found = json.loads(run("label", BAR, "--size", size, "--json").out)["size"]
    assert found == pytest.approx({"wide": 76.2, "high": 50.8})


@pytest.mark.parametrize("net", ["2 1/2 oz", "2\u00bd oz", "5/2 oz", "70.8738078 g"])
def test_a_net_weight_is_read_as_recipes_write_amounts(run, workspace, net):  # noqa: ARG001
    found = json.loads(run("label", BAR, "--net", net, "--json").out)
    assert found["labels"][0]["net"] == "70.87 g"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--size", "60 by 40"), "'60 by 40' is no size"),
        (("--size", "1.2.3 x 4 mm"), "is no size"),
        (("--size", "60 x 40"), 'as in "60 x 40 mm" or "2.5 x 1.5 in"'),
        (("--size", "60 x 40 x 2 mm"), "is no size"),
        (("--size", "2 ft x 1 ft"), "is no size"),
        (("--on", "1.8.2026"), "'1.8.2026' is not a date"),
        (("--made", "soon"), "'soon' is not a date"),
        (("--made", "2026-11"), "'2026-11' is not a date"),
        (("--best-before", "2027-13"), "'2027-13' is not a date"),
        (("--best-before", "soon"), "25; or the month alone, as in 2026-11"),
        (("--net", "60 ml"), "--net"),
        (("--net", "0 g"), "is no such mass"),
        (("--market", "Mars"), "has no rules on labels in the catalogues"),
        (("--html", "a.html"), "needs the size to print at"),
        (("--size", "60 x 40 mm", "--html", BAR), "would be written over"),
    ],
)
def test_what_is_wrong_is_told(run, workspace, arguments, told):  # noqa: ARG001
    found = run("label", BAR, *arguments)
    assert found.code == 1
    assert told in flat(found.err)
    assert found.out == ""


@pytest.mark.parametrize("month", ["2027-11", "11/2027", "11.2027", "2027-11-30"])
def test_a_best_before_month_is_printed_as_the_month(run, workspace, month):  # noqa: ARG001
    told = run("label", BAR, "--best-before", month, "--made", "2026-11-26")
    assert "Best used before the end of 11/2027" in flat(told.out)


def test_a_lot_marked_with_a_month_keeps_to_its_last_day(run, workspace):
    shelf = workspace / "catalogues" / "workshops" / "demo" / "stock.csv"
    row = "ingredient,lot,amount,unit,expiry\ncocoa butter,A,5,kg,2028-02\n"
    shelf.write_text(row, encoding="utf-8")
    told = run("label", BAR, "--made", "2026-11-26", "--json")
    assert json.loads(told.out)["keeping"]["until"] == "2028-02-29"


def test_rules_that_clash_give_no_label(run, workspace):  # noqa: ARG001
    assert run("label", "scenarios/clash.toml").code == 3


NEAR = """\
title = "As it is"
extends = "massage_bar.toml"
[aim]
order = ["change"]
"""


@pytest.mark.parametrize("more", [(), ("--full",)])
def test_the_food_allergens_that_a_market_lists_stand_on_the_short_page_too(
    run, workspace, more
):
    path = workspace / "scenarios" / "near.toml"
    path.write_text(NEAR, encoding="utf-8")
    told = " ".join(run("label", path, "--market", "US", *more).out.split())
    assert "Contains: tree nut (sweet almond oil); soy (mixed tocopherols)" in told or (
        "Contains: soy (mixed tocopherols); tree nut (sweet almond oil)" in told
    )
