"""What a tired maker, or a sender of a file, would give: told, and nothing is lost."""

import csv
import os
import sys

import pytest

from optimiser.presenting.sheet import seen_in
from tests.cli.conftest import BAR as TEXT

BAR = "scenarios/bar.toml"
BOOK = "catalogues/workshops/demo/records.sqlite"
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pipes and links")


def told(run, *arguments):
    found = run(*arguments)
    assert found.code == 1
    assert "inside the program" not in found.err
    return " ".join(found.err.split())


def test_more_packs_than_anybody_fills_are_refused(run, workspace):  # noqa: ARG001
    spread = ("--net", "60 g", "--spread", "1 g", "--packs")
    said = told(run, "fill", BAR, *spread, "999999999")
    assert said.startswith("option --packs: '999999999' is more than 1000000 packs.")
    assert run("fill", BAR, *spread, "200000").code == 0


def test_nothing_is_called_more_certain_than_it_is(run, workspace):  # noqa: ARG001
    asked = ("--net", "60 g", "--spread", "1 g", "--sure", "99.9")
    shown = run("fill", BAR, *asked).out
    assert "99.9 % sure" in shown
    assert "100 % sure" not in shown


def test_a_page_is_opened_over_a_folder_only(run, workspace):  # noqa: ARG001
    for place in ("nowhere", BAR):
        assert f"{place}: is no folder" in told(run, "open", place)


def test_a_plan_is_not_written_into_a_file(run, workspace):
    plan = workspace / "scenarios" / "plan.toml"
    batch = '[[batches]]\nscenario = "bar.toml"\ndate = 2026-12-01\n'
    plan.write_text(f"today = 2026-11-16\nreformulate = true\n{batch}", "utf-8")
    (workspace / "notes").write_text("mine", "utf-8")
    said = told(run, "plan", plan, "--write", "notes")
    assert said == (
        "notes: is no folder. To fix: name a folder, or one that is to be made."
    )


def test_a_recipe_of_a_very_long_name_is_told(run, workspace):  # noqa: ARG001
    said = told(run, "begin", ".", "--from", f"{'x' * 300}.csv")
    assert "cannot be read (file name too long). To fix: check the name" in said


@pytest.mark.parametrize("asked", [("list",), ("add", "B1", "--note", "pale")])
def test_a_pipe_in_place_of_the_book_is_told(run, workspace, asked):
    os.mkfifo(workspace / BOOK)
    assert "is a pipe, not a file" in told(run, "record", *asked)


def test_a_link_to_where_nothing_can_be_is_told_by_its_end(run, workspace):
    (workspace / "out.csv").symlink_to("/nowhere/out.csv")
    said = told(run, "formulate", BAR, "--csv", "out.csv")
    assert "out.csv: cannot be written (there is no folder /nowhere)." in said


# Joiners, which some scripts cannot be written without, stay.
UNSEEN = "\x1b[1m\x9b\u200b\u200e\u202e\u2066\u2060\ufeff\xad\u061c\U000e0041"


def test_no_table_holds_a_sign_that_is_not_seen(run, workspace):
    name = f"my{UNSEEN} oil"
    own = workspace / "catalogues" / "workshops" / "demo" / "ingredients.csv"
    own.write_text(f"key,name,category\nmy_oil,{name},liquid oil\n", "utf-8")
    scenario = TEXT.replace('"sunflower oil"', '"my oil"')
    (workspace / BAR).write_text(scenario, "utf-8")
    prices = own.with_name("prices.csv")
    with prices.open(encoding="utf-8", newline="") as file:
        header = next(csv.reader(file))
    row = {"ingredient": "my oil", "pack": "1", "unit": "kg", "price": "9"}
    row |= {"currency": "EUR", "date": "2026-01-01"}
    with prices.open("a", encoding="utf-8", newline="") as file:
        csv.DictWriter(file, header, restval="").writerow(row)
    found = run("formulate", BAR, "--csv", "out.csv")
    assert found.code == 0, found.err
    assert "my[1m oil" in found.out
    kept = (workspace / "out.csv").read_text("utf-8-sig")
    assert "my[1m oil" in kept
    assert seen_in("a\u200cb\u200dc") == "a\u200cb\u200dc"


