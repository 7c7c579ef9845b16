"""What nobody has told what it is: not guessed, not judged upon, told, and told how."""

import json
import tomllib
from pathlib import Path

import pytest

# Trade names are invented; nothing in them tells what they are.
SHORTENING = """\
ingredient,amount,unit
Zorvex,8,oz
cocoa butter,4,oz
beeswax,2,oz
Quillomat,1,oz
sugar,2,cups
grapeseed oil,2,tbsp
"""
SCRUB = """\
ingredient,amount,unit
cocoa butter,170,g
shea butter,97,g
beeswax,35,g
rapeseed oil,54,g
sugar,302,g
emulsifying wax,57,g
Zorvex,8,ml
"""
FILE = "scenarios/my_recipe.toml"
OWN = Path("catalogues/workshops/demo")


@pytest.fixture
def much(begun):
    """Begin from a bar of which 30 % is unknown, and return what was said."""
    return flat(begun(SHORTENING, "--product", "body butter bar").out)


@pytest.fixture
def little(begun):
    """Begin from a scrub of which 1 % is unknown, and return what was said."""
    return flat(begun(SCRUB, "--product", "body scrub bar").out)


def flat(text):
    return " ".join(text.split())


def scenario():
    return tomllib.loads(Path(FILE).read_text(encoding="utf-8"))


def properties(run, command="formulate", *more):
    told = json.loads(run(command, FILE, *more, "--json").out)
    return {(each["property"], each["at"]): each for each in told["properties"]}


def text_of(run, *command):
    done = run(*command)
    assert done.code == 0
    return flat(done.out)


@pytest.mark.parametrize("unit", ["g", "oz", "ml", "drops", "tbsp", "cup"])
def test_how_an_amount_is_measured_tells_nothing_of_what_it_is(begun, unit):
    begun(SCRUB.replace("8,ml", f"8,{unit}"), "--use", "rinse-off")
    rows = (OWN / "ingredients.csv").read_text("utf-8").splitlines()
    assert rows[1].startswith("zorvex,Zorvex,unknown,")


def test_begin_says_that_it_did_not_guess_and_how_to_say_what_it_is(much):
    assert "Not known here, and not guessed: Zorvex and Quillomat." in much
    assert "taken as powder" not in much
    assert 'optimiser catalogue show "THE INCI NAMES"' in much
    place = "catalogues/workshops/demo/recipe_names.csv"
    assert f"add one row to {place}: Zorvex,THE NAME THAT IT SHOWS;" in much
    assert "Not judged: firmness at 25 degC and solid fat at 35 degC" in much
    assert "breaks a rule" not in much


@pytest.mark.usefixtures("much")
def test_what_is_unknown_is_held_as_it_is_however_much_there_is(run):
    told = scenario()
    assert set(told["pins"]) == {"Zorvex", "Quillomat"}
    assert not {"unknown", "powder"} & told["bands"].keys()
    assert "windows" not in told
    found = json.loads(run("formulate", FILE, "--json").out)["formula"]
    by_name = {each["name"]: each for each in found}
    for name, share in told["pins"].items():
        assert by_name[name]["percent"] == pytest.approx(share)
        assert by_name[name]["category"] == "unknown"


@pytest.mark.usefixtures("much")
@pytest.mark.parametrize("at", ["20 degC", "30 degC", "35 degC"])
def test_no_figure_of_melting_is_told_beside_much_that_is_unknown(run, at):
    found = properties(run)["solid fat", at]
    assert found["value"] is None
    assert {"Zorvex", "Quillomat"} <= {*found["missing"]}


