"""Each command from its arguments to its exit code."""

import csv
import io
import json

import pytest

from optimiser.reading.duties import shipped_markets

FORMULA = (
    "ingredient,percent\n"
    "cocoa butter,{}\nrefined shea butter,20\nbeeswax,4\nsunflower oil,{}\n"
)


@pytest.mark.usefixtures("workspace")
def test_formulate_prints_a_report_that_fits_and_exits_zero(run):
    done = run("formulate", "scenarios/bar.toml")
    assert done.code == 0
    assert done.out.startswith("Plain massage bar: leave-on, ")
    assert max(map(len, done.out.splitlines())) <= 80
    assert done.err == ""


@pytest.mark.usefixtures("workspace")
def test_formulate_answers_as_json(run):
    done = run("formulate", "scenarios/bar.toml", "--json")
    told = json.loads(done.out)
    assert told["status"] == "answered"
    assert sum(each["percent"] for each in told["formula"]) == pytest.approx(100.0)


@pytest.mark.usefixtures("workspace")
def test_both_solvers_come_to_the_same_cost(run):
    costs = {
        json.loads(
            run("formulate", "scenarios/bar.toml", "--json", "--solver", name).out
        )["cost_per_kg"]
        for name in ("highs", "cbc")
    }
    assert max(costs) == pytest.approx(min(costs), rel=1e-7)


