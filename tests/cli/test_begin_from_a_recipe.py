"""A workspace begun from the maker's own recipe."""

import json
import re
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
# All that is a butter in it is lauric.
COCONUT = """\
ingredient,amount,unit
sugar,200,g
coconut oil,100,g
"""
# Nobody sells it, so it has no price.
OWN = """\
ingredient,amount,unit
cocoa butter,45,%
shea,20,%
beeswax,10,%
marigold in my olive oil,25,%
"""


def written():
    return Path("scenarios/my_recipe.toml").read_text(encoding="utf-8")


def scenario():
    return tomllib.loads(written())


@pytest.mark.parametrize("text", [KITCHEN, PERCENT, COCONUT, OWN])
def test_the_workspace_answers_at_once(run, begun, text):
    done = begun(text, "--product", "lip balm", "--market", "EU")
    assert done.code == 0
    assert "optimiser formulate scenarios/my_recipe.toml" in done.out
    for line in done.out.splitlines():
        words = line.split()
        if words[:1] == ["optimiser"] and words[1] != "open":  # it serves until stopped
            assert run(*words[1:]).code == 0
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
    assert told["bands"]["wax"] == {"min": 1.5, "max": 5}  # the least is of half of it
    assert "scent" not in told["bands"]
    assert told["pins"] == {"lavender oil": 1.0}
    assert told["amounts"] == {
        "step": 0.5,
        "scent": 0.1,
        "preservative": 0.1,
        "antioxidant": 0.1,
    }
    text = written()
    start = "# My recipe (lip balm): rules around your recipe my_recipe.csv"
    assert text.startswith(start)
    assert "give or take a quarter of itself" in text


def test_no_firmness_is_asked_of_what_runs(run, begun):
    begun("ingredient,grams\nsea salt fine,200\nsunflower oil,100\n")
    assert [each["property"] for each in scenario().get("windows", [])] == ["solid fat"]
    assert "asked 0 to 0" not in run("formulate", "scenarios/my_recipe.toml").out


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
    assert (skin["property"], skin["at"]) == ("solid fat", "35 degC")
    assert "min" not in skin
    assert skin["max"] >= reads["solid fat", "35 degC"]


@pytest.mark.parametrize("text", [KITCHEN, PERCENT])
def test_most_lots_of_what_the_base_is_made_of_keep_every_rule(run, begun, text):
    begun(text, "--product", "lip balm", "--market", "EU")
    asked = ("robust", "scenarios/my_recipe.toml", "--draws", 2000, "--json")
    told = json.loads(run(*asked).out)
    assert told["plain"]["in_spec"] > 0.75
    said = " ".join(written().replace("#", " ").split())
    assert "nine of ten lots of its ingredients" in said


# The page tells all lots at their ends at once, the file nine of ten: each says so.
def test_a_window_says_which_lots_it_holds_and_which_a_page_tells(run, begun):
    begun(PERCENT, "--product", "lip balm", "--market", "EU")
    page = " ".join(
        run("check", "../my_recipe.csv", "scenarios/my_recipe.toml").out.split()
    )
    said = " ".join(written().replace("#", " ").split())
    for what, ends in (
        ("firmness at 25 °C", "the softest and firmest"),
        ("solid fat at 35 °C", "the least and most solid"),
    ):
        by_lot = re.search(rf"{what}: [^;]*; by lot ([\d.]+ to [\d.]+)", page)[1]
        nine = re.search(
            r"nine of ten lots of its ingredients ([\d.]+) to ([\d.]+)"
            rf" \({ends} of all of them together {by_lot}, which a page tells as"
            ' "by lot"\\)',
            said,
        )
        low, high = map(float, by_lot.split(" to "))
        assert low <= float(nine[1]) < float(nine[2]) <= high


STRANGE = """\
ingredient,amount,unit
shea butter,60,g
beeswax,15,g
sunflower oil,20,g
lavender,10,drops
stardust petal oil,10,g
dragon root essential oil,5,drops
grandmother's butter,10,g
ember,6,drops
fairy flakes,2,g
"""


def test_what_is_not_known_becomes_an_ingredient_of_ones_own(run, begun):
    done = begun(STRANGE, "--product", "lip balm", "--market", "EU")
    assert done.code == 0
    rows = Path("catalogues/workshops/demo/ingredients.csv").read_text("utf-8")
    assert [line.split(",")[:3] for line in rows.splitlines()[1:]] == [
        ["stardust_petal_oil", "stardust petal oil", "liquid oil"],
        ["dragon_root_essential_oil", "dragon root essential oil", "scent"],
        ["grandmother_s_butter", "grandmother's butter", "soft butter"],
        ["ember", "ember", "unknown"],
        ["fairy_flakes", "fairy flakes", "unknown"],
    ]
    said = " ".join(done.out.split())
    assert "Not known here, and an ingredient of your own now: stardust" in said
    assert "stardust petal oil (taken as liquid oil, by its name)" in said
    assert "Not known here, and not guessed: ember and fairy flakes." in said
    told = json.loads(run("formulate", "scenarios/my_recipe.toml", "--json").out)
    assert told["cost_per_kg"] is None
    assert "ember" in {each["name"] for each in told["formula"]}
    assert run("check", "../my_recipe.csv", "scenarios/my_recipe.toml").code == 0
    assert run("catalogue", "check").code == 0


