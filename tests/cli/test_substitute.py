"""``optimiser substitute`` from the maker's side."""

import csv
import json
import re
import shlex
from pathlib import Path

import pytest


def test_a_swap_is_told_with_its_reason(run, workspace):  # noqa: ARG001
    swap = ("substitute", "scenarios/massage_bar.toml", "--without", "almond oil")
    told = run(*swap)
    assert told.code == 0
    first = " ".join(told.out.splitlines()[:7])
    assert "27.0 % sweet almond oil went to rapeseed oil" in first
    assert "Materials cost 17.41 EUR per kg, 2.11 less than the base" in first
    for head in ("FORMULA NEXT TO THE BASE", "NEXT CLOSEST", "TAKE CARE"):
        assert f"\n{head}\n" in told.out
    assert "CAUTIONS" not in told.out
    told = run(*swap, "--full")
    for head in ("WHY", "LABEL ORDER", "NEXT CLOSEST", "SIDE BY SIDE", "CAUTIONS"):
        assert f"\n{head}\n" in told.out


def test_json_and_csv_hold_the_same_formula(run, workspace):
    csv = workspace / "swap.csv"
    told = run(
        "substitute", "scenarios/massage_bar.toml", "--without", "almond oil",
        "--json", "--csv", csv,
    )  # fmt: skip
    data = json.loads(told.out)
    lines = csv.read_text(encoding="utf-8-sig").splitlines()
    assert len(lines) == 1 + len(data["formula"]["formula"])
    assert data["change"]["by_ingredient"] == pytest.approx(27.0)
    assert told.err.endswith("swap.csv: written.\n")


def test_a_clash_has_its_own_exit_code(run, workspace):  # noqa: ARG001
    told = run("substitute", "scenarios/massage_bar.toml", "--without", "wax")
    assert told.code == 3
    assert "RULES THAT CANNOT ALL HOLD" in told.out


def test_a_wrong_name_is_told(run, workspace):  # noqa: ARG001
    told = run("substitute", "scenarios/massage_bar.toml", "--without", "almondy")
    assert told.code == 1
    assert "To fix:" in told.err


def test_the_scenario_is_never_written_over(run, workspace):
    file = workspace / "scenarios" / "massage_bar.toml"
    told = run("substitute", file, "--without", "wax", "--csv", file)
    assert told.code == 1
    assert "would be written over" in told.err


@pytest.mark.usefixtures("workspace")
def test_several_that_must_go_may_stand_in_one_text(run):
    bar = "scenarios/massage_bar.toml"
    one = run("substitute", bar, "--without", "almond oil; cetyl alcohol", "--json")
    two = ("--without", "almond oil", "--without", "cetyl alcohol")
    assert one.code == 0
    assert json.loads(one.out)["without"] == ["sweet almond oil", "cetyl alcohol"]
    assert one.out == run("substitute", bar, *two, "--json").out
    done = run("substitute", bar, "--without", "almond oil, beeswaxx")
    assert done.code == 1
    assert "'beeswaxx' is no ingredient, category or allergen" in done.err


@pytest.mark.usefixtures("workspace")
def test_a_line_that_does_not_move_moves_by_nothing_in_a_table(run):
    bar = "scenarios/massage_bar.toml"
    run("substitute", bar, "--without", "almond oil", "--csv", "out.csv")
    with Path("out.csv").open(encoding="utf-8-sig") as file:
        moves = {row["ingredient"]: row["move"] for row in csv.DictReader(file)}
    assert moves["sweet_almond_oil"] == "-27"
    assert set(moves.values()) <= {"-27", "0", "27"}


INFUSED = """\
title = "Nut bar"
workshop = "demo"
use = "leave-on"
market = ["EU"]

[base]
"beeswax" = 20
"castor oil" = 20
"calendula infused sunflower oil" = 40
"hazelnut oil" = 20

[only]
ingredients = ["rapeseed oil"]
"""
HOW = "not known of it here; to keep it, tell it in your allergens.csv"


