"""``optimiser plan`` and ``optimiser buy`` from the maker's side."""

import json
import re

import pytest

pytestmark = pytest.mark.usefixtures("asked_once")
PLAN = "scenarios/plans/autumn.toml"
BAR = "scenarios/massage_bar.toml"


@pytest.mark.usefixtures("workspace")
def test_a_plan_tells_packs_money_lots_and_what_is_left(run):
    told = run("plan", PLAN, "--full")
    assert told.code == 0
    first = " ".join(" ".join(told.out.splitlines()[:8]).split())
    assert "Buy 14 packs of 10 ingredients for 92.50 EUR" in first
    assert "The formulas as they stand would take 120.00, 27.50 more." in first
    assert "each product bought for by itself, as they stand: 147.70." in first
    assert "No formulas inside the rules cost less than 89.70; windows" in first
    order = ("WHAT TO BUY", "WHAT EACH PRODUCT TAKES", "FROM THE SHELF", "WHAT IS LEFT")
    places = [told.out.index(each) for each in (*order, "INTO EACH BATCH")]
    assert places == sorted(places)


ONE = """\
title = "One"
today = 2026-11-27
reformulate = {moves}
within = 40

[[batches]]
scenario = "../near.toml"
size = "4 kg"
"""
NEAR = """\
title = "As it is"
extends = "massage_bar.toml"
[aim]
order = ["change"]
"""


@pytest.mark.parametrize("moves", ["true", "false"])
def test_what_neither_the_formula_nor_the_shelf_has_is_told_as_new(
    run, workspace, moves
):
    path = workspace / "scenarios" / "plans" / "one.toml"
    path.write_text(ONE.format(moves=moves), encoding="utf-8")
    near = workspace / "scenarios" / "near.toml"
    near.write_text(NEAR, encoding="utf-8")
    stock = workspace / "catalogues/workshops/demo/stock.csv"
    rows = stock.read_text(encoding="utf-8").splitlines()
    stock.write_text(f"{rows[0]}\n", encoding="utf-8")
    data = json.loads(run("plan", path, "--json").out)
    stands = json.loads(run("formulate", near, "--json").out)["formula"]
    used = {x["name"] for x in stands if x["percent"] > 0}
    told = " ".join(run("plan", path).out.split())
    new = {x["name"] for x in data["buy"] if x["new"]}
    assert new == {x["name"] for x in data["buy"]} - used
    assert bool(new) == (moves == "true")
    assert ("New to you: " in told) == bool(new)
    for each in new:
        assert each in told.partition("New to you: ")[2].partition(";")[0]
    columns = rows[0].split(",")
    for each in new:  # a little of it on the shelf is enough to know it
        lot = {"ingredient": each, "lot": "X1", "amount": "5", "unit": "g"}
        with stock.open("a", encoding="utf-8") as file:
            file.write(",".join(lot.get(x, "") for x in columns) + "\n")
    again = json.loads(run("plan", path, "--json").out)
    assert not {x["name"] for x in again["buy"] if x["new"]} & new


def test_packs_sold_in_pounds_and_ounces_are_bought_as_they_are_sold(run, workspace):
    prices = workspace / "catalogues/workshops/demo/prices.csv"
    head = prices.read_text(encoding="utf-8").splitlines()[0].split(",")
    row = {"ingredient": "lavender oil", "pack": "4", "unit": "oz", "price": "0.5"}
    row |= {"currency": "EUR", "date": "2026-11-02"}
    with prices.open("a", encoding="utf-8") as file:
        file.write(",".join(row.get(each, "") for each in head) + "\n")
    shown = run("buy", BAR, "--batch", "20 kg").out
    assert re.search(r"lavender oil +yours +\d+ x 4 oz ", shown)
    assert re.search(r"sal butter +invented +\d+ x \d+ kg ", shown)


