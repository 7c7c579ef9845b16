"""From published recipes to a sold bar and back to its lots: one product, one walk.

The product, its recipes and its workshop are invented. At every joint the figures that
one command tells are those that the next one works with.
"""

import csv
import json
from pathlib import Path

import pytest

FOLDER, SHELF = Path("harbour_bar"), Path("catalogues/workshops/demo")
BAR = FOLDER / "nut_free.toml"
RECIPES = """\
recipe,class,ingredient,amount,unit
H1,harbour bar,cocoa butter,34,%
H1,harbour bar,refined shea butter,20,%
H1,harbour bar,beeswax,12,%
H1,harbour bar,sweet almond oil,32.5,%
H1,harbour bar,mixed tocopherols,0.5,%
H1,harbour bar,lavender oil,1,%
H2,harbour bar,cocoa butter,90,g
H2,harbour bar,shea butter,60,g
H2,harbour bar,beeswax,36,g
H2,harbour bar,sweet almond oil,60,g
H2,harbour bar,sunflower oil,51,g
H2,harbour bar,vitamin E,1.5,g
H2,harbour bar,lavender essential oil,1.5,g
H3,harbour bar,cocoa butter,4,parts
H3,harbour bar,shea butter,2,parts
H3,harbour bar,beeswax,1.5,parts
H3,harbour bar,almond oil,3,parts
H4,harbour bar,cocoa butter,38,%
H4,harbour bar,shea butter,18,%
H4,harbour bar,beeswax,11,%
H4,harbour bar,sweet almond oil,31.5,%
H4,harbour bar,mixed tocopherols,0.5,%
H4,harbour bar,lavender oil,1,%
"""
NUT_FREE = """\
title   = "Harbour bar without tree nuts"
extends = "scenario.toml"

[exclude]
allergens = ["tree nut"]

[limits]
"sunflower oil" = false     # it takes the place of the almond oil
"""
HOT = """\
title   = "Harbour bar for a hot shelf"
extends = "nut_free.toml"

[climate]
zone = "IVA"

[only]
ingredients = [
    "beeswax", "cocoa butter", "lavender oil", "mixed tocopherols",
    "refined shea butter", "sunflower oil", "candelilla wax",
]

[bands]
"wax" = { min = 11, max = 22 }

[[windows]]
name     = "stays solid"
property = "firmness"
at       = "storage"
over     = "lipids"
min      = 51
"""
PLAN = """\
title = "Two harbour bars"

[[batches]]
scenario = "nut_free.toml"
units    = 24
net      = "60 g"

[[batches]]
scenario = "hot.toml"
units    = 12
net      = "60 g"
"""
SIZE = ("--units", 24, "--net", "60 g")


def percents(lines):
    """Return what a list of lines holds of each ingredient, in percent."""
    return {x["ingredient"]: x["percent"] for x in lines if x["percent"]}


@pytest.fixture
def ask(run, workspace):
    """Return a function that runs a command in the workspace and gives its JSON."""
    (workspace / "recipes.csv").write_text(RECIPES, encoding="utf-8")
    scale = workspace / SHELF / "scale.toml"
    text = scale.read_text(encoding="utf-8")
    varied = text.replace("loss = 3 ", 'spread = "0.6 g"\nloss = 3 ')
    assert varied != text
    scale.write_text(varied, encoding="utf-8")

    def call(*arguments, code=0):
        told = run(*arguments, "--json")
        assert told.code == code, told.err
        return json.loads(told.out)

    return call


# -- the joints ----------------------------------------------------------------------


def bands_and_base(ask):
    """Recipes give a base that is a formula of their bands."""
    surveyed = ask(
        "survey", "recipes.csv", "--class", "harbour bar", "--workshop", "demo",
        "--market", "EU", "--use", "leave-on",
    )  # fmt: skip
    base = percents(surveyed["base"]["formula"])
    assert sum(base.values()) == pytest.approx(100.0)
    assert base["sweet_almond_oil"] == pytest.approx(32.28, abs=0.01)
    first = ask("formulate", FOLDER / "scenario.toml")
    written = {x["ingredient"]: x["base_percent"] for x in first["formula"]}
    assert {k: v for k, v in written.items() if v} == pytest.approx(base, abs=0.006)
    assert percents(first["formula"]) == pytest.approx(base, abs=0.006)
    return base


