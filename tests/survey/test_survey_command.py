"""``optimiser survey`` from its arguments to the files it writes."""

import csv
import io
import json
import shutil
import tomllib

import pytest

from tests.cli.conftest import run, workspace  # noqa: F401 - fixtures
from tests.survey.conftest import HEADER, PUBLISHED
from tests.survey.test_published import CLASSES, WITHOUT_BASE

BARS = HEADER + "".join(
    f"R{n},bar,cocoa butter,{40 - n},%,\nR{n},bar,beeswax,{20 + n},%,\n"
    f"R{n},bar,sunflower oil,40,%,\n"
    for n in range(3)
)
pytestmark = pytest.mark.usefixtures("workspace")


@pytest.fixture
def kitchen(workspace):  # noqa: F811
    shutil.copy(PUBLISHED, workspace / "published.csv")
    (workspace / "bars.csv").write_text(BARS, encoding="utf-8")
    return workspace


# Recipes that break a law, a dose, or what others of their class are built like: what
# most hold (no oil, soft butter or antioxidant in LB01, LB02, LB10, LB11, ES08),
# the share of lauric fats or waxes that the model of firmness judges (LB01 to LB11), or
# by a rounding or a choice taken as one ingredient a top (ES06, SB01, SB02). The whole
# of SB05 is a soap base, which nothing of the catalogue is.
BREAKING = {
    "ES06", "ES08", "LB01", "LB02", "LB04", "LB10", "LB11", "SB01", "SB02", "SB05",
    "LB07", "LO03", "LO11", "LP03", "LP04", "LP05", "SB04", "SH03", "SV04",
    "SV10",
}  # fmt: skip


@pytest.mark.parametrize("name", [x for x in CLASSES if x not in WITHOUT_BASE])
def test_a_survey_writes_a_scenario_that_formulates_at_once(run, kitchen, name):  # noqa: F811
    options = ("--class", name, "--workshop", "demo", "--market", "EU", "--to", "out")
    done = run("survey", "published.csv", *options)
    assert done.code == 0
    assert max(map(len, done.out.splitlines())) <= 80
    told = json.loads(run("formulate", "out/scenario.toml", "--json").out)
    assert told["status"] == "answered"
    assert told["change"]["by_ingredient"] == pytest.approx(0.0, abs=0.2)
    for path in sorted((kitchen / "out" / "formulas").iterdir()):
        checked = run("check", path, "out/scenario.toml", "--json")
        status = "broken" if path.stem in BREAKING else "kept"
        assert json.loads(checked.out)["status"] == status, path


def test_the_report_says_what_the_recipes_have_in_common(run, kitchen):  # noqa: F811, ARG001
    asked = ("survey", "published.csv", "--class", "lotion bar", "--zone", "II")
    brief = run(*asked)
    first = " ".join(brief.out.splitlines()[:15])
    assert "PROPOSED BASE" in first
    assert "beeswax" in first
    assert " wax 20 to 31 %;" in " ".join(brief.out.split())
    assert len(brief.out.splitlines()) <= 50
    done = run(*asked, "--replace", "--full")
    for text in (
        "Survey of recipes: Lotion bar, beeswax",
        "These recipes are built in 2 ways; one band over all would mislead:",
        "  wax 20 to 31 %; the bottom rests on LB02 alone: without it 27.4",
        "  LB07: adds up to 100.75 %, not to 100; rescaled",
        "Make 100 g and test.",
    ):
        assert text in done.out
    assert "lotion_bar/scenario.toml: written.\n" in done.err
    for word in ("safe", "compliant", "dual", "infeasible"):
        assert word not in done.out.lower()


def test_the_scenario_tells_the_evidence_of_every_band(run, kitchen):  # noqa: F811
    run("survey", "published.csv", "--class", "lotion bar", "--zone", "II")
    text = (kitchen / "lotion_bar" / "scenario.toml").read_text(encoding="utf-8")
    content = tomllib.loads(text)
    assert content["bands"]["wax"] == {
        "min": 20,
        "max": 31,
        "why": "5 recipes, median 27.9 %",
    }
    assert content["climate"] == {"zone": "II"}
    assert sum(content["base"].values()) == pytest.approx(100.0)
    lines = text.splitlines()
    for category in content["bands"]:
        assert any(line.startswith(f"# {category}: ") for line in lines)
    assert max(map(len, lines)) <= 110