def test_a_name_that_can_be_but_one_thing_is_read_so_and_told_as_a_guess(begun):
    done = begun(STRANGE.replace("beeswax", "beeswaxx"))
    said = " ".join(done.out.split())
    assert "lavender = lavender oil" in said
    assert "How 'beeswaxx' and 'lavender' are read is a guess" in said
    names = Path("catalogues/workshops/demo/recipe_names.csv").read_text("utf-8")
    assert "lavender,lavender oil,from my_recipe.csv: a guess" in names


@pytest.mark.parametrize(
    ("name", "there"), [("stardust petal oil", False), ("Zorvex", True)]
)
def test_a_table_of_names_is_begun_only_where_one_is_left_to_tell(begun, name, there):
    begun(PERCENT.replace("sunflower oil,30", f"sunflower oil,27,%\n{name},3"))
    assert name in scenario()["base"]
    assert Path("catalogues/workshops/demo/recipe_names.csv").exists() is there


def test_what_was_guessed_and_put_right_is_kept_when_begun_again(run, begun, tmp_path):
    begun(STRANGE, "--product", "lip balm")
    own = Path("catalogues/workshops/demo/ingredients.csv")
    mended = own.read_text("utf-8").replace("fairy flakes,unknown", "fairy flakes,wax")
    assert "fairy flakes,wax" in mended
    own.write_text(mended, encoding="utf-8")
    more = STRANGE.replace("ember,6", "new thing,6")
    (tmp_path / "my_recipe.csv").write_text(more, encoding="utf-8")
    done = run("begin", ".", "--from", "../my_recipe.csv", "--replace")
    assert done.code == 0
    assert own.read_text("utf-8").startswith(mended)
    assert own.read_text("utf-8").splitlines()[-1].startswith("new_thing,new thing,")
    said = " ".join(done.out.split())
    assert "Not known here, and not guessed: new thing." in said


def test_a_name_taught_after_a_guess_counts_before_the_guess_and_it_is_said(run, begun):
    begun(STRANGE, "--product", "lip balm")
    assert "stardust petal oil" in scenario()["base"]
    taught = Path("catalogues/workshops/demo/recipe_names.csv")
    rows = taught.read_text("utf-8") + "stardust petal oil,argan oil,\n"
    taught.write_text(rows, encoding="utf-8")
    done = run("begin", ".", "--from", "../my_recipe.csv", "--replace")
    assert done.code == 0
    assert "argan oil" in scenario()["base"]
    assert "stardust petal oil" not in scenario()["base"]
    said = " ".join(done.out.split())
    assert "read 'stardust petal oil' as argan oil, which counts before" in said


def test_rows_of_ones_own_are_added_under_whatever_columns_there_are(run, begun):
    begun(PERCENT)
    own = Path("catalogues/workshops/demo/ingredients.csv")
    own.write_text("category,key,name,vegan\nwax,mine,my wax,yes", encoding="utf-8")
    Path("b.csv").write_text(STRANGE, encoding="utf-8")
    assert run("begin", ".", "--from", "b.csv").code == 0
    rows = own.read_text("utf-8").splitlines()
    assert rows[:2] == ["category,key,name,vegan,note", "wax,mine,my wax,yes"]
    assert rows[2].startswith("liquid oil,stardust_petal_oil,stardust petal oil,,from")