@pytest.mark.parametrize(
    ("reading", "wish"),
    [("listed", "no tree nut"), ("cautious", "no tree nut, cautious reading")],
)
def test_what_goes_because_nobody_told_of_it_says_so(run, workspace, reading, wish):
    text = f'{INFUSED}\n[exclude]\nreading = "{reading}"\n'
    (workspace / "scenarios" / "nuts.toml").write_text(text, encoding="utf-8")
    swap = ("substitute", "scenarios/nuts.toml", "--without", "tree nut")
    said = f"Out for '{wish}': calendula infused sunflower oil: {HOW}"
    told = " ".join(run(*swap).out.split())
    assert said in told
    assert f"Out for '{wish}': hazelnut oil" not in told  # it has its name
    full = " ".join(run(*swap, "--full").out.split())
    assert said in full
    assert f"Out for '{wish}': hazelnut oil" in full


def test_what_a_supplier_vouches_for_stays_in_and_is_not_asked(run, workspace):
    (workspace / "scenarios" / "nuts.toml").write_text(INFUSED, encoding="utf-8")
    table = workspace / "catalogues" / "workshops" / "demo" / "allergens.csv"
    row = "calendula infused sunflower oil,tree nut,no,no,no,no,no,supplier"
    head = "ingredient,allergen,EU,GB,US,AU,CA,evidence"
    table.write_text(f"{head}\n{row}\n", encoding="utf-8")
    swap = ("substitute", "scenarios/nuts.toml", "--without", "tree nut")
    told = " ".join(run(*swap).out.split())
    assert "20.0 % hazelnut oil went to" in told
    assert "ask: tree nut" not in told
    shown = ("catalogue", "show", "calendula infused sunflower oil")
    page = " ".join(run(*shown, "--workshop", "demo").out.split())
    assert "none in it, by a supplier's word or a measurement" in page
    assert "measurement;" not in page  # the row names no source
    assert "ask the supplier" not in page


def test_where_nothing_fits_for_want_of_a_price_that_is_said(run, workspace):
    bar = workspace / "scenarios" / "bar.toml"
    text = bar.read_text(encoding="utf-8").replace('"beeswax", ', '"beeswax", "x", ')
    bar.write_text(text.replace('"x"', '"candelilla wax"'), encoding="utf-8")
    asked = ("substitute", bar, "--without", "beeswax")
    told = run(*asked)
    assert (told.code, "want of a price" in told.err) == (0, False)
    prices = workspace / "catalogues" / "workshops" / "demo" / "prices.csv"
    rows = prices.read_text(encoding="utf-8-sig").splitlines()
    kept = [row for row in rows if not row.startswith("candelilla_wax,")]
    prices.write_text("\n".join(kept) + "\n", encoding="utf-8")
    told = run(*asked)
    assert told.code == 3
    assert told.err.endswith(
        "left out for want of a price: candelilla wax; add a row to prices.csv\n"
    )


def begins(page):
    """The command that begins, of those that a page ends with."""
    told = " ".join(page.split()).rpartition("Next: ")[2]
    return shlex.split(re.search(r"`optimiser (begin .*?)` makes rules", told)[1])


# What begins from a formula that was kept weighs that one, and not the base's.
@pytest.mark.usefixtures("workspace")
def test_a_substitute_and_what_is_checked_lead_to_a_sheet_of_their_own(run):
    bar = "scenarios/massage_bar.toml"
    swap = ("substitute", bar, "--without", "almond oil", "--csv", "swap.csv")
    told = run(*swap)
    product = ["--product", "massage bar", "--market", "EU"]
    command = begins(told.out)
    assert command == ["begin", ".", "--from", "FILE", *product]
    checked = run("check", "swap.csv", bar)
    assert begins(checked.out) == ["begin", ".", "--from", "swap.csv", *product]
    last = " ".join(checked.out.split()).rpartition("Next: ")[2]
    assert f"(`optimiser batch {bar}` weighs the scenario's own formula)" in last
    assert run(*begins(checked.out)).code == 0
    sheet = " ".join(run("batch", "scenarios/swap.toml").out.split())
    assert "rapeseed oil" in sheet
    assert "almond" not in sheet


@pytest.mark.usefixtures("workspace")
def test_what_was_weighed_and_checked_is_not_sent_to_be_weighed_again(run):
    bar = "scenarios/bar.toml"
    sheet = (
        "ingredient,weighed_grams\ncocoa butter,450\nshea butter,200\n"
        "beeswax,40\nsunflower oil,310\n"
    )
    Path("sheet.csv").write_text(sheet, encoding="utf-8")
    done = run("check", "sheet.csv", bar)
    assert done.code == 0
    last = " ".join(done.out.split()).rpartition("Next: ")[2]
    assert last.startswith(f"`optimiser record batch {bar} SHEET` keeps what was made")
