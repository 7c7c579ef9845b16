"""Guards that keep straight sums honest: margins by lauric share, the wax cap."""

import pytest

from optimiser.science.excess import margin, share_class
from tests.rules import workbench as wb

FATS = {
    "cocoa": wb.ingredient("cocoa", "hard butter", family="cocoa-type"),
    "coconut": wb.ingredient("coconut", "soft butter", family="lauric"),
    "oil": wb.ingredient("oil", "liquid oil"),
    "wax": wb.ingredient("wax", "wax"),
}
KNOWN = wb.catalogue(
    FATS,
    figures={
        "solid fat": {
            "cocoa": {20.0: 80.0, 30.0: 45.0},
            "coconut": {20.0: 40.0, 30.0: 0.0},
            "oil": {20.0: 0.0, 30.0: 0.0},
        },
        "wax firmness": {"wax": 2.0},
    },
)
ASKED = wb.toml("guard.margin")


def margins(guard=None, at=20.0, low=40.0):
    asked = wb.scenario(
        windows=(wb.window("solid fat", low, at=at, over="lipids"),),
        lauric_guard=guard,
        margin=ASKED,
    )
    rules = wb.rules_of(asked, KNOWN)
    return [rule for key, rule in rules.items() if key.startswith("guard/margin/")]


# Points by share of lauric fats at 20 deg C: 8 without, 15 to 15 %, 19-21 beyond.
@pytest.mark.parametrize(
    ("most", "room"),
    [(0.0, 8.0), (10.0, 15.0), (15.0, 15.0), (30.0, 19.0), (60.0, 21.0)],
)
def test_the_room_on_a_straight_sum_follows_the_lauric_share(most, room):
    guard = wb.bound("lauric", None, most, of="butters", table="guard")
    (rule,) = margins(guard)
    assert rule.limit == pytest.approx(40.0 + room)
    assert rule.side == "min"
    assert rule.owner == "model"
    assert rule.origin == ASKED


def test_without_a_cap_on_lauric_fats_the_greatest_room_is_kept():
    (rule,) = margins(wb.bound("lauric", of="butters", table="guard"), at=25.0)
    assert rule.limit == pytest.approx(72.0)


# Points of room by class of lauric share, each row and column added up.
def test_the_table_of_margins_is_the_one_that_was_worked_out():
    tops = (0.0, 5.0, 15.0, 30.0, 50.0, 70.0, 100.0)
    rows = [[margin(at, top) for at in (20.0, 25.0, 30.0)] for top in tops]
    assert [sum(row) for row in rows] == [30.0, 40.0, 47.0, 62.0, 72.0, 74.0, 74.0]
    columns = [sum(column) for column in zip(*rows, strict=True)]
    assert columns == [116.0, 151.0, 132.0]
    # Straight between temperatures, and the end's own beyond.
    assert margin(21.0, 40.0) == pytest.approx(22.8)
    assert margin(29.5, 0.0) == pytest.approx(13.4)
    assert (margin(5.0, 40.0), margin(45.0, 0.0)) == (21.0, 14.0)


def test_the_margin_says_what_it_is_for():
    (rule,) = margins()
    assert rule.sentence == (
        "solid fat at 20 °C over the lipids at least 55 % (15 points of room: with up"
        " to 10 % lauric fats the straight sum is no more than that too high in about"
        " 9 of 10 such blends, by a model good to 8 points)"
    )


def test_no_margin_is_kept_unless_it_is_asked_for():
    asked = wb.scenario(windows=(wb.window("solid fat", 40.0, at=20.0, over="lipids"),))
    assert not [key for key in wb.rules_of(asked, KNOWN) if "margin" in key]


def test_a_greatest_solid_fat_needs_no_margin_for_the_sum_is_too_high():
    asked = wb.scenario(
        windows=(wb.window("solid fat", None, 8.0, at=30.0, over="lipids"),),
        margin=ASKED,
    )
    assert not [key for key in wb.rules_of(asked, KNOWN) if "margin" in key]


@pytest.mark.parametrize(
    ("guard", "most"),
    [
        (None, 30.0),
        (wb.bound("wax", None, 12.0, of="lipids", table="guard"), 12.0),
        (wb.bound("wax", of="lipids", table="guard"), None),
    ],
)
def test_waxes_together_are_capped_where_firmness_counts_them(guard, most):
    asked = wb.scenario(
        windows=(wb.window("firmness", 30.0, at=20.0, over="lipids"),), wax_guard=guard
    )
    rules = wb.rules_of(asked, KNOWN)
    found = rules.get("guard/waxes together/max")
    assert (found is None) == (most is None)
    if found is not None:
        assert found.limit == most
        assert found.owner == "model"
        told = "beyond that" if most == 30.0 else "above 30 % of the lipids"
        assert f"({told} what waxes add to firmness is a guess)" in found.sentence


def test_margins_lie_between_the_classes_and_temperatures_as_told():
    assert margin(22.5, 40.0) == pytest.approx((21.0 + 30.0) / 2.0)
    assert margin(10.0, 0.0) == margin(20.0, 0.0) == 8.0
    assert margin(40.0, 0.0) == margin(30.0, 0.0) == 14.0
    assert share_class(15.0) == 15.0
    assert share_class(15.1) == 30.0
