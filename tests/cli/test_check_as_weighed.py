"""A batch sheet at ``check`` and ``label``: what was weighed counts, once it is in."""

import csv
import json

import pytest

SCENARIO = "scenarios/bar.toml"


@pytest.fixture
def sheet(run, workspace):
    """Return what writes a batch sheet, with what the scale showed filled in."""
    file = workspace / "sheet.csv"
    assert run("batch", SCENARIO, "--csv", file).code == 0

    def fill(weighed, lots=None):
        with file.open(encoding="utf-8-sig", newline="") as opened:
            rows = list(csv.DictReader(opened))
        for row in rows:
            row["weighed_grams"] = weighed(row)
            row["lots"] = row["lots"] if lots is None else lots
        with file.open("w", encoding="utf-8", newline="") as opened:
            out = csv.DictWriter(opened, rows[0])
            out.writeheader()
            out.writerows(rows)
        return rows

    return fill


@pytest.fixture
def checked(run, workspace):
    def call(*more):
        done = run("check", workspace / "sheet.csv", *(more or (SCENARIO,)))
        return done.code, " ".join((done.out + done.err).split())

    return call


def slip(row):
    return "200.0" if row["ingredient"] == "beeswax" else row["grams"]


def test_a_slip_at_the_scale_breaks_the_rule_that_the_plan_kept(sheet, checked):
    sheet(slip)
    code, told = checked()
    assert code == 1
    assert "keeps every rule" not in told
    assert "wax at most 8 %" in told.partition("BROKEN")[2]
    assert "judged as weighed: " in told
    assert "by the column weighed_grams, not by what was planned" in told


def test_a_sheet_weighed_as_planned_is_judged_as_weighed_too(sheet, checked):
    sheet(lambda row: row["grams"])
    code, told = checked()
    assert code == 0
    assert "judged as weighed: 1000 g in all" in told


def test_what_was_weighed_is_held_against_the_limits_alone_too(sheet, checked):
    sheet(slip)
    _, told = checked("--market", "EU", "--product", "massage bar")
    assert "judged as weighed: " in told


def test_a_sheet_that_is_not_filled_in_says_that_the_plan_was_judged(sheet, checked):
    sheet(lambda _: "")
    code, told = checked()
    assert code == 0
    assert "column percent counts, and weighed_grams is not filled in" in told
    assert "as weighed" not in told


def test_a_sheet_that_is_partly_filled_in_is_refused_with_its_rows(sheet, checked):
    rows = sheet(lambda row: "" if row["ingredient"] == "beeswax" else row["grams"])
    place = 2 + [row["ingredient"] for row in rows].index("beeswax")
    code, told = checked()
    assert code == 1
    assert f"sheet.csv, row {place}, column weighed_grams: is blank" in told
    assert "To fix: write what the scale showed, in grams; 0 for what was left" in told
    assert "keeps" not in told


def test_weights_alone_are_a_formula_to_check(checked, workspace):
    text = "Ingredient,Weighed grams\ncocoa butter,451\nrefined shea butter,199\n"
    (workspace / "sheet.csv").write_text(
        f"{text}beeswax,140\nsunflower oil,310\n", encoding="utf-8"
    )
    code, told = checked()
    assert code == 1
    assert "wax at most 8 %" in told
    assert "judged as weighed: 1100 g in all" in told
    assert " beeswax 12.7 140.0 4.0 " in told
    assert "scaled" not in told
    assert "scaled to a batch of 500 g" in checked(SCENARIO, "--batch", "500 g")[1]


def test_other_commands_say_that_they_read_the_plan(run, sheet, workspace):
    sheet(slip)
    done = run("fats", workspace / "sheet.csv")
    said = " ".join((done.out + done.err).split())
    assert "column percent counts, and weighed_grams is not read" in said


@pytest.fixture
def labelled(run, workspace):
    def call(*more):
        done = run("label", SCENARIO, "--formula", workspace / "sheet.csv", *more)
        assert done.code == 0
        return done.out

    return call


def more_oil(row):
    """Weigh the oil and the shea butter the one for the other."""
    other = {"sunflower oil": "200.0", "refined shea butter": "310.0"}
    return other.get(row["name"], row["grams"])


def test_a_label_of_a_filled_in_sheet_tells_what_was_weighed(sheet, labelled):
    planned = json.loads(labelled("--json"))["labels"][0]["ingredients"]
    assert planned.index("Helianthus") < planned.index("Butyrospermum")
    sheet(more_oil)
    found = json.loads(labelled("--json"))
    as_made = found["labels"][0]["ingredients"]
    assert as_made.index("Butyrospermum") < as_made.index("Helianthus")
    words = "g in all, by the column weighed_grams, not by what was planned"
    assert [each.split(" ", 3)[-1] for each in found["told"]] == [words]
    assert words in " ".join(labelled().split())


def test_a_label_of_a_sheet_that_is_not_filled_in_says_that_it_is_of_the_plan(
    sheet, labelled
):
    sheet(lambda _: "")
    told = " ".join(labelled().split())
    assert "column percent counts, and weighed_grams is not filled in" in told
    assert "as weighed" not in told


def test_a_label_of_a_sheet_is_dated_by_the_lots_that_were_weighed(
    sheet, labelled, workspace
):
    shelf = workspace / "catalogues" / "workshops" / "demo" / "stock.csv"
    lots = [("A", "2027-03-31"), ("B", "2028-03-31")]
    shelf.write_text(
        "ingredient,lot,amount,unit,expiry\n"
        + "".join(
            f"{name},{lot},5,kg,{day}\n"
            for lot, day in lots
            for name in (
                "cocoa butter",
                "refined shea butter",
                "beeswax",
                "sunflower oil",
            )
        ),
        encoding="utf-8",
    )
    sheet(lambda row: row["grams"], lots="B")
    assert json.loads(labelled("--json"))["keeping"]["until"] == "2028-03-31"
    sheet(lambda row: row["grams"], lots="")
    assert json.loads(labelled("--json"))["keeping"]["until"] == "2027-03-31"
