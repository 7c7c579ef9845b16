"""Change from the base, by ingredient, kind and category; aims in order."""

import pytest

from optimiser.domain.scenario import Aim
from optimiser.explaining import check, formulate
from tests.rules import workbench as wb

KNOWN = wb.catalogue(
    {
        "beeswax": "wax",
        "cocoa": "hard butter",
        "mango": "soft butter",
        "grapeseed": "liquid oil",
        "apricot": "liquid oil",
    },
    prices={
        "beeswax": 20.0,
        "cocoa": 24.0,
        "mango": 22.0,
        "grapeseed": 9.0,
        "apricot": 14.0,
    },
)
# Two invented bars: the second is the first with another oil and a little harder. By
# ingredient cocoa +3 and apricot +31 go in, mango -2 and grapeseed -32 out: 34 points.
# By category hard butter +3, soft butter -2 and liquid oil -1: 3 points.
FIRST = {"beeswax": 26.0, "cocoa": 24.0, "mango": 18.0, "grapeseed": 32.0}
SECOND = {"beeswax": 26.0, "cocoa": 27.0, "mango": 16.0, "apricot": 31.0}


def test_an_oil_swapped_is_34_points_by_ingredient_and_3_by_category():
    asked = wb.scenario(
        base=FIRST,
        closeness=(
            wb.bound("ingredient", None, 20.0, table="closeness"),
            wb.bound("category", None, 4.0, table="closeness"),
        ),
    )
    found = wb.values(asked, KNOWN, SECOND)
    assert found["closeness/by ingredient"] == pytest.approx((34.0, -14.0))
    assert found["closeness/by category"] == pytest.approx((3.0, 1.0))
    change = check(SECOND, asked, KNOWN).change
    assert (change.by_ingredient, change.by_category) == pytest.approx((34.0, 3.0))
    assert wb.broken(SECOND, asked, KNOWN) == ["closeness/by ingredient"]


def test_the_base_itself_has_not_changed():
    asked = wb.scenario(base=FIRST)
    change = check(FIRST, asked, KNOWN).change
    assert (change.by_ingredient, change.by_category) == (0.0, 0.0)


def test_an_ingredient_of_the_base_that_may_not_be_used_still_counts_as_moved():
    asked = wb.scenario(
        aims=("change", "cost"),
        base=FIRST,
        limits=(wb.bound("grapeseed", None, 0.0, table="limits"),),
    )
    answer = formulate(asked, KNOWN)
    assert answer.change.by_ingredient == pytest.approx(32.0)
    assert answer.aims[0] == ("change", pytest.approx(32.0), "points")


@pytest.mark.parametrize(
    ("by", "most", "cost"),
    [
        # The base costs 5.20 + 5.76 + 3.96 + 2.88 = 17.80; each point by ingredient
        # swaps the dearest (cocoa, 24) for the cheapest (grapeseed, 9) and saves 0.15.
        ("ingredient", 0.0, 17.80),
        ("ingredient", 10.0, 16.30),
        # 24 points empty the cocoa; 3 more swap mango (22), saving 0.13 each
        ("ingredient", 27.0, 17.80 - 24 * 0.15 - 3 * 0.13),
        # within the categories grapeseed is the cheapest oil already
        ("category", 0.0, 17.80),
        ("category", 10.0, 16.30),
    ],
)
def test_closeness_caps_how_much_may_be_saved(by, most, cost):
    asked = wb.scenario(
        base=FIRST, closeness=(wb.bound(by, None, most, table="closeness"),)
    )
    answer = formulate(asked, KNOWN)
    assert answer.cost_per_kg == pytest.approx(cost)
    (line,) = [line for line in answer.rules if line.rule.kind == "closeness"]
    assert line.binding
    assert line.rule.sentence == (
        f"change from the base by {by} at most {most:g} points"
    )


def test_a_swap_within_a_category_is_free_by_category():
    base = {"beeswax": 26.0, "cocoa": 24.0, "mango": 18.0, "apricot": 32.0}
    asked = wb.scenario(
        base=base,
        closeness=(wb.bound("category", None, 0.0, table="closeness"),),
    )
    assert wb.best(asked, KNOWN) == pytest.approx(FIRST)


LIMITS = (wb.bound("cocoa", None, 14.0, table="limits"),)