def versions(ask, base):
    """Each version moves what it must, and nothing else."""
    (FOLDER / "nut_free.toml").write_text(NUT_FREE, encoding="utf-8")
    (FOLDER / "hot.toml").write_text(HOT, encoding="utf-8")
    nut_free, hot = (
        ask("formulate", FOLDER / f"{x}.toml") for x in ("nut_free", "hot")
    )
    own, warm = percents(nut_free["formula"]), percents(hot["formula"])
    swapped = dict(base)
    swapped["sunflower_oil"] = swapped.pop("sweet_almond_oil")
    assert own == pytest.approx(swapped, abs=0.006)
    assert warm["beeswax"] + warm["candelilla_wax"] > own["beeswax"]
    firm = [x for x in hot["properties"] if x["least"] == pytest.approx(51.0)]
    assert [(x["property"], x["at"]) for x in firm] == [("firmness", "30 degC")]
    assert firm[0]["value"] >= 51.0 - 1e-6
    return nut_free, own, warm


def planned(ask, own, warm):
    """The plan has the same formulas, and takes what they hold of each."""
    (FOLDER / "plan.toml").write_text(PLAN, encoding="utf-8")
    plan = ask("plan", FOLDER / "plan.toml")
    pairs = tuple(zip(plan["products"], (own, warm), strict=True))
    for product, formula in pairs:
        assert percents(product["formula"]) == pytest.approx(formula)
        takes = [x for x in plan["takes"] if x["product"] == product["title"]]
        for key, percent in formula.items():
            kg = sum(x["kg"] for x in takes if x["ingredient"] == key)
            assert kg == pytest.approx(percent / 100.0 * product["kg"], rel=1e-6)
    needed = sum(p["kg"] * f["sunflower_oil"] / 100.0 for p, f in pairs)
    (bought,) = plan["buy"]
    assert bought["ingredient"] == "sunflower_oil"
    assert bought["used_kg"] == pytest.approx(needed)
    assert bought["packs"] * bought["pack_kg"] >= needed
    return plan["products"][0]["kg"], needed


def weighed_out(ask, own, kg):
    """The batch sheet weighs what the plan counted on, in steps of the scale."""
    sheet = ask("batch", BAR, *SIZE, "--csv", "weigh.csv")
    assert sheet["asked_grams"] == pytest.approx(1e3 * kg)
    grams = sum(x["grams"] for x in sheet["weigh"])
    assert grams == pytest.approx(sheet["batch_grams"])
    assert percents(sheet["weigh"]) == pytest.approx(own, abs=0.01)
    assert sheet["rules_missed"] == []
    return sheet


def poured_and_filled(ask, sheet, nut_free):
    """There is one pouring temperature, one fill and one cost."""
    poured = ask("pour", BAR)
    assert poured["pour_at"] == pytest.approx(sheet["pour_at"], abs=0.05)
    (target,) = ask("fill", BAR, "--net", "60 g", "--packs", 24)["targets"]
    assert sheet["fill_grams"] == pytest.approx(target["fill"])
    cost = ask("cost", BAR, *SIZE)
    assert cost["overfill_percent"] == pytest.approx(sheet["overfill_percent"])
    assert cost["batch_grams"] == pytest.approx(sheet["asked_grams"])
    spent = sum(x["per_batch"] for x in cost["lines"] if x["kind"] == "materials")
    per_kg = spent / cost["batch_grams"] * 1e3
    assert per_kg == pytest.approx(nut_free["cost_per_kg"], abs=0.01)
    return poured["pour_at"], target["fill"]


def labelled(ask, sheet):
    """The label stands in the order of the sheet, dated by the lots that go in."""
    asked = ("--net", "60 g", "--lot", "HB-1", "--made", "2026-11-26")
    told = ask("label", BAR, *asked)
    (printed,) = told["labels"]
    lines = sorted(sheet["weigh"], key=lambda x: -x["grams"])[:4]
    assert [x["of"] for x in printed["entries"][:4]] == [[x["name"]] for x in lines]
    assert printed["net"] == "60 g"
    expiries = [lot["expiry"] for x in sheet["weigh"] for lot in x["lots"]]
    assert told["keeping"]["until"] == min(x for x in expiries if x)
    # Beeswax tells no date, and the demo's lots are nobody's: none is printed.
    assert "beeswax" in told["keeping"]["unknown"]
    assert printed["best_before"] is None


