"""``optimiser cost`` from the maker's side."""

import csv
import io
import json
from decimal import Decimal
from pathlib import Path

import pytest

BAR = "scenarios/massage_bar.toml"
SIZE = ("--units", 24, "--net", "60 g")
COSTS = Path("catalogues/workshops/demo/costs.toml")
SCALE = Path("catalogues/workshops/demo/scale.toml")


def flat(text):
    return " ".join(text.split())


def figures(text, title):
    """Return the first figure of each line below a title, before the next one."""
    below = text.partition(f"{title}\n")[2].partition("\n\n")[0]
    lines = [each.split("  ") for each in below.splitlines()[1:]]
    found = [[x for x in line if x.strip()] for line in lines]
    return [Decimal(x[1].strip()) for x in found if len(x) > 1 and "-" * 4 not in x[0]]


def test_the_lines_on_the_screen_add_up_to_the_cent(run, workspace):  # noqa: ARG001
    text = run("cost", BAR, *SIZE, "--price", "8.50").out
    assert "24 units of 60 g; 1514.2 g weighed in" in flat(text)
    *parts, unit = figures(text, "WHAT A UNIT COSTS")
    assert len(parts) == 10
    assert sum(parts) == unit
    *taken, left = figures(text, "AT 8.50 EUR A UNIT")
    assert taken[0] == Decimal("8.50")
    assert sum(taken) == left
    assert unit == -taken[-1]


# By hand, for what the demo states: 24 tins of 0.55, 24 labels of 0.12, a carton of
# 0.90; 75 + 24 * 2 minutes at 18 an hour; 28 / 8 and 1.50.
def test_json_has_the_numbers_of_the_workshop(run, workspace):  # noqa: ARG001
    data = json.loads(run("cost", BAR, *SIZE, "--price", "8.50", "--json").out)
    told = {each["part"]: each["per_batch"] for each in data["lines"]}
    assert told["tin"] == 13.20
    assert told["label"] == 2.88
    assert told["carton"] == 0.90
    assert told["labour"] == 36.90
    assert told["insurance"] == 3.50
    assert told["power and cleaning"] == 1.50
    assert data["complete"] is True
    assert data["not_counted"] == []
    assert data["units_sold"] == pytest.approx(23.04)
    assert data["batch_grams"] == pytest.approx(1514.226804)
    made = json.loads(run("formulate", BAR, "--json").out)
    materials = sum(told[part] for part in ("in the units", "overfill", "lost"))
    assert materials == pytest.approx(1.514226804 * made["cost_per_kg"], abs=0.01)
    (asked,) = data["asked"]
    assert (asked["paid"], asked["tax"], asked["net"]) == (8.50, 1.42, 7.08)
    # 1.5 % of 8.50 is 0.13 and half of 0.20 for each of two units a sale.
    assert asked["fees"] == [{"name": "card", "amount": 0.23}]
    assert asked["left"] == pytest.approx(7.08 - 0.23 - asked["cost"])


