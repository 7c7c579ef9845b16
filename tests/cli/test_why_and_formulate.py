"""``formulate`` and ``why`` name the same rules, what costs most first, pins last."""

import re

import pytest

from optimiser.reading import shipped_folder

DEMOS = sorted(shipped_folder("scenarios").glob("*.toml"))
RECIPE = """\
ingredient,amount,unit
cocoa butter,100,g
shea butter,1/2,cup
beeswax,3,tbsp
sunflower oil,60,ml
lavender oil,20,drops
"""
LAST = "WHAT IS PINNED"
COST = "WHAT EACH RULE COSTS AS ITS LIMIT MOVES"


def below(head, page):
    """The items below a head, each as one text without what is indented under it."""
    found = re.search(rf"^{re.escape(head)}\n((?: +.*\n|(?=\n))*)", page, re.MULTILINE)
    items = re.split(r"\n(?=  \S)", f"\n{found[1]}" if found else "")[1:]
    return [" ".join(re.split(r"\n {6}", each)[0].split()) for each in items]


def costing(page):
    """The rules under WHAT COSTS MOST of a formula's page, without what they cost."""
    return [each.partition(": ")[0] for each in below("WHAT COSTS MOST", page)]


def held(page):
    """The rules of a page of reasons, without what stands in brackets."""
    return bare(re.sub(r" \[.*", "", each) for each in below(COST, page))


def bare(told):
    return [re.sub(r" \(.*?\)", "", each) for each in told]


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_reasons_begin_with_what_the_formula_says_costs_most(run, path):
    first = run("formulate", path).out
    page = run("why", path).out
    most = bare(costing(first))
    assert most
    rules = [each for each in most if " exactly " not in each]
    assert held(page)[: len(rules)] == rules
    pins = [each.partition(":")[0] for each in below(LAST, page)]
    assert [each for each in most if each not in rules] == pins[
        : len(most) - len(rules)
    ]
    assert not any(" exactly " in each for each in held(page))
    assert " exactly " in pins[0]
    assert page.index(COST) < page.index(LAST) < page.index("INGREDIENTS THAT ARE IN")


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_everything_has_the_order_of_the_short_page(run, path):
    short, page = run("why", path).out, run("why", path, "--full").out
    full = held(page)
    assert held(short)
    for first, whole in zip(held(short), full, strict=False):
        assert whole.startswith(first)
    assert not any(" exactly " in each for each in full)
    assert all(re.search(r" exactly .*\[pin/", each) for each in below(LAST, page))
    page = run("formulate", path, "--full").out
    holding = [
        " exactly " in each
        for each in below("WHAT HOLDS THE FORMULA WHERE IT IS", page)
        if not re.match(r"Met exactly|Not priced|Prices hold", each)
    ]
    assert holding == sorted(holding)


def test_a_recipe_that_no_rule_moves_has_its_pin_last_and_says_so(run, tmp_path):
    recipe, folder = tmp_path / "my_recipe.csv", tmp_path / "mine"
    recipe.write_text(RECIPE, encoding="utf-8")
    begun = run("begin", folder, "--from", recipe, "--product", "massage bar")
    assert begun.code == 0
    scenario = folder / "scenarios" / "my_recipe.toml"
    assert costing(run("formulate", scenario).out) == []
    page = run("why", scenario).out
    assert held(page) == ["None does: what is not pinned has room to spare."]
    (pin,) = below(LAST, page)
    assert pin == "lavender oil exactly 0.23 %: moving it gains nothing that shows"
    cheap = run("why", scenario, "--by", "cost").out
    assert held(cheap)[:2] == ["hard butter at least 26 %", "liquid oil at most 24 %"]
    (pin,) = below(LAST, cheap)
    assert re.match(r"lavender oil exactly 0\.23 %: lowering .* saves .* EUR/kg", pin)