@pytest.mark.usefixtures("much")
def test_pages_say_that_nothing_is_judged_beside_much_that_is_unknown(run):
    assert "not judged: it is not known what Zorvex and Quillomat are" in text_of(
        run, "formulate", FILE
    )
    full = text_of(run, "formulate", FILE, "--full")
    assert "density at 20 °C: not known, no figure for Zorvex and Quillomat" in full
    assert "Powders hang in the air" not in full
    fats = text_of(run, "fats", FILE)
    assert "of 29.9 % it is not known what it is" in fats
    assert "Nothing is known of how this fat melts" in fats
    assert "SOLID FAT, %" not in fats
    sure = text_of(run, "robust", FILE, "--draws", 100)
    firm = "Firmness is not judged: nothing is known of Zorvex and Quillomat."
    melts = "Melting is not judged: too little is known of Zorvex and Quillomat."
    assert -1 < sure.find(firm) < sure.find(melts) < sure.find("Every rule is kept")
    assert "It can be prepared for all that is judged" in sure


@pytest.mark.usefixtures("much")
def test_the_sheet_does_not_say_when_what_is_unknown_goes_in(run):
    told = json.loads(run("batch", FILE, "--json").out)
    stages = {each["name"]: each["stage"] for each in told["weigh"]}
    assert stages["Zorvex"] == stages["Quillomat"] == "unknown"
    assert stages["cocoa butter"] == "melt"
    assert told["pour_at"] is None
    low, high = told["density"]["low"], told["density"]["high"]
    assert (low, high) == pytest.approx((1.1, 1.6), abs=0.1)  # an oil, or a clay
    assert told["density"]["unknown"] == ["Zorvex", "Quillomat"]
    sheet = text_of(run, "batch", FILE)
    assert "WHEN? NOT KNOWN" in sheet
    assert "When Zorvex and Quillomat go in is not known here" in sheet
    assert "Where this melt thickens is not known" in sheet
    assert "what Zorvex and Quillomat are, is not known" in sheet
    assert "g/ml" not in sheet


@pytest.mark.usefixtures("much")
def test_pouring_says_that_where_it_sets_is_not_known(run):
    told = json.loads(run("pour", FILE, "--json").out)
    assert told["gel_point"] is None
    assert told["unjudged"] == ["Zorvex", "Quillomat"]
    assert "it stays runny" not in flat(run("pour", FILE).out)


@pytest.mark.usefixtures("much")
def test_a_stage_that_the_maker_tells_is_taken(run):
    rows = (OWN / "ingredients.csv").read_text("utf-8").splitlines()
    told = [f"{rows[0]},stage", f"{rows[1]},melt", f"{rows[2]},cool-down"]
    (OWN / "ingredients.csv").write_text("\n".join(told) + "\n", encoding="utf-8")
    found = json.loads(run("batch", FILE, "--json").out)["weigh"]
    stages = {each["name"]: each["stage"] for each in found}
    assert (stages["Zorvex"], stages["Quillomat"]) == ("melt", "add")


def test_figures_are_told_without_a_little_that_is_unknown(little, run):
    assert "Not judged" not in little
    held = {each["property"]: each for each in scenario()["windows"]}
    assert held.keys() == {"firmness", "solid fat"}
    found = properties(run)["firmness", "25 degC"]
    assert found["value"] is not None
    assert found["second_opinion"] is not None
    assert [each["name"] for each in found["without"]] == ["Zorvex"]
    for command in (("formulate", FILE), ("formulate", FILE, "--full")):
        assert "without Zorvex (1.05 %): what it is, is not known" in text_of(
            run, *command
        )
    assert "Without Zorvex (1.05 %)" in text_of(run, "robust", FILE, "--draws", 100)
    assert "melting is not known: Zorvex" in text_of(run, "fats", FILE)
    assert "Where this melt thickens is not known" not in flat(run("pour", FILE).out)


@pytest.mark.usefixtures("little")
def test_a_window_is_not_judged_where_more_is_asked_for_than_is_little(run):
    Path("scenarios/more.toml").write_text(
        'extends = "my_recipe.toml"\n[pins]\n"Zorvex" = 5\n', encoding="utf-8"
    )
    done = run("formulate", "scenarios/more.toml")
    assert done.code == 1
    assert "no firmness at 25 °C is known" in flat(done.err)