def test_the_shopping_list_and_json_tell_the_same(run, workspace):
    told = run("plan", PLAN, "--json", "--csv", "shopping.csv")
    data = json.loads(told.out)
    lines = (workspace / "shopping.csv").read_text(encoding="utf-8-sig").splitlines()
    assert lines[0].split(",")[:4] == ["supplier", "ingredient", "name", "packs"]
    totals = [float(line.split(",")[7]) for line in lines[1:]]
    assert sum(totals) == pytest.approx(data["spend"])
    assert data["spend"] == pytest.approx(92.5)
    assert data["spend_at_least"] == pytest.approx(89.7)
    for each in data["buy"]:
        packs = sum(
            x["packs"] * x["pack_kg"]
            for x in data["buy"]
            if x["ingredient"] == each["ingredient"]
        )
        assert each["used_kg"] + each["left_kg"] == pytest.approx(packs, abs=1e-5)
    taken = sum(each["kg"] for each in data["takes"])
    mixed = sum(each["kg"] for each in data["products"])
    assert taken == pytest.approx(mixed, abs=1e-4)


def test_a_formula_that_moved_is_written_and_answers_itself(run, workspace):
    told = run("plan", PLAN, "--json", "--write", "scenarios/autumn")
    data = json.loads(told.out)
    assert "massage_bar.toml: written." in told.err
    assert not (workspace / "scenarios" / "autumn" / "lip_balm.toml").exists()
    for each in data["products"]:
        if not each["moved_percent"]:
            continue
        stem = each["scenario"].rpartition("/")[2]
        again = run("formulate", f"scenarios/autumn/{stem}", "--json")
        shares = {
            line["ingredient"]: line["percent"]
            for line in json.loads(again.out)["formula"]
            if line["percent"]
        }
        wanted = {x["ingredient"]: x["percent"] for x in each["formula"]}
        assert shares == pytest.approx(
            {key: percent for key, percent in wanted.items() if percent}, abs=1e-3
        )


def test_buying_for_units_counts_what_is_filled_over_and_lost(run, workspace):  # noqa: ARG001
    asked = ("--units", 24, "--net", "60 g")
    for own, loss, over in (((), 3, 2), (("--loss", 5, "--overfill", 0), 5, 0)):
        data = json.loads(run("buy", BAR, *asked, *own, "--json").out)
        (only,) = data["products"]
        wanted = 24 * 0.06 * (1 + over / 100) / (1 - loss / 100)
        assert only["kg"] == pytest.approx(wanted)
        assert only["units"] == 24
        assert not only["moved_percent"]


def test_packs_are_told_as_they_are_sold_and_what_is_barely_needed(run, workspace):
    demo = workspace / "catalogues" / "workshops" / "demo"
    stock = (demo / "stock.csv").read_text(encoding="utf-8")
    (demo / "stock.csv").write_text(stock.replace("G1,45,g", "G1,14,g"), "utf-8")
    prices = (demo / "prices.csv").read_text(encoding="utf-8").splitlines()
    rest = [each for each in prices if not each.startswith("lavender_oil")]
    bottle = "lavender_oil,50,ml,11.5,0,EUR,2026-11-02,"
    (demo / "prices.csv").write_text("\n".join([*rest, bottle, ""]), "utf-8")
    told = run("buy", BAR, "--units", 24, "--net", "60 g", "--csv", "shopping.csv").out
    assert re.search(r"lavender oil +\w+ +1 x 50 ml ", told)
    why = "lavender oil: 1.142 g more than the shelf has; 22 units would need none"
    assert why in " ".join(told.split())
    rows = (workspace / "shopping.csv").read_text(encoding="utf-8-sig").splitlines()
    assert [each for each in rows if ",50 ml" in each and "lavender_oil" in each]
    assert "would need none" not in run("buy", BAR, "--units", 99, "--net", "60 g").out


