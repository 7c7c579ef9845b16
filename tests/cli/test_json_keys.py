"""The keys of every command's JSON, as they were kept: scripts read them by name.

``SNAPSHOTS=write pytest tests/cli/test_json_keys.py`` writes them anew; a key that
goes, or is called otherwise, breaks somebody's script.
"""

import json
import os
import shutil
from pathlib import Path

import pytest
from typer.main import get_command

from optimiser.cli.commands import COMMANDS, application
from tests.cli.test_pages import taken
from tests.cli.written import write_all
from tests.survey.conftest import PUBLISHED

KEPT = Path(__file__).parent / "json_keys"
BAR, DEMO = "scenarios/bar.toml", "scenarios/massage_bar.toml"
# A name, what is asked, and the exit code.
ASKED = {
    "formulate": (("formulate", DEMO), 0),
    "clash": (("formulate", "scenarios/two_ways.toml"), 3),
    "problem": (("formulate", "scenarios/missing.toml"), 1),
    "why": (("why", DEMO), 0),
    "why one rule": (("why", BAR, "--rule", "band/hard butter/min", "--again"), 0),
    "check": (("check", "mine.csv", DEMO), 1),
    "check without a scenario": (
        ("check", "mine.csv", "--market", "EU", "--product", "lip balm"),
        0,
    ),
    "substitute": (("substitute", DEMO, "--without", "cetyl alcohol"), 0),
    "variants": (("variants", BAR, "--count", 2), 0),
    "themes": (("variants", BAR, "--theme", "scenarios/themes/nut_free.toml"), 0),
    "tradeoff": (("tradeoff", BAR), 0),
    "stock": (("stock", DEMO, "--unit", "60 g"), 0),
    "survey": (("survey", "published.csv", "--class", "lip balm"), 0),
    "sweep": (("sweep", BAR), 0),
    "robust": (("robust", BAR, "--draws", 50, "--budget", 1), 0),
    "fats": (("fats", DEMO), 0),
    "pour": (("pour", "scenarios/foot_scrub_bar.toml"), 0),
    "fill": (("fill", BAR, "--net", "60 g", "--spread", "1.2 g"), 0),
    "label": (("label", DEMO, "--net", "60 g"), 0),
    "batch": (("batch", DEMO, "--units", 24, "--net", "60 g"), 0),
    "cost": (
        ("cost", BAR, "--units", 24, "--net", "60 g", "--price", "8.50"),
        0,
    ),
    "buy": (("buy", BAR, "--units", 24, "--net", "60 g"), 0),
    "plan": (("plan", "scenarios/plans/two.toml"), 0),
    "trials": (("trials", "scenarios/lip_balm.toml", "--bars", 1), 0),
    "calibrate": (("calibrate", "trials.csv", DEMO), 0),
    "record batch": (
        ("record", "batch", BAR, "sheet.csv", "--number", "N2", "--units", 16),
        0,
    ),
    "record weights": (("record", "weights", "N1", "more.csv"), 0),
    "record verdict": (
        ("record", "verdict", "N1", "too soft", "--room", "25 degC"),
        0,
    ),
    "record add": (("record", "add", "N1", "--yield", "985 g"), 0),
    "record correct": (
        ("record", "correct", 1, "--to", "451 g", "--why", "misread"),
        0,
    ),
    "record list": (("record", "list"), 0),
    "record show": (("record", "show", "N1"), 0),
    "trace": (("trace", "N1/3"), 0),
    "trace a lot": (("trace", "A1"), 0),
    "catalogue list": (("catalogue", "list", "--workshop", "demo"), 0),
    "catalogue show": (("catalogue", "show", "cocoa butter"), 0),
    "catalogue check": (("catalogue", "check"), 0),
    "catalogue workbook": (
        ("catalogue", "workbook", "mine.xlsx", "--workshop", "demo"),
        0,
    ),
    "begin": (("begin", "../new", "--from", "mine.csv", "--product", "lip balm"), 0),
    "report": (("report", BAR, "--out", "report.html"), 0),
}
TWO_WAYS = """\
extends = "bar.toml"
[limits]
"cocoa butter" = { max = 38 }
"""
PLAN = """\
title = "Two"
today = 2026-11-16
[[batches]]
scenario = "../bar.toml"
units = 24
net = "60 g"
date = 2026-11-20
[[batches]]
scenario = "../bar.toml"
size = "500 g"
date = 2026-11-21
"""
SHEET = """\
ingredient,lots,weighed_grams
cocoa butter,A1,451.2
refined shea butter,"A2 150 g, A3 50 g",199.5
beeswax,b1,40.1
sunflower oil,,309.8
"""