def test_what_was_guessed_is_taken_back_where_the_scenario_cannot_be_written(
    run, begun, monkeypatch
):
    begun(PERCENT)
    Path("b.csv").write_text(STRANGE, encoding="utf-8")
    before = sorted(Path().rglob("*"))

    def fail(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("optimiser.cli.own_recipe.OwnRecipe._settled", fail)
    run("begin", ".", "--from", "b.csv")
    assert sorted(Path().rglob("*")) == before


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


def test_too_little_of_a_preservative_is_told_and_raised_and_held_by_no_pin(run, begun):
    name = "phenoxyethanol with ethylhexylglycerin"
    done = begun(PERCENT.replace("4,%", "3.9,%") + f"{name},0.1,%\n")
    said = " ".join(done.out.split())
    assert f"breaks a rule: {name} exactly 0.5 % (its supplier's least" in said
    assert name not in scenario()["pins"]
    asked = run("formulate", "scenarios/my_recipe.toml", "--json")
    formula = json.loads(asked.out)["formula"]
    shares = {each["ingredient"]: each["percent"] for each in formula}
    assert 0.5 in shares.values()


@pytest.mark.parametrize(
    ("text", "more", "asked"),
    [
        (
            PERCENT.replace("sunflower oil", "sunflower or olive oil"),
            (),
            "row 5, column ingredient: 'sunflower or olive oil' may be",
        ),
        (
            PERCENT.replace("sunflower oil", "avocado"),
            (),
            "row 5, column ingredient: 'avocado' may be avocado oil or avocado butter",
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
    assert done.out.startswith("scenarios/second.toml is added to kitchen.")
    assert run("formulate", "scenarios/second.toml").code == 0
    again = run("begin", ".", "--from", "second.csv")
    assert again.code == 1
    assert "which is there already" in again.err


def test_words_about_a_recipe_without_one_are_refused(run, tmp_path):
    done = run("begin", tmp_path / "kitchen", "--product", "lip balm")
    assert done.code == 1
    told = "option --product: says something about a recipe, and none is named"
    assert told in done.err


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


def flat(text):
    return " ".join(text.split())


def test_a_banned_oil_of_ones_own_is_told_by_begin_check_formulate_and_label(
    run, begun
):
    text = PERCENT + "verbena essential oil,1,%\nlilial,1,%\nlemon verbena oil,1,%\n"
    text = text.replace("oil,30,%\nl", "oil,27,%\nl")
    done = begun(text, "--product", "lip balm", "--market", "EU")
    banned = ("verbena essential oil not allowed", "methylpropional not allowed")
    near = "lemon verbena oil may be verbena essential oil, which EU does not allow"
    assert all(each in flat(done.out) for each in (*banned, near))
    path = "scenarios/my_recipe.toml"
    checked = flat(run("check", "../my_recipe.csv", path).out)
    assert all(each in checked for each in banned)
    assert "limits looked at, NOT all kept" in checked
    assert near in checked
    label = flat(run("label", path, "--formula", "../my_recipe.csv").out)
    assert "NOT to be sold in EU: verbena essential oil not allowed, here 1 %" in label
    assert near in label
    answer = json.loads(run("formulate", path, "--json").out)
    kept = {each["name"] for each in answer["formula"] if each["percent"] > 0.0}
    assert not kept & {"verbena essential oil", "lilial"}
    assert "lemon verbena oil" in kept
    assert near in flat(run("formulate", path).out)


def nut_free(run):
    Path("scenarios/no_nuts.toml").write_text(
        'title = "No nuts"\nextends = "my_recipe.toml"\n'
        '[exclude]\nallergens = ["tree nut"]\n',
        encoding="utf-8",
    )
    return run("formulate", "scenarios/no_nuts.toml")


UNKNOWN_OIL = """\
ingredient,amount,unit
beeswax,28,g
cocoa butter,22,g
shea butter,20,g
sweet almond oil,25,g
castor oil,12,g
stardust petal oil,18,g
"""


def test_an_exclusion_names_what_left_and_how_to_keep_what_is_not_known(run, begun):
    begun(UNKNOWN_OIL, "--product", "lip balm", "--market", "EU")
    said = " ".join(nut_free(run).out.split())
    assert "Out for 'no tree nut': sweet almond oil" in said
    assert "Out for 'no tree nut': stardust petal oil: not known of it here" in said
    assert "tell it in your allergens.csv" in said


@pytest.mark.parametrize(
    ("wish", "lacking"),
    [
        ('allergens = ["tree nut"]', "allergens.csv"),
        ("vegan = true", "ingredients.csv"),
    ],
)
def test_a_clash_over_what_is_not_known_says_where_to_tell_it(
    run, begun, wish, lacking
):
    begun(UNKNOWN_OIL, "--product", "lip balm", "--market", "EU")
    Path("scenarios/kept.toml").write_text(
        f'title = "Kept"\nextends = "my_recipe.toml"\n[exclude]\n{wish}\n'
        '[limits]\n"stardust petal oil" = { min = 14, max = 14 }\n',
        encoding="utf-8",
    )
    told = run("formulate", "scenarios/kept.toml")
    assert told.code == 3
    said = " ".join(told.out.split())
    how = f"petal oil: not known of it here; to keep it, tell it in your {lacking}"
    assert how in said
    causes = json.loads(run("formulate", "scenarios/kept.toml", "--json").out)["causes"]
    assert any(how in each for each in causes)


def test_what_leaves_a_recipe_without_prices_is_replaced_by_its_like(run, begun):
    begun(UNKNOWN_OIL, "--product", "lip balm", "--market", "EU")
    nut_free(run)
    told = json.loads(run("formulate", "scenarios/no_nuts.toml", "--json").out)
    has = {each["name"] for each in told["formula"] if each["percent"] > 0}
    waxes = {"microcrystalline wax", "ozokerite", "candelilla wax"}
    butters = {"illipe butter", "cupuacu butter", "kokum butter"}
    assert not has & (waxes | butters)


def test_a_bar_that_no_window_holds_still_tells_how_firm_it_is(run, begun):
    begun(UNKNOWN_OIL, "--product", "lip balm", "--market", "EU")
    said = nut_free(run).out
    assert "WILL IT HOLD" in said
    assert "(no window asks)" in said


def test_a_base_that_is_in_no_steps_is_said_to_be_so(run, begun):
    begun(UNKNOWN_OIL, "--product", "lip balm", "--market", "EU")
    said = " ".join(run("formulate", "scenarios/my_recipe.toml").out.split())
    assert "Your base keeps every rule, but is not in steps of 0.5 %." in said


POSY = """\
ingredient,amount,unit
candelilla wax,12,g
cocoa butter,25,g
sweet almond oil,45,g
peanut oil,1,g
coco oil,25,g
yellow wax,3,g
soy wax,4,g
rose petals dried,1,tbsp
dried marigold,15,ml
"""


def test_petals_and_what_is_dried_are_plant_matter_and_weigh_little(begun):
    said = " ".join(begun(POSY, "--product", "lip balm").out.split())
    assert "rose petals dried (taken as powder, by its name)" in said
    assert "dried marigold (taken as powder, by its name)" in said
    base = scenario()["base"]
    assert base["rose petals dried"] < 2.0
    assert base["dried marigold"] < 2.0


def test_coco_oil_and_yellow_wax_are_read_and_soy_wax_is_told_as_a_guess(begun):
    said = " ".join(begun(POSY, "--product", "lip balm").out.split())
    assert "How 'coco oil' and 'yellow wax' are read is a guess" in said
    assert "soy wax = hydrogenated soybean oil (a guess)" in said
    base = scenario()["base"]
    assert {"coconut oil", "hydrogenated soybean oil"} <= base.keys()
    assert not {"coco oil", "yellow wax", "soy wax"} & base.keys()


def test_a_little_of_an_oil_is_not_pinned(begun):
    begun(POSY, "--product", "lip balm")
    assert "peanut oil" in scenario()["base"]
    assert "peanut oil" not in scenario().get("pins", {})
    assert "rose petals dried" in scenario()["pins"]


def test_a_recipe_of_coconut_oil_alone_is_begun(run, begun):
    """All of its butters are lauric: no more than all can be asked for."""
    text = "ingredient,amount,unit\nsugar,200,g\ncoconut oil,100,g\n"
    assert begun(text, "--product", "sugar scrub", "--market", "UK").code == 0
    assert scenario()["guard"]["lauric"] == {"max": 100}
    assert run("formulate", "scenarios/my_recipe.toml").code == 0


def test_what_pours_gets_no_window_on_firmness(begun):
    begun("ingredient,amount,unit\ncocoa butter,1,%\nsunflower oil,99,%\n")
    told = [each["property"] for each in scenario().get("windows", ())]
    assert told == ["solid fat"]
    assert "too soft for a window to hold" in flat(written().replace("#", " "))


def test_the_shelf_of_a_workspace_of_ones_own_is_empty(run, begun):
    said = flat(begun(PERCENT, "--product", "lip balm", "--market", "EU").out)
    rows = Path("catalogues/workshops/demo/stock.csv").read_text("utf-8").splitlines()
    assert len(rows) == 1
    assert "prices.csv, costs.toml and scale.toml in catalogues/workshops/demo" in said
    told = flat(run("buy", "scenarios/my_recipe.toml").out)
    assert "packs of 5 ingredients" in told


TOLD_ONCE = ("invented", "GUIDE.md", "optimiser open", "optimiser catalogue check")


def test_a_later_recipe_is_told_with_what_is_new_alone(run, begun):
    first = begun(PERCENT, "--product", "lip balm", "--market", "EU").out
    assert all(each in first for each in TOLD_ONCE)
    Path("second.csv").write_text(PERCENT, encoding="utf-8")
    more = ("--product", "lip balm", "--market", "EU")
    second = run("begin", ".", "--from", "second.csv", *more).out
    assert "optimiser formulate scenarios/second.toml" in second
    assert not any(each in second for each in TOLD_ONCE)


# -- what comes next ------------------------------------------------------------------


def commands(told):
    return [line.strip() for line in told.splitlines() if line.startswith("  ")]


@pytest.mark.parametrize(
    ("given", "more"),
    [
        ((), "--product PRODUCT --market MARKET"),
        (("--product", "lip balm"), '--product "lip balm" --market MARKET'),
        (("--market", "EU"), "--product PRODUCT --market EU"),
        (("--use", "rinse-off"), "--use rinse-off --market MARKET"),
    ],
)
def test_what_nobody_said_of_a_recipe_stands_in_the_command_that_comes_next(
    run, begun, given, more
):
    told = commands(begun(PERCENT, *given).out)
    again = f"optimiser begin . --from ../my_recipe.csv --replace {more}"
    assert told[:2] == ["cd kitchen", again]
    words = [each.strip('"') for each in re.findall(r'"[^"]*"|\S+', again)]
    asked = run(*words[1:])
    assert asked.code == 1  # what stands in capitals is asked for
    said = [each for each in ("PRODUCT", "MARKET") if each in more]
    assert all(f"'{each}'" in asked.err for each in said)
    filled = [{"PRODUCT": "lip balm", "MARKET": "US"}.get(x, x) for x in words[1:]]
    assert run(*filled).code == 0
    assert scenario()["market"] != []


def test_nothing_is_begun_again_where_all_was_said(begun):
    told = commands(begun(PERCENT, "--product", "lip balm", "--market", "EU").out)
    assert told[:2] == ["cd kitchen", "optimiser formulate scenarios/my_recipe.toml"]


def test_a_check_alone_hands_on_what_was_said_to_begin(run, begun):
    begun(PERCENT, "--product", "lip balm", "--market", "EU")
    told = ("--market", "UK", "--market", "EU", "--product", "lip balm")
    said = flat(run("check", "../my_recipe.csv", *told).out)
    more = '--product "lip balm" --market GB --market EU'
    assert f"Next: `optimiser begin . --from ../my_recipe.csv {more}`" in said
    said = flat(run("check", "../my_recipe.csv", "--market", "EU", *RINSED).out)
    assert f"../my_recipe.csv {' '.join(RINSED)} --market EU`" in said


RINSED = ("--use", "rinse-off")
HALF_WAX = "ingredient,amount,unit\nbeeswax,50,g\nsunflower oil,50,g\n"


def test_windows_that_are_comments_because_of_a_clash_are_told_on_the_screen(begun):
    said = flat(begun(HALF_WAX, "--product", "lip balm", "--market", "EU").out)
    assert "windows" not in scenario()
    assert (
        "The windows stand in the scenario as comments, for the other rules clash with"
        " them: firm in a room and melts on the skin." in said
    )


def test_no_window_is_said_to_be_a_comment_where_all_are_asked(begun):
    said = flat(begun(PERCENT, "--product", "lip balm", "--market", "EU").out)
    assert len(scenario()["windows"]) == 2
    assert "as a comment" not in said
    assert "as comments" not in said


# -- very small doses -----------------------------------------------------------------

DOSE = """\
ingredient,amount,unit
cocoa butter,700,g
sunflower oil,299.9,g
lavender oil,{dose},g
"""


@pytest.mark.parametrize(
    ("dose", "percent"), [(0.03, 0.003), (0.243, 0.024), (0.00071, 0.000071)]
)
def test_a_very_small_dose_is_written_in_two_figures(run, begun, dose, percent):
    done = begun(DOSE.format(dose=dose), "--product", "lip balm", "--market", "EU")
    assert "keeps every rule" in done.out
    told = scenario()
    assert told["pins"] == {"lavender oil": percent}
    assert told["base"]["lavender oil"] == percent
    assert sum(told["base"].values()) == pytest.approx(100.0, abs=1e-9)
    answer = json.loads(run("formulate", "scenarios/my_recipe.toml", "--json").out)
    shares = {each["name"]: each["percent"] for each in answer["formula"]}
    assert shares["lavender oil"] == pytest.approx(percent, rel=1e-6)


def test_a_recipe_called_as_a_shipped_scenario_is_called_otherwise(run, begun):
    done = begun(PERCENT, "--product", "lip balm", name="lip_balm.csv")
    assert done.code == 0
    assert "optimiser formulate scenarios/my_lip_balm.toml" in done.out
    again = run("begin", ".", "--from", "../lip_balm.csv", "--replace")
    assert again.code == 0
    assert sorted(each.name for each in Path("scenarios").glob("*lip_balm.toml*")) == [
        "lip_balm.toml",
        "my_lip_balm.toml",
        "my_lip_balm.toml.old",
    ]


def test_nothing_comes_in_as_a_trace_and_what_the_recipe_has_may_stay(run, begun):
    text = PERCENT.replace("beeswax,4,%", "beeswax,3.4,%\ncandelilla wax,0.6,%")
    begun(text, "--product", "lip balm", "--market", "EU")
    assert scenario()["least_if_used"] == {"default": 1, "candelilla wax": 0.6}
    told = run("substitute", "scenarios/my_recipe.toml", "--without", "shea", "--json")
    formula = json.loads(told.out)["formula"]["formula"]
    came = [x["percent"] for x in formula if x["percent"] and not x["base_percent"]]
    assert came
    assert min(came) >= 1.0 - 1e-6


def test_the_file_for_the_heat_takes_the_place_of_the_windows(run, begun):
    begun(PERCENT, "--product", "massage bar", "--market", "EU")
    hot = Path("scenarios/massage_bar_hot.toml").read_text("utf-8")
    hot = hot.replace('"massage_bar.toml"', '"my_recipe.toml"')
    Path("scenarios/hot.toml").write_text(hot, encoding="utf-8")
    told = json.loads(run("formulate", "scenarios/hot.toml", "--json").out)
    rules = [each["id"] for each in told.get("rules", ()) if "firmness" in each["id"]]
    assert {each.split("/")[2].split(" ")[0] for each in rules} == {"30", "35"}


# With beeswax, of which less than half as much candelilla is as strong.
LAVENDER = """\
ingredient,amount,unit
cocoa butter,200,g
shea butter,97,g
beeswax,59,g
sweet almond oil,73,g
jojoba oil,26,g
arrowroot powder,8,g
"""


def firm(told, at):
    """Return the firmness of an answer at a temperature."""
    asked = ("firmness", at)
    found = [x for x in told["properties"] if (x["property"], x["at"]) == asked]
    return found[0]["value"]


def firm_in_a_room(run):
    """Return the firmness at 25 °C of the recipe that was begun from."""
    told = run("check", "../my_recipe.csv", "scenarios/my_recipe.toml", "--json").out
    return firm(json.loads(told), "25 degC")


def test_a_bar_for_the_heat_is_no_firmer_on_the_skin_than_the_bar_in_a_room(run, begun):
    begun(LAVENDER, "--product", "massage bar", "--market", "EU")
    told = json.loads(run("formulate", for_the_heat(), "--json").out)
    assert firm(told, "35 degC") <= firm_in_a_room(run) + 0.1
    candelilla = [x for x in told["formula"] if x["ingredient"] == "candelilla_wax"]
    assert all(each["percent"] <= 8.0 for each in candelilla)


LIKE_FOR_LIKE = '["category change", "kind change", "change"]'


@pytest.mark.parametrize("order", [None, LIKE_FOR_LIKE])
def test_without_beeswax_a_bar_is_about_as_firm_as_it_was(run, begun, order):
    begun(LAVENDER, "--product", "massage bar", "--market", "EU")
    aim = f"[aim]\norder = {order}\n" if order else ""
    text = f'title = "v"\nextends = "my_recipe.toml"\n{aim}[exclude]\nvegan = true\n'
    Path("scenarios/vegan.toml").write_text(text, encoding="utf-8")
    told = json.loads(run("formulate", "scenarios/vegan.toml", "--json").out)
    was = firm_in_a_room(run)
    assert firm(told, "25 degC") == pytest.approx(was, rel=0.1)


def test_what_lacks_firmness_is_left_aside_on_the_skin_as_in_a_room(run, begun):
    little = f"{LAVENDER}lanolin,5,g\n"
    begun(little, "--product", "massage bar", "--market", "EU")
    assert run("formulate", for_the_heat()).code == 0


def test_a_report_needs_no_price_of_everything(run, begun):
    begun(STRANGE, "--product", "lip balm", "--market", "EU")
    done = run("report", "scenarios/my_recipe.toml", "--out", "report.html")
    assert done.code == 0


BALM = """\
ingredient,amount,unit
beeswax,30,g
coconut oil,35,g
shea,15,g
castor oil,20,g
"""


def test_a_vegan_version_has_about_half_as_much_of_a_stronger_wax(run, begun):
    """Common practice: half as much candelilla as beeswax sets as hard a balm."""
    begun(BALM, "--product", "lip balm")
    low, high = (scenario()["bands"]["wax"][each] for each in ("min", "max"))
    assert (low, high) == (11, 38)
    Path("scenarios/vegan.toml").write_text(
        'title = "Vegan"\nextends = "my_recipe.toml"\n[exclude]\nvegan = true\n',
        encoding="utf-8",
    )
    done = run("formulate", "scenarios/vegan.toml", "--json")
    assert done.code == 0
    told = json.loads(done.out)
    amounts = {each["ingredient"]: each["percent"] for each in told["formula"]}
    assert 10.0 <= amounts["candelilla_wax"] <= 18.0


NUT_FREE = """\
title = "Mine, nut-free"
use = "leave-on"

[base]
"cocoa butter" = 30
"refined shea butter" = 20
"sweet almond oil" = 40
"beeswax" = 10

[exclude]
allergens = ["tree nut"]
ingredients = ["argan oil"]
palm_free = true
{more}
[bands]
"wax" = {{ max = 12 }}
"""


def test_what_a_scenario_keeps_out_is_kept_out_by_what_is_begun_from_it(run, begun):
    text = NUT_FREE.format(more="")
    done = begun(text, "--product", "balm", "--market", "EU", name="my_recipe.toml")
    assert done.code == 0, done.err
    assert scenario()["exclude"] == {
        "allergens": ["tree nut"],
        "ingredients": ["argan oil"],
        "palm_free": True,
    }
    told = " ".join((done.out + done.err).split())
    assert "What my_recipe.toml keeps out is kept out here too ([exclude])" in told
    assert (
        "Of my_recipe.toml only the formula and [exclude] are taken; what else it holds"
        " is not: use and bands." in told
    )
    made = json.loads(run("formulate", "scenarios/my_recipe.toml", "--json").out)
    used = {x["ingredient"] for x in made["formula"] if x["percent"] > 0}
    assert "sweet_almond_oil" not in used


def test_what_cannot_be_carried_over_is_told(begun):
    text = NUT_FREE.format(more='alergens = ["peanut"]\n')
    done = begun(text, "--product", "balm", "--market", "EU", name="my_recipe.toml")
    assert done.code == 0, done.err
    told = " ".join((done.out + done.err).split())
    assert "is not: use, bands and some of [exclude]." in told


INFUSED = """\
ingredient,amount,unit
shea butter,100,g
chamomile infused sunflower oil,50,g
garden infusion,10,g
"""


@pytest.mark.parametrize("command", ["check", "pour", "fats"])
def test_an_infusion_of_a_table_that_nothing_was_begun_from_leads_to_begin(
    run, tmp_path, command
):
    (tmp_path / "mine.csv").write_text(INFUSED, encoding="utf-8")
    options = ("--market", "EU", "--product", "balm") if command == "check" else ()
    done = run(command, tmp_path / "mine.csv", *options)
    assert done.code == 1
    said = " ".join(done.err.split())
    assert (
        "row 3, column ingredient: 'chamomile infused sunflower oil' is an infusion in"
        " sunflower oil, and no ingredient here yet. To fix: begin from this recipe,"
        " which makes it one of your own (optimiser begin FOLDER --from FILE)" in said
    )
    assert "row 4, column ingredient: 'garden infusion' does not tell which oil" in said
    assert 'write the oil too, as in "calendula infused olive oil"' in said


def test_an_infused_oil_of_ones_own_is_read_as_the_oil_it_is_made_in(run, begun):
    recipe = OWN.replace("marigold in my olive oil", "marigold infused olive oil")
    done = begun(recipe, "--product", "massage bar", "--market", "EU")
    said = " ".join(done.out.split())
    assert "read as the olive oil it is made in" in said
    assert "a row of prices.csv, marigold_infused_olive_oil,1,kg,PRICE" in said
    assert "Not known here" not in said
    assert "firmness" in written().partition("[[windows]]")[2]
    shown = " ".join(run("formulate", "scenarios/my_recipe.toml").out.split())
    assert "firmness at 25" in shown
    assert "not known what is infused in marigold infused olive oil" in shown
    prices = Path("catalogues/workshops/demo/prices.csv")
    with prices.open("a", encoding="utf-8") as file:
        file.write("marigold_infused_olive_oil,1,kg,21\n")  # as it was told
    assert run("cost", "scenarios/my_recipe.toml", "--net", "60 g").code == 0


def test_of_formulas_as_near_one_like_for_like_of_few_ingredients_is_taken(begun):
    begun(KITCHEN, "--product", "lip balm")
    assert 'order = ["change", "kind change", "count", "cost"]' in written()


def test_what_a_drop_is_taken_for_is_said_once_with_its_doubt(begun):
    more = f"{KITCHEN}sweet orange oil,10,drops\n"
    said = " ".join(begun(more, "--product", "lip balm").out.split())
    assert "Lavender eo: 20 drops is about 0.66 g. A drop is taken as" in said
    assert said.count("A drop is taken as 0.036 ml (0.026 to 0.049") == 1
    assert "Sweet orange oil: 10 drops is about 0.33 g." in said


LANOLIN = """\
ingredient,amount,unit
beeswax,1,tbsp
coconut oil,2,tbsp
sweet almond oil,2,tbsp
shea butter,1,tbsp
lanolin,1,tbsp
"""
HARD = "ingredient,grams\ncocoa butter,60\nbeeswax,40\nsweet almond oil,20\n"


def for_the_heat(more=""):
    """Copy the file for the heat over the recipe, as GUIDE.md says."""
    text = Path("scenarios/massage_bar_hot.toml").read_text("utf-8")
    text = text.replace('"massage_bar.toml"', '"my_recipe.toml"')
    Path("scenarios/hot.toml").write_text(f"{text}\n{more}", encoding="utf-8")
    return "scenarios/hot.toml"


def test_what_is_not_judged_of_a_recipe_is_said_on_the_screen(begun):
    said = " ".join(begun(LANOLIN, "--product", "lip balm").out.split())
    assert "Not judged: firmness at 25 degC, for it is not known of lanolin." in said


def test_nothing_is_said_not_to_be_judged_where_all_is_known(begun):
    assert "Not judged" not in begun(PERCENT, "--product", "lip balm").out


def test_the_way_that_is_told_of_an_unknown_firmness_has_an_answer(run, begun):
    begun(LANOLIN, "--product", "lip balm", "--market", "EU")
    told = run("formulate", for_the_heat())
    assert told.code == 1
    assert 'write [exclude] and, below it, ingredients = ["lanolin"]' in told.err
    done = run("formulate", for_the_heat('[exclude]\ningredients = ["lanolin"]\n'))
    assert done.code == 0
    assert "lanolin                0.0" in done.out


def test_the_file_for_the_heat_takes_a_bar_that_is_harder_than_the_demo(run, begun):
    begun(HARD, "--product", "lotion bar", "--market", "EU")
    assert run("formulate", for_the_heat()).code == 0


# Amounts that are no whole hundredths of a percent: what is held is written shorter.
BY_WEIGHT = """\
ingredient,amount,unit
shea butter,400,g
coconut oil,200,g
sweet almond oil,150,g
beeswax,{beeswax},g
kaolin,{powder},g
lavender oil,10,g
vitamin E,4,g
"""


@pytest.mark.parametrize(
    ("beeswax", "powder", "percent"),
    [(200, 10, 1.027), (215, 18.81, 1.886), (225.94, 3.96, 0.398), (226.04, 9.96, 1)],
)
def test_check_finds_what_begin_told_of_a_recipe_by_weight(
    run, begun, beeswax, powder, percent
):
    told = begun(BY_WEIGHT.format(beeswax=beeswax, powder=powder)).out
    assert "Your recipe as it stands keeps every rule around it." in told
    assert scenario()["pins"]["kaolin"] == pytest.approx(percent, abs=0.005)
    done = run("check", "../my_recipe.csv", "scenarios/my_recipe.toml")
    assert "keeps every rule (" in done.out.splitlines()[0]
    formulated = json.loads(run("formulate", "scenarios/my_recipe.toml", "--json").out)
    assert formulated["steps"]["kept"] is True


def test_begin_and_check_keep_a_recipe_with_a_dose_of_a_thousandth_of_a_percent(
    run, begun
):
    told = begun(f"{BY_WEIGHT.format(beeswax=200, powder=10)}mica,0.03,g\n").out
    assert "Your recipe as it stands keeps every rule around it." in told
    assert scenario()["pins"]["mica"] == 0.0031
    done = run("check", "../my_recipe.csv", "scenarios/my_recipe.toml")
    assert "keeps every rule (" in done.out.splitlines()[0]


# Shares of thirds and sevenths, which no two decimals hold: 3.3134 % is written 3.31.
ROUNDED = """\
ingredient,amount,unit
shea butter,453.6,g
mango butter,113.4,g
olive oil,107.7,g
beeswax,85.05,g
peppermint oil,27.21,g
tea tree oil,2.267,g
menthol,27.21,g
vitamin E,4.711,g
"""


def test_a_recipe_keeps_what_begin_wrote_around_it_whatever_its_digits(run, begun):
    told = " ".join(
        begun(ROUNDED, "--product", "foot balm", "--market", "US").out.split()
    )
    base, most = scenario()["base"], scenario()["limits"]
    grams = dict(line.rsplit(",", 2)[:2] for line in ROUNDED.splitlines()[1:])
    total = sum(map(float, grams.values()))
    for name, limit in most.items():
        share = 100.0 * float(grams[name]) / total
        assert share <= limit["max"] < share + 0.01
        assert abs(base[name] - share) <= 0.005
    done = run("check", "../my_recipe.csv", "scenarios/my_recipe.toml", "--json")
    rules = json.loads(done.out)["rules"]
    broken = [each["id"] for each in rules if (each["slack"] or 0.0) < -1e-6]
    assert broken
    assert all(each.startswith("practice/") for each in broken)
    assert told.count("breaks a rule") == len(broken)


def test_the_page_says_at_the_firmness_that_lauric_fats_make_it_a_rough_guess(
    run, begun
):
    begun(BY_WEIGHT.format(beeswax=200, powder=10))  # 200 of 600 g butter are coconut
    assert "take them as a rough guess" in " ".join(written().replace("#", "").split())
    page = " ".join(run("formulate", "scenarios/my_recipe.toml").out.split())
    told = re.search(
        r"firmness at 25 °C: [^()]*\([^()]*; rough guess: 3. % lauric\)", page
    )
    assert told is not None
    assert page.count("rough guess") == 1
    said = " ".join(
        run("check", "../my_recipe.csv", "scenarios/my_recipe.toml").out.split()
    )
    assert "; rough guess: 33 % lauric)" in said
    whole = " ".join(run("formulate", "scenarios/my_recipe.toml", "--full").out.split())
    assert "above 10 % of the butters the sum of solid fats misleads" in whole
    assert "beyond that the sum" not in whole