def recorded(ask, sheet, pour_at, fill):
    """What was made is what the sheet says, and what came out of it was filled."""
    with Path("weigh.csv").open(encoding="utf-8-sig") as file:
        rows = list(csv.DictReader(file))
    with Path("weigh.csv").open("w", encoding="utf-8", newline="") as file:
        out = csv.DictWriter(file, rows[0].keys())
        out.writeheader()
        out.writerows({**row, "weighed_grams": row["grams"]} for row in rows)
    came = 24 * fill
    made = ask(
        "record", "batch", BAR, "weigh.csv", "--number", "HB-1", *SIZE,
        "--yield", f"{came:.1f} g", "--temperature", f"pour={pour_at:.0f} degC",
    )  # fmt: skip
    assert made["check"] == {"status": "kept", "broken": [], "missing": []}
    assert percents(made["formula"]) == pytest.approx(percents(sheet["weigh"]))
    assert made["grams"] == pytest.approx(sheet["batch_grams"])
    assert came == pytest.approx(made["grams"] * 0.97, abs=0.1)
    fills = [round(fill + 0.2 * (n % 3 - 1), 1) for n in range(24)]
    lines = "".join(f"{n},{grams}\n" for n, grams in enumerate(fills, start=1))
    Path("units.csv").write_text(f"unit,net\n{lines}", encoding="utf-8")
    units = ask("record", "weights", "HB-1", "units.csv")["unit_weights"]
    assert [x["grams"] for x in units] == fills
    judged = ask("fill", "units.csv", "--net", "60 g")
    assert judged["kept"]
    assert judged["markets"][0]["mean"] == pytest.approx(fill)
    return made, fills


def traced(ask, sheet, fills):
    """A unit leads to the lots of the sheet, and a lot to all units."""
    (unit,) = ask("trace", "HB-1/3")["found"]
    assert unit["unit_grams"] == fills[2]
    found = {x["ingredient"]: (x["lot"], x["grams"]) for x in unit["weighed"]}
    wanted = {
        x["ingredient"]: (lot["lot"], pytest.approx(lot["grams"]))
        for x in sheet["weigh"]
        for lot in x["lots"]
    }
    assert found == wanted
    (lot,) = ask("trace", "S1")["found"]
    (batch,) = lot["batches"]
    assert (batch["batch"], len(batch["units"])) == ("HB-1", 24)
    assert lot["left_kg"] == pytest.approx(1.0 - found["sunflower_oil"][1] / 1e3)
    return lot["left_kg"]


def test_a_product_is_walked_from_recipes_to_its_lots(ask, run):
    base = bands_and_base(ask)
    nut_free, own, warm = versions(ask, base)
    kg, needed = planned(ask, own, warm)
    with (SHELF / "stock.csv").open("a", encoding="utf-8") as file:
        file.write("sunflower_oil,S1,1,kg,2027-05-31,\n")
    sheet = weighed_out(ask, own, kg)
    pour_at, fill = poured_and_filled(ask, sheet, nut_free)
    labelled(ask, sheet)
    made, fills = recorded(ask, sheet, pour_at, fill)
    left = traced(ask, sheet, fills)

    # What is left is planned with; the verdict goes to calibrate with what was made.
    (more,) = ask("plan", FOLDER / "plan.toml")["buy"]
    assert more["ingredient"] == "sunflower_oil"
    assert more["used_kg"] == pytest.approx(needed - left, abs=1e-6)
    ask("record", "verdict", "HB-1", "right", "--room", "22 degC")
    assert run("record", "export", "trials.csv", "--trials").code == 0
    with Path("trials.csv").open(encoding="utf-8-sig") as file:
        (trial,) = csv.DictReader(file)
    assert (trial["trial"], trial["verdict"]) == ("HB-1", "right")
    as_made = percents(made["formula"])
    assert {key: float(trial[key]) for key in as_made} == pytest.approx(as_made)
    calibrated = ask("calibrate", "trials.csv", BAR)
    assert (calibrated["trials"], calibrated["support"]["bars"]) == (1, 1)