# 10 points of cocoa must go. With change first, they go to the cheapest place; with
# cost first, everything goes to grapeseed.
@pytest.mark.parametrize(
    ("aims", "wanted"),
    [
        (
            ("change", "cost"),
            {"beeswax": 26.0, "cocoa": 14.0, "mango": 18.0, "grapeseed": 42.0},
        ),
        (("cost", "change"), {"grapeseed": 100.0}),
        (("cost",), {"grapeseed": 100.0}),
        (
            # one point of room to move: cocoa (24) to grapeseed (9)
            (Aim("change", slack=1.0), "cost"),
            {"beeswax": 26.0, "cocoa": 13.0, "mango": 18.0, "grapeseed": 43.0},
        ),
    ],
)
def test_later_aims_are_sought_inside_the_earlier_ones(aims, wanted):
    asked = wb.scenario(aims=aims, base=FIRST, limits=LIMITS)
    answer = formulate(asked, KNOWN)
    # Earlier aims are held to a billionth of themselves.
    assert wb.percent(answer) == pytest.approx(wanted, abs=1e-5)
    assert [name for name, _, _ in answer.aims] == [
        each.name if isinstance(each, Aim) else each for each in aims
    ]


def test_the_category_change_is_an_aim_of_its_own():
    asked = wb.scenario(
        aims=("category change", "cost"),
        base=SECOND,
        limits=(wb.bound("apricot", None, 20.0, table="limits"),),
    )
    answer = formulate(asked, KNOWN)
    assert answer.aims[0] == ("category change", pytest.approx(0.0, abs=1e-7), "points")
    # Cost then takes all the oil from grapeseed, which the categories do not mind.
    assert wb.percent(answer)["grapeseed"] == pytest.approx(31.0)


def test_fewest_ingredients_come_before_least_cost_when_asked_so():
    known = wb.catalogue(
        {"a": "liquid oil", "b": "liquid oil", "c": "liquid oil"},
        prices={"a": 1.0, "b": 2.0, "c": 9.0},
    )
    caps = (
        wb.bound("a", None, 50.0, table="limits"),
        wb.bound("b", None, 60.0, table="limits"),
    )
    by_cost = wb.scenario(aims=("cost", "count"), limits=caps, only=frozenset("abc"))
    by_count = wb.scenario(aims=("count", "cost"), limits=caps, only=frozenset("abc"))
    assert wb.best(by_cost, known) == pytest.approx({"a": 50.0, "b": 50.0})
    assert wb.best(by_count, known) == pytest.approx({"c": 100.0})


# The same bar with kinds: apricot is like grapeseed no more than mango is.
KINDS = wb.catalogue(
    {
        "beeswax": "wax",
        "cocoa": wb.ingredient("cocoa", "hard butter", kind="lauric"),
        "mango": wb.ingredient("mango", "soft butter", kind="lauric"),
        "grapeseed": wb.ingredient("grapeseed", kind="drying"),
        "apricot": wb.ingredient("apricot", kind="light"),
        "almond": wb.ingredient("almond", kind="light"),
        "unlike": wb.ingredient("unlike"),
    },
    prices={"almond": 30.0, "apricot": 14.0, "grapeseed": 9.0, "unlike": 3.0},
)
ALMOND = {"cocoa": 50.0, "mango": 10.0, "almond": 40.0}


@pytest.mark.parametrize(
    ("formula", "points"),
    [
        ({"cocoa": 50.0, "mango": 10.0, "apricot": 40.0}, (40.0, 0.0, 0.0)),
        ({"cocoa": 50.0, "mango": 10.0, "grapeseed": 40.0}, (40.0, 40.0, 0.0)),
        # What has no kind is like nothing else.
        ({"cocoa": 50.0, "mango": 10.0, "unlike": 40.0}, (40.0, 40.0, 0.0)),
        # Kinds of two categories are two, though one word is used for both.
        ({"cocoa": 40.0, "mango": 20.0, "almond": 40.0}, (10.0, 10.0, 10.0)),
    ],
)
def test_a_swap_within_a_kind_is_free_by_kind(formula, points):
    most = wb.bound("kind", None, 5.0, table="closeness")
    asked = wb.scenario(base=ALMOND, closeness=(most,))
    change = check(formula, asked, KINDS).change
    told = (change.by_ingredient, change.by_kind, change.by_category)
    assert told == pytest.approx(points)
    value, slack = wb.values(asked, KINDS, formula)["closeness/by kind"]
    assert (value, slack) == pytest.approx((points[1], 5.0 - points[1]))


def test_the_kind_change_is_an_aim_of_its_own():
    asked = wb.scenario(
        aims=("kind change", "cost"),
        base=ALMOND,
        limits=(wb.bound("almond", None, 0.0, table="limits"),),
    )
    answer = formulate(asked, KINDS)
    assert answer.aims[0] == ("kind change", pytest.approx(0.0, abs=1e-7), "points")
    assert wb.percent(answer)["apricot"] == pytest.approx(40.0, abs=1e-5)