# A volume is filled by the density of the answer, a net weight as it stands.
@pytest.mark.parametrize("mould", ["round bar", "lip tube"])
def test_buying_for_a_mould_takes_what_the_batch_sheet_weighs(run, workspace, mould):
    scale = workspace / "catalogues" / "workshops" / "demo" / "scale.toml"
    tube = '\n[[moulds]]\nname = "lip tube"\ncavities = 50\nnet = "4.5 g"\n'
    scale.write_text(scale.read_text(encoding="utf-8") + tube, encoding="utf-8")
    data = json.loads(run("buy", BAR, "--mould", mould, "--json").out)
    sheet = json.loads(run("batch", BAR, "--mould", mould, "--json").out)
    (only,) = data["products"]
    assert only["units"] == sheet["units"]
    assert 1e3 * only["kg"] == pytest.approx(sheet["batch_grams"], abs=0.2)


def test_one_formula_may_move_too(run, workspace):
    plain = json.loads(run("buy", BAR, "--json").out)
    told = run("buy", BAR, "--json", "--within", 10, "--write", "moved.toml")
    moved = json.loads(told.out)
    assert moved["spend"] < plain["spend"]
    assert moved["spend_as_they_stand"] == pytest.approx(plain["spend"])
    assert 0.0 < moved["products"][0]["moved_percent"] <= 10.0 + 1e-6
    assert (workspace / "moved.toml").exists()


def test_options_that_do_not_go_together_are_told_at_once(run, workspace):  # noqa: ARG001
    told = run(
        "buy", BAR, "--units", 3, "--batch", "1kg", "--loss", 95, "--within", 200
    )
    assert told.code == 1
    for each in ("--units", "--loss", "--within"):
        assert f"option {each}: " in told.err


def test_a_plan_whose_rules_clash_says_which_scenario(run, workspace):
    text = f'[[batches]]\nscenario = "{"massage_bar.toml"}"\n'
    text += '[[batches]]\nscenario = "clash.toml"\n'
    (workspace / "scenarios" / "both.toml").write_text(text, encoding="utf-8")
    told = run("plan", "scenarios/both.toml")
    assert told.code == 3
    assert "clash.toml: its rules clash." in told.err


def test_a_plan_is_not_written_over_and_the_list_takes_no_scenario(run, workspace):
    for target in (PLAN, BAR):
        before = (workspace / target).read_text(encoding="utf-8")
        assert run("plan", PLAN, "--csv", target).code == 1
        assert (workspace / target).read_text(encoding="utf-8") == before
    told = run("plan", PLAN, "--write", "scenarios")
    assert told.code == 1
    assert "would be written over" in told.err


def test_orders_are_told_with_their_freight(run, workspace):
    folder = workspace / "catalogues" / "workshops" / "demo"
    prices = (folder / "prices.csv").read_text(encoding="utf-8").splitlines()
    rows = [f"{prices[0]},supplier", *(f"{row},North" for row in prices[1:])]
    (folder / "prices.csv").write_text("\n".join(rows), encoding="utf-8")
    head = "supplier,freight,free_from\n"
    (folder / "suppliers.csv").write_text(head + "North,6.9,500\n", encoding="utf-8")
    plain = run("buy", BAR, "--units", 24, "--net", "60 g")
    assert "North: packs for " in plain.out
    assert "freight of the order 6.90." in plain.out
    (folder / "suppliers.csv").write_text(head + "North,6.9,20\n", encoding="utf-8")
    free = run("buy", BAR, "--units", 24, "--net", "60 g")
    assert "freight of the order 0.00 (free from 20.00)." in free.out


def test_products_sold_in_other_markets_have_law_lines_of_their_own(run, workspace):
    folder = workspace / "scenarios"
    (folder / "abroad.toml").write_text(
        'title = "Abroad"\nextends = "massage_bar.toml"\nmarket = ["EU", "CA"]\n',
        encoding="utf-8",
    )
    (folder / "two.toml").write_text(
        'title = "Two"\n[[batches]]\nscenario = "massage_bar.toml"\nsize = "1 kg"\n'
        '[[batches]]\nscenario = "abroad.toml"\nsize = "1 kg"\n',
        encoding="utf-8",
    )
    said = run("plan", "scenarios/two.toml")
    assert "Law of Abroad, CA: " in said.out
    assert "Law of Abroad, EU: " in said.out
    assert re.search(r"Law of Massage bar[^:\n]*, EU: ", said.out), said.out