@pytest.fixture
def kitchen(run, workspace, prepared):
    """Return a workspace with what the commands ask for, and a batch in its book."""

    def make():
        scenarios = workspace / "scenarios"
        for file in (workspace / BAR, workspace / DEMO):  # what is to come would pass
            text = file.read_text(encoding="utf-8")
            file.write_text(f"on = 2026-11-26\n{text}", encoding="utf-8")
        (scenarios / "two_ways.toml").write_text(TWO_WAYS, encoding="utf-8")
        (scenarios / "plans").mkdir(exist_ok=True)
        (scenarios / "plans" / "two.toml").write_text(PLAN, encoding="utf-8")
        write_all(workspace)
        (workspace / "sheet.csv").write_text(SHEET, encoding="utf-8")
        (workspace / "more.csv").write_text("unit,net\n4,60\n", encoding="utf-8")
        shutil.copy(PUBLISHED, workspace / "published.csv")
        sheet = (BAR, "sheet.csv", "--number", "N1", "--units", 16, "--net", "60 g")
        assert run("record", "batch", *sheet).code == 0
        assert run("record", "weights", "N1", "units.csv").code == 0

    prepared(workspace, "json keys", make)
    return workspace


# What stands here is called as an ingredient, a class or a market is: data, no keys.
NAMES = {
    "allergens",
    "allergens.*.listed",
    "answer",
    "base.left_open",
    "base.nearest_recipe.percents",
    "cases[].amounts",
    "cases[].labels",
    "cases[].properties",
    "classes",
    "different.lines",
    "made_of.fatty_acids[].implied",
    "made_of.triglycerides",
    "structures[].least_of_each",
    "structures[].most_of_each",
}


def paths(value, at=""):
    """Yield where each key of some data stands; the rows of a list are one place."""
    if isinstance(value, list):
        for each in value:
            yield from paths(each, f"{at}[]")
    elif isinstance(value, dict):
        for key, each in value.items():
            place = f"{at}.{'*' if at in NAMES else key}".removeprefix(".")
            yield place
            yield from paths(each, place)


@pytest.mark.usefixtures("kitchen")
@pytest.mark.parametrize("name", ASKED)
def test_the_keys_of_the_json_are_those_that_were_kept(run, name):
    arguments, code = ASKED[name]
    done = run(*arguments, "--json")
    assert done.code == code, done.out + done.err
    found = "".join(f"{each}\n" for each in sorted(set(paths(json.loads(done.out)))))
    kept = KEPT / f"{name.replace(' ', '_')}.txt"
    if os.environ.get("SNAPSHOTS") == "write":
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(found, encoding="utf-8")
    assert found == kept.read_text(encoding="utf-8")


def test_every_command_that_answers_as_json_is_asked():
    every = set()
    for name in COMMANDS:
        command = get_command(application([name]))
        first = () if hasattr(command, "commands") else (name,)
        every |= {
            words for words, options in taken(command, first) if "--json" in options
        }
    asked = {
        words for words in every for x, _ in ASKED.values() if words == x[: len(words)]
    }
    assert every - asked == set()
    assert {each.stem.replace("_", " ") for each in KEPT.glob("*.txt")} == {*ASKED}


# What scripts were promised: keys stay, whatever else is told beside them.
PROMISED = {
    "formulate": """
        status title currency cost_per_kg formula rules unused properties law change
        proof formula[].ingredient formula[].name formula[].percent formula[].grams
        formula[].cost_per_kg_product formula[].base_percent rules[].id rules[].sentence
        rules[].kind rules[].side rules[].limit rules[].value rules[].slack rules[].unit
        rules[].binding rules[].may_ease rules[].origin rules[].source rules[].ease
        rules[].ease.of rules[].ease.price rules[].ease.until rules[].tighten
        rules[].tighten.of rules[].tighten.price rules[].tighten.until
        unused[].ingredient unused[].price_per_kg unused[].enters_below
        properties[].property properties[].at properties[].over properties[].low
        properties[].value properties[].high properties[].unit law[].market law[].limits
        law[].kept law[].edition law[].read law[].read.retrieved law[].read.secondary
        law[].read.memory change.by_ingredient change.by_category proof.worst_violation
        proof.gap
    """,
    "clash": """
        status clash ways_out ways_out[].ease ways_out[].ease[].id
        ways_out[].ease[].from ways_out[].ease[].to ways_out[].cost_per_kg
    """,
}
STATUS = {"formulate": "answered", "clash": "clash", "problem": "error"}


@pytest.mark.usefixtures("kitchen")
@pytest.mark.parametrize("name", PROMISED)
def test_the_keys_that_were_promised_are_there(run, name):
    told = json.loads(run(*ASKED[name][0], "--json").out)
    assert set(PROMISED[name].split()) - set(paths(told)) == set()
    assert told["status"] == STATUS[name]
    if name == "clash":
        assert all(isinstance(each, str) for each in told["clash"])
        return
    for rule in told["rules"]:  # easing makes no aim worse, tightening none better
        assert rule["ease"] is None or rule["ease"]["price"] <= 1e-9
        assert rule["tighten"] is None or rule["tighten"]["price"] >= -1e-9
