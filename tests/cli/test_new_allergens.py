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


KERNELS = """\
title = "Nut bar"
workshop = "demo"
use = "leave-on"
market = ["EU"]

[base]
"cocoa butter" = 45
"beeswax" = 4
"sweet almond oil" = 51

[only]
ingredients = ["kukui nut oil", "argan oil", "castor oil"]

[bands]
"hard butter" = { min = 40 }
"wax" = { min = 3 }
"liquid oil" = { min = 45 }

[exclude]
allergens = ["tree nut"]
"""
CHEAP_KUKUI = "kukui_oil,1,kg,1,0,EUR,2026-11-02,\n"


@pytest.fixture
def kernels(workspace):
    prices = workspace / "catalogues/workshops/demo/prices.csv"
    head, *rows = prices.read_text(encoding="utf-8").splitlines()
    assert head == "ingredient,pack,unit,price,freight,currency,date,evidence"
    prices.write_text("\n".join([head, *rows, CHEAP_KUKUI]), encoding="utf-8")
    path = workspace / "scenarios/kernels.toml"
    path.write_text(KERNELS, encoding="utf-8")
    return path


def used(told):
    lines = json.loads(told.out)["formula"]
    return {line["ingredient"] for line in lines if line["percent"]}


def test_a_nut_free_version_brings_in_no_nut_by_name_however_cheap(run, kernels):
    assert used(run("formulate", kernels, "--json")) == {
        "cocoa_butter",
        "beeswax",
        "castor_oil",
    }
    full = flat(run("formulate", kernels, "--full").out)
    why = (
        "LEFT OUT nothing new that is close to tree nut, though not listed (to let one"
        " in, ask for it by name: min = 0 below [limits]): argan oil and kukui nut oil"
    )
    assert why in full
    unused = full.partition("NOT USED")[2].partition("ALLERGENS")[0]
    assert "kukui" not in unused


def test_one_that_is_asked_for_by_name_comes_in_and_is_told_as_new(run, kernels):
    text = kernels.read_text(encoding="utf-8")
    named = '\n[limits]\n"kukui nut oil" = { min = 0 }\n'
    kernels.write_text(text + named, encoding="utf-8")
    page = run("formulate", kernels).out
    assert (
        "Allergens: ask, new against your base: tree nut (kukui nut oil); ask: tree nut"
        " (cocoa butter)"
    ) in flat(page)
    assert (
        "kukui nut oil: a kernel or botanical nut, no tree nut on any list here, new"
        " against your base"
    ) in flat(run("formulate", kernels, "--full").out)


def test_the_only_way_is_offered_and_told(run, kernels):
    text = kernels.read_text(encoding="utf-8")
    kernels.write_text(text.replace(', "castor oil"', ""), encoding="utf-8")
    clash = run("formulate", kernels)
    assert clash.code == 3
    told = flat(clash.out)
    way = "nothing new that is close to tree nut, though not listed -> dropped"
    number = next(n for n in "123" if f" {n} {way}" in told)
    way_out = kernels.with_name("way.toml")
    assert run("formulate", kernels, "--way", number, "--write", way_out).code == 3
    page = flat(run("formulate", way_out).out)
    assert "ask, new against your base: tree nut (kukui nut oil)" in page


def test_a_formula_that_brings_one_in_is_told_so_by_check(run, kernels, workspace):
    rows = "ingredient,percent\ncocoa butter,45\nbeeswax,4\nargan oil,51\n"
    (workspace / "mine.csv").write_text(rows, encoding="utf-8")
    told = flat(run("check", "mine.csv", kernels).out)
    assert "nothing new that is close to tree nut, though not listed now 51 %" in told
    assert "ask, new against your base: tree nut (argan oil)" in told


@pytest.fixture
def shelf(workspace):
    stock = workspace / "catalogues/workshops/demo/stock.csv"
    names = ("cocoa butter", "beeswax", "castor oil", "kukui nut oil", "argan oil")
    lots = "".join(f"{name},{n},1,kg,2029-01-01,\n" for n, name in enumerate(names))
    head = "ingredient,lot,amount,unit,expiry,note\n"
    stock.write_text(head + lots, encoding="utf-8")


def asking(command, path):
    more = ["--without", "tree nuts"] if command == "substitute" else []
    return command, path, *more


@pytest.mark.usefixtures("shelf")
@pytest.mark.parametrize("command", ["stock", "variants", "substitute"])
def test_studies_bring_in_none_either(run, kernels, command):
    found = run(*asking(command, kernels), "--full")
    assert found.code == 0
    table = found.out.partition("ALLERGENS")[0]
    assert "castor oil" in table
    assert "kukui" not in table
    assert "argan" not in table


@pytest.mark.usefixtures("shelf")
@pytest.mark.parametrize("command", ["formulate", "stock", "variants", "substitute"])
def test_what_the_base_has_that_is_close_to_a_nut_is_told_on_a_short_page(
    run, kernels, command
):
    page = flat(run(*asking(command, kernels)).out)
    told = "ask: tree nut (cocoa butter)"
    if command == "variants":
        told = (
            "cocoa butter: a kernel or botanical nut, no tree nut on any list here - in"
            " all"
        )
    assert told in page


def test_what_a_list_keeps_out_is_hinted_at_only_where_it_may_come_in(run, kernels):
    text = kernels.read_text(encoding="utf-8")
    only = 'ingredients = ["kukui nut oil", "argan oil", "castor oil"]'
    assert only in text
    kernels.write_text(text.replace(only, 'ingredients = ["argan oil"]'), "utf-8")
    done = run("substitute", kernels, "--without", "tree nuts")
    assert done.code == 3
    hint = flat(done.err).partition("[only] keeps out what is like it: ")[2]
    names = hint.partition(";")[0]
    assert names.startswith("meadowfoam seed oil, rapeseed oil, rice bran oil")
    assert hint.endswith('--with "meadowfoam seed oil"')
    assert "kernel" not in names  # close to a nut
    assert "hazelnut" not in names  # one that is listed
    assert names.endswith("sesame oil")  # of the rest, the one that a list names


def test_what_comes_in_last_of_them_says_so(run, kernels):
    text = kernels.read_text(encoding="utf-8")
    kernels.write_text(
        text.replace('"argan oil", "castor oil"', '"peanut oil", "olive oil"'), "utf-8"
    )
    page = run("substitute", kernels, "--without", "tree nuts").out
    assert "went to olive oil" in flat(page)  # peanut oil is cheaper
    assert "peanut oil (new against" in flat(page)
    told = run("substitute", kernels, "--without", "tree nuts", "--json").out
    (last,) = json.loads(told)["runners_up"]
    assert last["came_in"] == ["peanut oil"]
    brought = [each["told"] for each in last["formula"]["allergens"]]
    assert any("peanut, listed in" in x and "new against" in x for x in brought)