# -- one problem in many rows ---------------------------------------------------------

PRICES = "ingredient,pack,unit,price,currency\n"
COMMAS = (
    "cocoa butter,1,kg,20.5 EUR,EUR\n"
    "refined shea butter,1,kg,10.5 EUR,EUR\nbeeswax,1,kg,15 EUR,EUR\n"
)


def priced(workspace, rows):
    path = workspace / "catalogues" / "workshops" / "demo" / "prices.csv"
    path.write_text(PRICES + rows, encoding="utf-8")
    return f"{path.relative_to(workspace)}"


def test_one_problem_in_many_rows_of_a_column_is_one_list(run, workspace):
    priced(workspace, COMMAS)
    done = run("formulate", "scenarios/bar.toml")
    assert done.code == 1
    first, *rows = done.err.splitlines()
    assert first.endswith("prices.csv, column price, in 3 rows: is not a number.")
    assert rows == [
        "  row 2: '20.5 EUR'; write the number alone, as in 20.5",
        "  row 3: '10.5 EUR'; write the number alone, as in 10.5",
        "  row 4: '15 EUR'; write the number alone, as in 15",
    ]


def test_what_mends_all_of_a_list_is_said_once(run, workspace):
    rows = "cocoa butter,1,kg,,EUR\nbeeswax,1,kg,,EUR\nsunflower oil,1,kg,,EUR\n"
    priced(workspace, rows)
    told = run("formulate", "scenarios/bar.toml").err
    assert told.count("To fix: ") == 1
    assert "prices.csv, column price, rows 2, 3 and 4: is blank" in told


def test_two_rows_with_a_problem_are_told_each_by_itself(run, workspace):
    priced(workspace, "\n".join(COMMAS.splitlines()[:2]) + "\n")
    told = run("formulate", "scenarios/bar.toml").err
    assert "row 2, column price: '20.5 EUR' is not a number." in told
    assert told.count("To fix: ") == 2


def test_a_file_of_ones_own_that_asks_for_cost_is_told_how_to_do_without(
    run, workspace
):
    priced(workspace, "beeswax,1,kg,15,EUR\n")
    bar = workspace / "scenarios" / "bar.toml"
    told = run("formulate", bar).err
    assert 'let order of [aim] be ["change", "count"]' in told
    aim = '[aim]\norder = ["change", "count"]\n\n[base]'
    text = bar.read_text(encoding="utf-8").replace("[base]", aim, 1)
    bar.write_text(text, encoding="utf-8")
    done = run("formulate", bar)
    assert done.code == 0
    assert "What the materials cost is not known" in done.out


# -- prices of before there was a column for it ---------------------------------------

NOTED = "prices that a note calls invented count as yours: a column evidence marks them"


@pytest.mark.parametrize(
    ("column", "remark", "seen"),
    [
        ("note", "Invented, a round figure", True),
        ("note", "from the market", False),
        ("evidence,note", ",invented once; now asked for", False),
    ],
)
def test_prices_that_a_note_alone_calls_invented_are_told(
    run, workspace, column, remark, seen
):
    path = workspace / "catalogues" / "workshops" / "demo" / "prices.csv"
    names = ("cocoa butter", "refined shea butter", "beeswax", "sunflower oil")
    cells = f'"{remark}"' if column == "note" else f',"{remark[1:]}"'
    rows = "".join(f"{name},1,kg,15,EUR,{cells}\n" for name in names)
    header = f"ingredient,pack,unit,price,currency,{column}\n"
    path.write_text(header + rows, encoding="utf-8")
    for asked in (("formulate",), ("cost", "--units", 4, "--net", "60 g"), ("why",)):
        done = run(asked[0], "scenarios/bar.toml", *asked[1:])
        head = " ".join(done.out.split())
        assert (NOTED in head) is seen, asked
        assert "prices invented" not in head
