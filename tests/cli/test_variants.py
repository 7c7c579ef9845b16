"""``optimiser variants`` from the maker's side."""

import json
import re

import pytest

pytestmark = pytest.mark.usefixtures("asked_once")
SCENARIO = "scenarios/massage_bar.toml"


def test_formulas_stand_side_by_side(run, workspace):  # noqa: ARG001
    told = run("variants", SCENARIO, "--count", 3)
    assert told.code == 0
    assert "3 formulas within 5 % of the least cost" in told.out
    first = told.out.splitlines()[:15]
    # The search for it may be cut short, and then finds one for 0.01 more.
    assert any(re.match(r"  variant 3   15\.8[78]     0\.[34]", x) for x in first)
    assert "WHERE THEY DIFFER" in told.out
    assert "TAKE CARE" in told.out
    assert "HOW FAR APART" not in told.out
    told = run("variants", SCENARIO, "--count", 3, "--full")
    assert "HOW FAR APART, % OF THE FORMULA" in told.out
    assert "CAUTIONS" in told.out


def test_no_more_exist_is_said(run, workspace):  # noqa: ARG001
    told = run("variants", SCENARIO, "--within", 0.1, "--apart", 20)
    assert "No more exist: the next one as different costs" in " ".join(
        told.out.split()
    )


def test_json_and_csv_hold_every_variant(run, workspace):
    csv = workspace / "out.csv"
    told = run("variants", SCENARIO, "--count", 2, "--json", "--csv", csv)
    data = json.loads(told.out)
    assert [each["title"] for each in data["variants"]] == ["variant 1", "variant 2"]
    lines = csv.read_text(encoding="utf-8-sig").splitlines()
    assert len(lines) == 1 + sum(
        len(each["formula"]) for each in data["variants"]
    ) - sum(
        line["percent"] == 0 for each in data["variants"] for line in each["formula"]
    )


def test_themes_of_a_folder_make_a_matrix(run, workspace):  # noqa: ARG001
    told = run("variants", SCENARIO, "--theme", "scenarios/themes")
    assert told.code == 0
    assert "4 of 4 themes are possible" in told.out
    assert "TWO THEMES TOGETHER" in told.out


def test_a_theme_that_is_not_possible_is_no_failure_beside_others(run, workspace):
    (workspace / "waxless.toml").write_text('[exclude]\ncategories = ["wax"]\n')
    told = run(
        "variants", SCENARIO, "--theme", "waxless.toml",
        "--theme", "scenarios/themes/vegan.toml",
    )  # fmt: skip
    assert told.code == 0
    assert (
        "waxless: these cannot all hold: 'wax at least 6 %' and 'no wax'." in told.out
    )
    alone = run("variants", SCENARIO, "--theme", "waxless.toml", "--json")
    assert alone.code == 3
    assert json.loads(alone.out)["themes"][0]["possible"] is False


def test_a_theme_may_not_extend(run, workspace):
    (workspace / "own.toml").write_text('extends = "x.toml"\n')
    (workspace / "empty").mkdir()
    told = run("variants", SCENARIO, "--theme", "own.toml", "--theme", "empty")
    assert told.code == 1
    assert (
        told.err
        == (
            "own.toml, key extends: is a scenario of its own, for it extends another.\n"
            "  To fix: leave extends out, or give the file as a scenario.\n"
            "empty: is a folder without a theme.\n"
            "  To fix: put themes there as .toml files, or name another folder.\n"
        )
        or "is a folder without a theme" in told.err
    )


def test_a_slip_in_a_theme_is_told_with_the_theme_s_file(run, workspace):
    (workspace / "slip.toml").write_text('[exclude]\nallergens = ["tree nutt"]\n')
    told = run("variants", SCENARIO, "--theme", "slip.toml")
    assert told.code == 1
    assert "slip.toml, key exclude.allergens" in told.err


def test_a_theme_without_a_price_names_the_ingredient_and_the_row_to_write(
    run, workspace
):
    prices = workspace / "catalogues/workshops/demo/prices.csv"
    rows = prices.read_text(encoding="utf-8").splitlines()
    kept = [row for row in rows if not row.startswith("sweet_orange_oil")]
    assert len(kept) < len(rows)
    prices.write_text("\n".join(kept) + "\n", encoding="utf-8")
    orange = ("--theme", "scenarios/themes/sweet_orange.toml")
    told = run("variants", SCENARIO, *orange)
    assert (told.code, told.out) == (1, "")
    assert "pins.sweet orange oil: 'sweet orange oil' is asked for" in told.err
    assert "sweet orange oil,100,g,PRICE,0,EUR" in told.err
    vegan = ("--theme", "scenarios/themes/vegan.toml")
    told = run("variants", SCENARIO, *orange, *vegan)
    assert told.code == 1
    said = " ".join(told.out.split())
    assert "1 of 2 themes are possible" in said
    assert "sweet orange: scenarios/massage_bar.toml, key pins.sweet orange oil" in said
    assert "cannot all hold: 'is asked" not in said


def test_variants_say_how_little_of_an_ingredient_they_may_hold(run, workspace):  # noqa: ARG001
    said = " ".join(run("variants", SCENARIO, "--count", 2).out.split())
    told = "each main ingredient at 1 % or more (2 % for butters, oils and the like)"
    assert f"{told}, or none of it" in said