def test_the_table_adds_up_too(run, workspace):
    assert run("cost", BAR, *SIZE, "--csv", "cost.csv").code == 0
    text = (workspace / "cost.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    data = json.loads(run("cost", BAR, *SIZE, "--json").out)
    assert sum(Decimal(row["per_unit"]) for row in rows) == round(
        Decimal(data["cost_per_unit"]), 2
    )
    assert {row["currency"] for row in rows} == {"EUR"}


def test_the_overfill_is_that_of_fill_wherever_it_counts(run, workspace):
    text = (workspace / SCALE).read_text(encoding="utf-8")
    varied = text.replace("loss = 3 ", 'spread = "1.2 g"\nloss = 3 ')
    assert varied != text
    (workspace / SCALE).write_text(varied, encoding="utf-8")
    fill = json.loads(run("fill", BAR, "--net", "60 g", "--packs", 24, "--json").out)
    (target,) = fill["targets"]
    assert target["spread"] == pytest.approx(1.2)
    over = 100 * (target["fill"] / 60 - 1)
    assert 0 < over < 2
    batch = json.loads(run("batch", BAR, *SIZE, "--json").out)
    cost = json.loads(run("cost", BAR, *SIZE, "--json").out)
    assert batch["overfill_percent"] == pytest.approx(over)
    assert cost["overfill_percent"] == pytest.approx(over)
    weighed_in = 24 * 0.06 * (1 + over / 100) / 0.97
    (bought,) = json.loads(run("buy", BAR, *SIZE, "--json").out)["products"]
    assert bought["kg"] == pytest.approx(weighed_in)
    plan = workspace / "scenarios" / "two.toml"
    lines = '[[batches]]\nscenario = "massage_bar.toml"\nunits = 24\nnet = "60 g"\n'
    plan.write_text(lines, encoding="utf-8")
    (planned,) = json.loads(run("plan", plan, "--json").out)["products"]
    assert planned["kg"] == pytest.approx(weighed_in)
    told = flat(run("cost", BAR, *SIZE).out)
    assert f"{over:.3g} % over, the least that keeps the law with fills that" in told
    assert "as `optimiser fill` tells it" in told
    wider = json.loads(run("cost", BAR, *SIZE, "--spread", "3 g", "--json").out)
    assert wider["overfill_percent"] > over
    asked = json.loads(run("cost", BAR, *SIZE, "--overfill", 4, "--json").out)
    assert asked["overfill_percent"] == 4


def test_without_a_file_of_costs_only_materials_count_and_the_rest_is_named(
    run, workspace
):
    (workspace / COSTS).unlink()
    told = run("cost", BAR, *SIZE, "--price", "8.50")
    assert told.code == 0
    text = flat(told.out)
    assert "A unit costs at least 1.00 EUR to make" in text
    assert "at most 7.50 is left" in text
    missing = text.partition("NOT COUNTED, FOR NOBODY SAID IT")[2]
    for each in ("packaging", "work", "overheads", "fees", "tax on sales", "not sold"):
        assert each in missing
    assert "an hour of work earns" not in text
    scale = workspace / SCALE
    scale.write_text(
        scale.read_text(encoding="utf-8")
        .replace("loss = 3", "")
        .replace("overfill = 2", ""),
        encoding="utf-8",
    )
    again = flat(run("cost", BAR, *SIZE).out)
    assert "what stays in the pot: [batch] loss, in scale.toml" in again
    assert "overfill: [batch] overfill, in scale.toml" in again
    asked = flat(run("cost", BAR, *SIZE, "--loss", 0, "--overfill", 0).out)
    assert "what stays in the pot" not in asked


def test_a_margin_is_met_and_one_that_cannot_be_says_why(run, workspace):  # noqa: ARG001
    data = json.loads(run("cost", BAR, *SIZE, "--margin", "60 %", "--json").out)
    assert 60 <= data["asked"][0]["margin"] < 60.2
    data = json.loads(run("cost", BAR, *SIZE, "--margin", "0", "--json").out)
    assert 0 <= data["asked"][0]["margin"] < 0.5
    told = run("cost", BAR, *SIZE, "--margin", 99)
    assert told.code == 0
    assert "99 % of margin and fees of 1.8 % of the price before tax" in flat(told.out)


def test_a_price_below_the_cost_says_what_is_lost(run, workspace):  # noqa: ARG001
    text = flat(run("cost", BAR, *SIZE, "--price", "2.40").out)
    # 2.40 is 2.00 and 0.40 of tax; the card takes 0.04 and 0.10: 2.00 - 0.14 - 3.60.
    assert "At 2.40 EUR a unit, as the buyer pays, 1.74 is lost; an hour" in text
    assert "8 batches a month lose 320.72" in text


def test_a_batch_by_weight_costs_what_is_left_over_too(run, workspace):  # noqa: ARG001
    data = json.loads(run("cost", BAR, "--batch", "2kg", "--net", "60g", "--json").out)
    # 2000 g at 60 * 1.02 / 0.97 = 63.09 g a unit are 31 units.
    assert data["units"] == 31
    made = json.loads(run("formulate", BAR, "--json").out)
    told = {each["part"]: each["per_batch"] for each in data["lines"]}
    materials = sum(told[part] for part in ("in the units", "overfill", "lost"))
    assert materials == pytest.approx(2 * made["cost_per_kg"], abs=0.01)


def test_no_pin_is_offered_to_save_on(run, workspace):  # noqa: ARG001
    data = json.loads(run("cost", "scenarios/foot_scrub_bar.toml", *SIZE, "--json").out)
    sides = [each["id"] for each in data["rules"]]
    assert sides
    assert not any("phenoxyethanol" in each for each in sides)
    prices = [each["price"] for each in data["rules"]]
    assert prices == sorted(prices)
    assert max(prices) < 0


SLIPS = {
    ("--price", "8.555"): "option --price: '8.555' is no price.",
    ("--price", "0"): "option --price: '0' is no price.",
    ("--price", "8,50"): "option --price: '8,50' is no price.",
    ("--margin", "100"): "option --margin: '100' is no margin from 0 to below 100.",
    ("--margin", "nan"): "option --margin: 'nan' is no margin from 0 to below 100.",
}


@pytest.mark.parametrize("asked", SLIPS)
def test_a_price_or_a_margin_that_is_none_is_refused(run, workspace, asked):  # noqa: ARG001
    told = run("cost", BAR, *SIZE, *asked)
    assert told.code == 1
    assert SLIPS[asked] in told.err


def test_a_unit_is_asked_for_where_nothing_tells_what_it_weighs(run, workspace):  # noqa: ARG001
    told = run("cost", BAR)
    assert told.code == 1
    assert 'add --net "60 g", or --mould' in told.err
    assert "what a unit weighs is not known" in " ".join(told.err.split())
    small = run("cost", BAR, "--batch", "50 g", "--net", "60 g")
    assert small.code == 1
    assert "is less than one unit" in small.err


def test_invented_costs_are_nobody_s_and_who_pays_no_tax_is_told_how(run, workspace):
    asked = ("cost", BAR, "--units", 24, "--net", "60 g", "--price", "8.50")
    told = " ".join(run(*asked).out.split())
    assert "nobody's yet, of demo/costs.toml and scale.toml" in told
    assert "an adviser says what you owe; none is [tax] rate = 0" in told
    costs = workspace / "catalogues/workshops/demo/costs.toml"
    text = costs.read_text(encoding="utf-8")
    costs.write_text(text.replace('evidence = "invented"', ""), "utf-8")
    told = " ".join(run(*asked).out.split())
    assert "nobody's yet, of scale.toml; yours, of demo/costs.toml" in told
    scale = workspace / "catalogues/workshops/demo/scale.toml"
    text = scale.read_text(encoding="utf-8")
    scale.write_text(text.replace('evidence = "invented"', ""), "utf-8")
    assert "yours, of demo/costs.toml and scale.toml" in " ".join(
        run(*asked).out.split()
    )


def test_the_head_names_all_that_is_invented_of_a_unit_s_cost(run, workspace):
    shop = workspace / "catalogues/workshops/demo"

    def head():
        return " ".join(run("cost", BAR, *SIZE).out.split()).partition("A unit costs")[
            0
        ]

    every = "packaging, work, overheads, tax, fees, loss and overfill invented"
    assert head().endswith("weighed in; prices and all other costs invented ")
    prices = shop / "prices.csv"
    rows = prices.read_text(encoding="utf-8").splitlines(keepends=True)
    own = [x if "jojoba" in x else x.replace(",invented", ",") for x in rows]
    assert own != rows
    prices.write_text("".join(own), encoding="utf-8")
    assert head().endswith(f"weighed in; {every} ")
    assert "prices" not in head()
    costs = shop / "costs.toml"
    text = costs.read_text(encoding="utf-8")
    costs.write_text(text.replace('evidence = "invented"', ""), "utf-8")
    assert head().endswith("weighed in; hourly rate, loss and overfill invented ")
    scale = shop / "scale.toml"
    text = scale.read_text(encoding="utf-8")
    scale.write_text(text.replace('evidence = "invented"', ""), "utf-8")
    assert "invented" not in head()


def test_names_of_a_makers_files_cannot_steer_a_spreadsheet(run, workspace):
    path = workspace / COSTS
    text = path.read_text(encoding="utf-8").replace('"tin"', '"=1+1"')
    path.write_text(text, encoding="utf-8")
    assert run("cost", BAR, *SIZE, "--csv", "cost.csv").code == 0
    assert ",'=1+1," in (workspace / "cost.csv").read_text(encoding="utf-8-sig")


def test_a_clash_is_shown_as_everywhere(run, workspace):
    clash = 'extends = "massage_bar.toml"\n[bands]\n"hard butter" = { min = 45 }\n'
    clash += '"soft butter" = { min = 30 }\n"liquid oil" = { min = 31 }\n'
    (workspace / "scenarios/clash.toml").write_text(clash, encoding="utf-8")
    assert run("cost", "scenarios/clash.toml", *SIZE).code == 3


def packed(run, workspace, product):
    with (workspace / COSTS).open("a", encoding="utf-8") as file:
        file.write(f'\n[[packaging]]\nname = "tube"\nprice = 0.30\n{product}\n')
    return run("cost", BAR, *SIZE, "--json").out


@pytest.mark.parametrize(
    ("product", "charged"),
    [
        ('product = "Massage bar"', True),
        ('product = "body leave-on"', True),
        ("", True),
        ('product = "lip balm"', False),
        ('product = "lip"', False),
        ('product = "lotion bar"', False),
    ],
)
def test_packaging_that_is_for_a_product_is_charged_to_it_alone(
    run, workspace, product, charged
):
    data = json.loads(packed(run, workspace, product))
    told = {each["part"]: each["per_batch"] for each in data["lines"]}
    assert ("tube" in told) is charged
    assert told["tin"] == 13.20
    text = flat(run("cost", BAR, *SIZE).out)
    assert ("packaging of other products, not in it: tube (for" in text) is not charged


def test_packaging_for_a_product_that_nothing_tells_of_is_refused(run, workspace):
    (told,) = json.loads(packed(run, workspace, 'product = "gizmo"'))["problems"]
    assert told["field"] == "packaging, number 4: product"
    assert told["found"] == "gizmo"
    assert told["wrong"] == "is no product that is known here"
    assert "lip, eye area, deodorant, hair" in told["fix"]


def test_packaging_that_is_all_for_others_is_told_as_not_counted(run, workspace):
    text = (workspace / COSTS).read_text(encoding="utf-8")
    text = text.replace("[[packaging]]", '[[packaging]]\nproduct = "lip balm"')
    (workspace / COSTS).write_text(text, encoding="utf-8")
    told = flat(run("cost", BAR, *SIZE).out)
    assert "packaging: [[packaging]] name, price, product: all that is stated" in told
    assert "A unit costs at least" in told
