"""Every command is about one formula, and what has nothing to do with it moves none."""

import json

import pytest

RECIPE = """\
ingredient,amount,unit
beeswax pellets,3,tbsp
berry wax,5,g
cocoa butter,25,g
shea butter,1/4,cup
coconut oil,2,tbsp
calendula infused sunflower oil,40,ml
sweet almond oil,1,tbsp
castor oil,2,tsp
vitamin E,10,drops
strawberry flavour oil,20,drops
"""
MINE = "scenarios/my_balm.toml"
# With fewer oils to look through a search ends at another formula than it began with.
LEFT_OUT = (
    "evening primrose oil",
    "grapeseed oil",
    "hemp seed oil",
    "kukui nut oil",
    "rosehip oil",
    "safflower oil",
    "soybean oil",
    "sunflower oil",
    "borage oil",
)
# Far above what is in it.
ROW = """\
ingredient,whose,use,min_percent,max_percent,of,evidence,source,note
strawberry flavour oil,supplier,any,,0.5,product,supplier,,data sheet
"""


@pytest.fixture
def balm(run, tmp_path, monkeypatch):
    """Return a workspace begun around a balm of kitchen measures, ties and all."""
    (tmp_path / "my_balm.csv").write_text(RECIPE, encoding="utf-8")
    asked = ("--from", tmp_path / "my_balm.csv", "--product", "lip balm")
    done = run("begin", tmp_path / "kitchen", *asked, "--market", "GB")
    assert done.code == 0, done.err
    mine = tmp_path / "kitchen" / MINE
    text = mine.read_text(encoding="utf-8")
    for name in LEFT_OUT:
        text = text.replace(f'    "{name}",\n', "")
    mine.write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path / "kitchen")
    return tmp_path / "kitchen"


def formula(run):
    told = json.loads(run("formulate", MINE, "--json").out)
    return {x["ingredient"]: x["percent"] for x in told["formula"]}


def test_a_batch_is_of_the_formula_that_is_shown_whatever_ties(run, balm):  # noqa: ARG001
    sizes = ("--units", 30, "--net", "5 g")
    batch = json.loads(run("batch", MINE, *sizes, "--json").out)
    wanted = {x["ingredient"]: x["wanted_percent"] for x in batch["weigh"]}
    assert wanted == pytest.approx(formula(run))


def test_a_limit_that_is_not_reached_moves_no_formula(run, balm):
    before = formula(run)
    limits = balm / "catalogues/workshops/demo/limits.csv"
    limits.write_text(ROW, encoding="utf-8")
    assert formula(run) == pytest.approx(before)