def test_formulate_writes_the_formula_for_a_spreadsheet(run, workspace):
    done = run("formulate", "scenarios/bar.toml", "--csv", "out.csv")
    assert done.err == "out.csv: written.\n"
    text = (workspace / "out.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert sum(float(row["percent"]) for row in rows) == pytest.approx(100.0)
    assert run("check", "out.csv", "scenarios/bar.toml").code == 0


@pytest.mark.usefixtures("workspace")
def test_formulate_never_writes_over_its_scenario(run):
    done = run("formulate", "scenarios/bar.toml", "--csv", "scenarios/bar.toml")
    assert done.code == 1
    assert "is read by this command, and would be written over" in done.err
    assert run("formulate", "scenarios/bar.toml").code == 0


def test_a_clash_exits_three_and_writes_no_formula(run, workspace):
    done = run("formulate", "scenarios/clash.toml", "--csv", "out.csv")
    assert done.code == 3
    assert "No formula keeps every rule." in done.out
    assert done.err == "out.csv: not written, for no formula was found.\n"
    assert not (workspace / "out.csv").exists()


@pytest.mark.usefixtures("workspace")
def test_a_clash_as_json_names_its_rules(run):
    done = run("formulate", "scenarios/clash.toml", "--json")
    assert done.code == 3
    assert json.loads(done.out)["clash"]


def test_the_search_that_is_not_for_makers_is_not_in_the_help(run):
    assert "--solver" not in run("formulate", "--help").out


def test_the_help_of_check_shows_what_a_formula_looks_like(run):
    told = " ".join(run("check", "--help").out.split())
    assert "ingredient,percent or ingredient,grams" in told


@pytest.mark.parametrize("command", ["check", "begin", "survey"])
def test_the_help_of_a_market_names_all_that_the_program_came_with(run, command):
    told = " ".join(run(command, "--help").out.split())
    assert ", ".join(shipped_markets()) in told


@pytest.mark.parametrize(
    ("cocoa", "oil", "code", "told"),
    [(45, 31, 0, "keeps every rule"), (36, 40, 1, "breaks 2 rules")],
)
def test_check_gives_its_verdict_first(run, workspace, cocoa, oil, code, told):
    (workspace / "mine.csv").write_text(FORMULA.format(cocoa, oil), encoding="utf-8")
    done = run("check", "mine.csv", "scenarios/bar.toml")
    assert done.code == code
    assert told in done.out.splitlines()[0]
    as_data = run("check", "mine.csv", "scenarios/bar.toml", "--json")
    assert as_data.code == code
    assert json.loads(as_data.out)["status"] == ("kept" if code == 0 else "broken")


@pytest.mark.usefixtures("workspace")
def test_catalogue_list_shows_one_category(run):
    done = run("catalogue", "list", "--category", "wax", "--workshop", "demo")
    assert done.code == 0
    assert "beeswax" in done.out
    assert "cocoa butter" not in done.out
    assert max(map(len, done.out.splitlines())) <= 80
    told = json.loads(run("catalogue", "list", "--json").out)
    assert len(told["ingredients"]) > 50


def test_a_category_that_is_none_is_a_usage_error(run):
    done = run("catalogue", "list", "--category", "waxx")
    assert done.code == 2
    assert "the nearest known name is wax" in done.err


@pytest.mark.usefixtures("workspace")
def test_catalogue_show_finds_an_ingredient_by_any_name(run):
    done = run("catalogue", "show", "Cera Alba", "--workshop", "demo")
    assert done.code == 0
    assert done.out.startswith("beeswax\n")
    told = json.loads(run("catalogue", "show", "beeswax", "--json").out)
    assert told["ingredient"]["key"] == "beeswax"


def test_catalogue_show_lists_the_nearest_names(run):
    done = run("catalogue", "show", "coco buter")
    assert done.code == 1
    assert "cocoa butter" in done.err


def test_catalogue_show_lists_names_that_hold_what_was_written(run):
    done = run("catalogue", "show", "coco")
    assert done.code == 1
    assert "it stands in cocoa butter, coconut oil" in done.err


def test_catalogue_check_counts_rows_or_tells_every_problem(run, workspace):
    done = run("catalogue", "check")
    assert done.code == 0
    assert "No problem found." in done.out
    told = json.loads(run("catalogue", "check", "--json").out)
    assert told["problems"] == []
    assert "demo" in told["not_known"]["without_price"]
    prices = workspace / "catalogues" / "workshops" / "demo" / "prices.csv"
    with prices.open("a", encoding="utf-8") as file:
        file.write("unobtainium,1,kg,2,0,EUR,2026-11-02,\nbeeswax,x,kg,2,0,EUR,,\n")
    done = run("catalogue", "check", "--workshop", "demo")
    assert done.code == 1
    assert "unobtainium" in done.err
    assert "column pack" in done.err


def test_the_catalogue_s_check_reads_what_the_bench_and_costs_are_read_from(
    run, tmp_path
):
    run("begin", tmp_path / "kitchen")
    demo = tmp_path / "kitchen" / "catalogues" / "workshops" / "demo"
    for name, old, new in (
        # What is invented in another currency does not count: here it is the maker's.
        ("scale.toml", 'evidence = "invented"', ""),
        ("scale.toml", 'rate = "18 EUR/h"', 'rate = "18 USD/h"'),
        ("scale.toml", "cavities = 6", "cavities = 0"),
        ("costs.toml", "[tax]", "[taxes]"),
    ):
        text = (demo / name).read_text(encoding="utf-8")
        assert old in text
        (demo / name).write_text(text.replace(old, new), encoding="utf-8")
    done = run("catalogue", "check", "--folder", tmp_path / "kitchen" / "catalogues")
    assert done.code == 1
    for told in ("key labour.rate", "no count of cavities", "known names are tax"):
        assert done.err.count(told) == 1


def test_catalogues_without_workshops_can_be_checked(run, workspace):
    for each in sorted((workspace / "catalogues" / "workshops").rglob("*"))[::-1]:
        each.rmdir() if each.is_dir() else each.unlink()
    assert run("catalogue", "check").code == 0
    (workspace / "catalogues" / "workshops").rmdir()
    assert run("catalogue", "check").code == 0


def test_a_folder_of_catalogues_can_be_named(run, workspace, tmp_path):
    done = run("catalogue", "list", "--folder", tmp_path / "nowhere")
    assert done.code == 1
    given = run("catalogue", "list", "--folder", workspace / "catalogues")
    assert given.code == 0


def test_the_nearest_catalogues_above_are_read(run, workspace, monkeypatch):
    materials = workspace / "catalogues" / "materials" / "ingredients.csv"
    text = materials.read_text(encoding="utf-8").replace(",beeswax,", ",my beeswax,", 1)
    materials.write_text(text, encoding="utf-8")
    (workspace / "deep" / "er").mkdir(parents=True)
    monkeypatch.chdir(workspace / "deep" / "er")
    assert "my beeswax" in run("catalogue", "list", "--category", "wax").out