@pytest.mark.usefixtures("little")
def test_no_preservative_is_missed_for_certain_where_something_is_unknown(run):
    told = text_of(run, "formulate", FILE)
    unsure = "that is known here (what Zorvex is, is not known)"
    assert f"Gets wet and has no preservative {unsure}" in told
    assert "has no preservative:" not in told
    assert "that is known here" not in text_of(
        run, "formulate", "scenarios/foot_scrub_bar.toml"
    )


@pytest.mark.usefixtures("little")
def test_a_cheaper_formula_keeps_what_is_unknown(run):
    rows = (OWN / "prices.csv").read_text("utf-8")
    rows += "zorvex,100,g,90,1,EUR,2026-11-02,\n"
    (OWN / "prices.csv").write_text(rows, encoding="utf-8")
    Path("scenarios/cheap.toml").write_text(
        'extends = "my_recipe.toml"\n[aim]\norder = ["cost"]\n', encoding="utf-8"
    )
    told = json.loads(run("formulate", "scenarios/cheap.toml", "--json").out)
    shares = {each["name"]: each["percent"] for each in told["formula"]}
    assert shares["Zorvex"] == pytest.approx(1.05)
    assert told["cost_per_kg"] is not None


@pytest.mark.usefixtures("little")
@pytest.mark.parametrize(
    "meant",
    ["caprylyl glycol with phenoxyethanol", "Phenoxyethanol (and) Caprylyl Glycol"],
)
def test_one_row_of_recipe_names_says_what_a_trade_name_is(run, meant):
    table = OWN / "recipe_names.csv"
    assert table.read_text("utf-8") == "written,stands_for,note\n"
    table.write_text(f"written,stands_for,note\nZorvex,{meant}\n", encoding="utf-8")
    done = run(
        "begin",
        ".",
        "--from",
        "../my_recipe.csv",
        "--replace",
        "--product",
        "body scrub bar",
    )
    assert done.code == 0
    said = flat(done.out)
    assert (
        "Read as: shea butter = refined shea butter; sugar = granulated sugar;"
        " Zorvex = caprylyl glycol with"
    ) in said
    assert "not guessed" not in said
    assert "caprylyl glycol with phenoxyethanol" in scenario()["base"]
    told = text_of(run, "formulate", FILE)
    assert "no preservative" not in told
    assert "not known" not in told.partition("WILL IT HOLD")[2]


@pytest.mark.parametrize(
    "written",
    [
        "phenoxyethanol (and) caprylyl glycol",
        "Caprylyl Glycol, Phenoxyethanol",
        "PHENOXYETHANOL; CAPRYLYL GLYCOL",
    ],
)
def test_a_blend_is_found_by_the_inci_names_on_its_label(run, written):
    told = text_of(run, "catalogue", "show", written)
    assert told.startswith("caprylyl glycol with phenoxyethanol")


@pytest.mark.usefixtures("much")
def test_a_window_may_leave_aside_what_is_unknown_by_the_makers_own_word(run):
    window = """[[windows]]
property = "firmness"
at = "25 degC"
over = "lipids"
min = 50
"""
    head = 'extends = "my_recipe.toml"\n'
    held = Path("scenarios/held.toml")
    held.write_text(head + window, encoding="utf-8")
    done = run("formulate", held)
    assert done.code == 1
    assert "no firmness at 25 °C is known" in flat(done.err)
    held.write_text(f'{head}{window}without = ["Zorvex", "Quillomat"]\n', "utf-8")
    told = text_of(run, "formulate", held)
    assert "firmness at 25 °C of the lipids without Zorvex and Quillomat: " in told
    held.write_text(f'{head}{window}without = ["Zorvex"]\n', "utf-8")
    done = run("formulate", held)
    assert "'Quillomat' is asked for by the scenario, but no firmness" in flat(done.err)