def test_the_table_holds_every_line_as_it_was_read(run, kitchen):  # noqa: F811
    run("survey", "published.csv", "--class", "lotion", "--to", "out")
    text = (kitchen / "out" / "recipes.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == 24
    one = next(row for row in rows if row["ingredient_written"] == "rosewater")
    assert (one["recipe"], one["ingredient"], one["category"]) == (
        "LO11",
        "rose hydrosol",
        "water",
    )
    assert (
        float(one["percent_low"]) < float(one["percent"]) < float(one["percent_high"])
    )
    assert {row["used"] for row in rows} == {"yes", "waits for 2 answers"}


def test_a_survey_answers_as_json(run, kitchen):  # noqa: F811, ARG001
    done = run("survey", "published.csv", "--class", "lip balm", "--json")
    told = json.loads(done.out)
    assert told["status"] == "answered"
    assert told["structure"] == "all alike"
    assert len(told["recipes"]) == 3
    assert told["written"][0] == "lip_balm/scenario.toml"
    for fault in told["faults"]:
        assert set(fault) == {"recipe", "kind", "text"}
    assert any(fault["kind"] == "much scent" for fault in told["faults"])
    # Two recipes of three leave their oil bare; no nut oil stands in for it.
    first = told["base"]["formula"][0]
    assert (first["ingredient"], first["stands_in"]) == ("olive_oil", "liquid oil")
    assert told["base"]["nearest_recipe"]["recipe"] == "LP04"


def test_without_a_class_all_recipes_are_read_and_nothing_is_written(run, kitchen):  # noqa: F811
    before = sorted(kitchen.iterdir())
    done = run("survey", "published.csv")
    assert done.code == 0
    assert "29 recipes in 14 classes, 26 fit to be used" in done.out.replace("\n", " ")
    assert sorted(kitchen.iterdir()) == before


def test_what_is_there_already_is_not_written_over_unless_asked(run, kitchen):  # noqa: F811
    run("survey", "bars.csv")
    scenario = kitchen / "bar" / "scenario.toml"
    scenario.write_text("mine", encoding="utf-8")
    done = run("survey", "bars.csv")
    assert done.code == 1
    assert "may hold changes of yours" in done.err
    assert scenario.read_text(encoding="utf-8") == "mine"
    assert run("survey", "bars.csv", "--replace").code == 0
    assert scenario.read_text(encoding="utf-8") != "mine"


def test_a_file_that_cannot_be_read_does_not_stop_the_others(run, kitchen):  # noqa: F811, ARG001
    done = run("survey", "nowhere.csv", "bars.csv")
    assert done.code == 0
    assert "nowhere.csv: is not there." in done.err


def test_no_recipe_at_all_needs_attention(run, kitchen):  # noqa: F811, ARG001
    done = run("survey", "nowhere.csv")
    assert done.code == 1
    assert "no recipe could be read" in done.err


def test_answers_and_names_are_read_from_files(run, kitchen):  # noqa: F811
    (kitchen / "answers.csv").write_text(
        "recipe,ingredient,answer\nSV04,vitamin E,1/4 tsp\n", encoding="utf-8"
    )
    (kitchen / "names.csv").write_text(
        "written,stands_for\nhemp extract,antioxidant\n", encoding="utf-8"
    )
    options = ("--answers", "answers.csv", "--aliases", "names.csv")
    done = run("survey", "published.csv", "--class", "salve", *options)
    assert "3 recipes of 29, 3 of them used" in done.out.replace("\n", " ")
    scrubs = ("survey", "published.csv", "--class", "emulsified scrub")
    assert "NAMES NOT KNOWN" in run(*scrubs).out
    assert "NAMES NOT KNOWN" not in run(*scrubs, "--replace", *options).out


@pytest.mark.parametrize(
    ("options", "wrong"),
    [
        (("--market", "XX"), "is no market that is known"),
        (("--answers", "bars.csv"), "is not a known column"),
        (("--class", "rock"), "is no class of these recipes"),
    ],
)
def test_an_option_that_fits_nothing_needs_attention(run, kitchen, options, wrong):  # noqa: F811, ARG001
    done = run("survey", "bars.csv", *options)
    assert done.code == 1
    assert wrong in done.err


def test_only_the_formulas_asked_for_are_written(run, kitchen):  # noqa: F811
    done = run("survey", "bars.csv", "--recipe", "R1", "--recipe", "R9")
    written = [each.name for each in (kitchen / "bar" / "formulas").iterdir()]
    assert written == ["R1.csv"]
    assert "'R9' is no recipe of these" in done.err


def test_bands_that_cannot_be_kept_give_no_scenario(run, kitchen):  # noqa: F811
    lines = "A,oil,mica,4.6,%,\nA,oil,olive oil,95.4,%,\n"
    (kitchen / "oils.csv").write_text(HEADER + lines, encoding="utf-8")
    done = run("survey", "oils.csv")
    assert done.code == 1
    assert "No formula keeps these bands together with the other rules:" in done.out
    assert not (kitchen / "oil").exists()


def test_text_from_files_steers_neither_terminal_nor_spreadsheet(run, kitchen):  # noqa: F811
    evil = '"=cmd|x"", \x1b[31m"'
    lines = BARS + f"{evil},bar,cocoa butter,60,%,\n{evil},bar,=beeswax,40,%,\n"
    lines = lines.replace(",bar,", ',"bar ""]\n#\x07",')
    (kitchen / "evil.csv").write_text(lines, encoding="utf-8")
    done = run("survey", "evil.csv", "--to", "out")
    assert "\x1b" not in done.out + done.err
    assert "\x07" not in done.out + done.err
    text = (kitchen / "out" / "scenario.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["product"] == 'bar "] #'
    table = (kitchen / "out" / "recipes.csv").read_text(encoding="utf-8-sig")
    for row in csv.reader(io.StringIO(table)):
        assert not any(cell.startswith(("=", "@", "+")) for cell in row)


@pytest.mark.parametrize("name", ["recipes.csv", "scenario.toml", "formulas/R1.csv"])
@pytest.mark.parametrize("option", ["recipes", "--answers", "--aliases"])
def test_what_a_survey_reads_is_not_written_over(run, kitchen, name, option):  # noqa: F811
    headers = {
        "recipes": BARS,
        "--answers": "recipe,ingredient,answer\n",
        "--aliases": "written,stands_for\n",
    }
    read = kitchen / "bar" / name
    read.parent.mkdir(parents=True)
    read.write_text(headers[option], encoding="utf-8")
    tables = [read] if option == "recipes" else ["bars.csv", option, read]
    done = run("survey", *tables, "--replace")
    assert done.code == 1
    assert "is read by this command, and would be written over" in done.err
    assert read.read_text(encoding="utf-8") == headers[option]
    assert [each for each in (kitchen / "bar").rglob("*") if each.is_file()] == [read]


@pytest.mark.parametrize(
    ("name", "wrong"),
    [
        ("", "is there already and is no folder"),
        ("formulas", "is there already and is no folder"),
        ("recipes.csv", "was written by something else"),
        ("formulas/R2.csv", "was written by something else"),
    ],
)
def test_nothing_is_written_where_not_all_can_be(run, kitchen, name, wrong):  # noqa: F811
    there = kitchen / "bar" / name
    there.parent.mkdir(parents=True, exist_ok=True)
    there.write_text("mine", encoding="utf-8")
    done = run("survey", "bars.csv")
    assert done.code == 1
    assert wrong in done.err
    assert "name another folder with --to" in done.err
    assert there.read_text(encoding="utf-8") == "mine"
    files = [each for each in (kitchen / "bar").rglob("*") if each.is_file()]
    assert files == ([there] if name else [])


@pytest.mark.parametrize("name", ["scenario.toml", "recipes.csv", "formulas/R1.csv"])
def test_a_link_is_not_followed_to_another_file(run, kitchen, name):  # noqa: F811
    foreign = kitchen / "foreign.csv"
    foreign.write_text("ingredient,percent,note\nmine,100,\n", encoding="utf-8")
    link = kitchen / "bar" / name
    link.parent.mkdir(parents=True)
    link.symlink_to(foreign)
    done = run("survey", "bars.csv", "--replace")
    assert done.code == 1
    assert "is a link to another file" in done.err
    assert "mine" in foreign.read_text(encoding="utf-8")
    assert list(link.parent.iterdir()) == [link]


def test_a_link_is_not_followed_to_another_folder(run, kitchen):  # noqa: F811
    (kitchen / "bar").mkdir()
    (kitchen / "mine").mkdir()
    (kitchen / "bar" / "formulas").symlink_to(kitchen / "mine")
    done = run("survey", "bars.csv")
    assert done.code == 1
    assert "is a link to another folder" in done.err
    assert not list((kitchen / "mine").iterdir())
    assert not (kitchen / "bar" / "scenario.toml").exists()


def test_a_folder_that_may_not_be_made_is_told(run, kitchen):  # noqa: F811, ARG001
    done = run("survey", "bars.csv", "--to", "x" * 300)
    assert done.code == 1
    assert "nothing was written" in done.err
    assert "name another folder with --to" in done.err


def test_a_table_given_twice_is_refused(run, kitchen):  # noqa: F811
    again = kitchen / ".." / kitchen.name / "bars.csv"
    done = run("survey", "bars.csv", again)
    assert done.code == 1
    assert "is given twice" in done.err


@pytest.mark.parametrize("table", ["bars.csv", "published.csv"])
def test_only_recipes_that_are_not_known_need_attention(run, kitchen, table):  # noqa: F811
    done = run("survey", table, "--recipe", "nope")
    assert done.code == 1
    assert "'nope' is no recipe of these" in done.err
    assert not (kitchen / "bar").exists()


def test_an_amount_that_is_not_one_number_waits_for_an_answer(run, kitchen):  # noqa: F811
    odd = BARS + "R9,bar,cocoa butter,10 20,%,\nR9,bar,beeswax,0,%,\n"
    (kitchen / "odd.csv").write_text(odd, encoding="utf-8")
    (kitchen / "said.csv").write_text(
        "recipe,ingredient,answer\nR9,cocoa butter,as written\nR9,beeswax,as written\n",
        encoding="utf-8",
    )
    done = run("survey", "odd.csv", "--to", "one")
    told = " ".join((done.out + done.err).split())
    assert "'10 20 %' cannot be read as one amount" in told
    assert "'0 %' says that there is none of it" in told
    done = run("survey", "odd.csv", "--to", "two", "--answers", "said.csv")
    told = " ".join((done.out + done.err).split())
    assert "'10 20 %' cannot be read as one amount" in told
    assert "none of it" not in told


def test_the_short_page_tells_what_was_not_read_as_it_is_written(run, kitchen):  # noqa: F811
    text = (
        f"{HEADER}A,balm,beeswax,25,%,\nA,balm,cocoa butter,80,%,\n"
        "B,balm,beeswax,20,g,\nB,balm,shea butter,75,g,\nB,balm,vitamin e,1,capsule,\n"
    )
    (kitchen / "balms.csv").write_text(text, encoding="utf-8")
    told = run("survey", "balms.csv", "--class", "balm").out
    assert "  B, row 6: vitamin e 1 capsule: the size of 'capsule' is not known" in told
    assert "  A: adds up to 105 %, not to 100; rescaled" in told
    assert "B: adds up to 95 g" not in told


def test_a_soap_base_is_left_open_and_no_syndet_stands_in_for_it(run, kitchen):  # noqa: F811
    options = ("--class", *WITHOUT_BASE, "--workshop", "demo", "--to", "out")
    done = run("survey", "published.csv", *options)
    assert done.code == 1
    told = " ".join(done.out.split())
    assert "No base can be made. left open, for it was read only as surfactant" in told
    assert "87.1 % surfactant" in told
    assert not (kitchen / "out" / "scenario.toml").exists()


def test_what_would_do_is_named_where_recipes_name_nothing(run, kitchen):  # noqa: F811, ARG001
    options = ("--class", "lotion bar", "--workshop", "demo", "--to", "out")
    run("survey", "published.csv", *options)
    asked = ("substitute", "out/scenario.toml", "--without", "beeswax")
    done = run(*asked)
    assert done.code == 3
    assert "[only] keeps out what is like it: candelilla wax" in done.err
    assert '--with "candelilla wax"' in done.err
    # As much candelilla as beeswax would make another thing: a little less wax does.
    done = run(*asked, "--with", "candelilla wax", "--json")
    assert done.code == 3
    assert "keeps out what is like it: candelilla" not in done.err
    ways = json.loads(done.out)["ways_out"]
    eased = {(each["id"], round(each["to"])) for way in ways for each in way["ease"]}
    assert ("band/wax/min", 18) in eased
