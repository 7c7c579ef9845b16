"""Bands of categories and parts; limits of the maker, the supplier and practice."""

import pytest
from msgspec.structs import replace

from optimiser.explaining import Clash, formulate
from optimiser.explaining.answer import BandsMiss
from optimiser.explaining.basis import basis
from optimiser.presenting.notes import notes
from tests.rules import workbench as wb

BAR = wb.catalogue(
    {"cocoa": "hard butter", "shea": "soft butter", "oil": "liquid oil", "wax": "wax"},
    prices={"cocoa": 20.0, "shea": 12.0, "oil": 5.0, "wax": 18.0},
)


def test_a_band_holds_the_share_of_a_category_at_its_dear_end_by_its_least():
    asked = wb.scenario(
        bands=(
            wb.bound("hard butter", 40, 55),
            wb.bound("wax", 6),
            wb.bound("liquid oil"),
        )
    )
    assert wb.best(asked, BAR) == pytest.approx({"cocoa": 40, "wax": 6, "oil": 54})


def test_a_band_holds_a_cheap_category_by_its_most():
    asked = wb.scenario(
        bands=(wb.bound("liquid oil", None, 30), wb.bound("soft butter", None, 50)),
        only=frozenset(BAR.ingredients),
    )
    # Oil (5) to its most, shea (12) to its most, then wax (18) before cocoa (20).
    assert wb.best(asked, BAR) == pytest.approx({"oil": 30, "shea": 50, "wax": 20})


# 40 % butters of 80 % lipids are 50 % of the lipids.
@pytest.mark.parametrize(
    ("formula", "share"),
    [
        ({"cocoa": 30, "shea": 10, "oil": 40, "sugar": 20}, 50.0),
        ({"cocoa": 15, "shea": 5, "oil": 20, "sugar": 60}, 50.0),
        ({"cocoa": 20, "oil": 60, "sugar": 20}, 25.0),
    ],
)
def test_a_band_of_a_part_counts_only_that_part(formula, share):
    known = wb.catalogue(
        {
            "cocoa": "hard butter",
            "shea": "soft butter",
            "oil": "liquid oil",
            "sugar": "exfoliant",
        }
    )
    asked = wb.scenario(bands=(wb.bound("butters", 50, None, of="lipids"),))
    value, slack = wb.values(asked, known, formula)["band/butters/min"]
    assert value == pytest.approx(share)
    assert slack == pytest.approx(share - 50.0)


def test_a_band_of_a_part_that_is_not_there_has_no_value():
    known = wb.catalogue({"oil": "liquid oil", "sugar": "exfoliant"})
    asked = wb.scenario(bands=(wb.bound("liquid oil", 50, None, of="lipids"),))
    assert wb.values(asked, known, {"sugar": 100})["band/liquid oil/min"] == (
        None,
        None,
    )


def test_a_part_of_the_makers_own_may_mix_categories_parts_and_ingredients():
    asked = wb.scenario(
        parts={"pourable": ("butters", "oil")},
        bands=(wb.bound("pourable", 50), wb.bound("wax", None, 20)),
        only=frozenset(BAR.ingredients),
    )
    values = wb.values(asked, BAR, {"cocoa": 10, "shea": 20, "oil": 30, "wax": 40})
    assert values["band/pourable/min"] == pytest.approx((60.0, 10.0))
    assert values["band/wax/max"] == pytest.approx((40.0, -20.0))


OWNERS = wb.catalogue(
    {"oil": "liquid oil", "castor": "liquid oil"},
    prices={"oil": 5.0, "castor": 1.0},
    limits=[
        wb.usage("castor", "supplier", 25),
        wb.usage("castor", "practice", 20, use="leave-on"),
        wb.usage("castor", "practice", 40, use="rinse-off"),
        wb.usage("oil", "practice", 100),
    ],
)


@pytest.mark.parametrize(
    ("own", "use", "share", "binds"),
    [
        (15, "leave-on", 15, "limit/castor/max"),
        (30, "leave-on", 20, "practice/castor/max"),
        (30, "rinse-off", 25, "supplier/castor/max"),
        (None, "rinse-off", 25, "supplier/castor/max"),
    ],
)
def test_the_tightest_of_three_owners_binds_and_each_has_its_rule(
    own, use, share, binds
):
    limits = () if own is None else (wb.bound("castor", None, own, table="limits"),)
    asked = wb.scenario(use=use, limits=limits, only=frozenset(OWNERS.ingredients))
    answer = formulate(asked, OWNERS)
    assert wb.percent(answer)["castor"] == pytest.approx(share)
    lines = {line.rule.id: line for line in answer.rules}
    assert [name for name, line in lines.items() if line.binding] == ["total", binds]
    assert "supplier/castor/max" in lines
    assert "practice/castor/max" in lines
    assert ("limit/castor/max" in lines) == (own is not None)


def test_a_limit_says_whose_it_is_and_only_law_is_never_eased():
    asked = wb.scenario(limits=(wb.bound("castor", None, 15, table="limits"),))
    rules = wb.rules_of(asked, OWNERS)
    assert {name: (r.owner, r.sentence) for name, r in rules.items()} == {
        "total": ("arithmetic", "the percentages add up to 100 %"),
        "limit/castor/max": ("wish", "castor at most 15 %"),
        "supplier/castor/max": (
            "supplier",
            "castor at most 25 % (the supplier's limit)",
        ),
        "practice/castor/max": ("practice", "castor at most 20 % (common practice)"),
    }
    assert [r.may_ease for r in rules.values()] == [False, True, True, True]


def test_a_range_up_to_all_of_it_is_no_rule_and_a_recommended_least_is_none_either():
    known = wb.catalogue(
        {"oil": "liquid oil", "glow": "powder"},
        limits=[
            wb.usage("oil", "practice", 100),
            wb.usage("glow", "supplier", 5, low=1),
        ],
    )
    assert list(wb.rules_of(wb.scenario(), known)) == ["total", "supplier/glow/max"]


def test_a_suppliers_limit_may_be_of_a_part():
    known = wb.catalogue(
        {"oil": "liquid oil", "wax": "wax", "sugar": "exfoliant"},
        limits=[wb.usage("wax", "practice", 25, of="lipids")],
    )
    value, slack = wb.values(wb.scenario(), known, {"oil": 30, "wax": 20, "sugar": 50})[
        "practice/wax/max"
    ]
    assert (value, slack) == pytest.approx((40.0, -15.0))


def test_a_pin_holds_an_ingredient_at_exactly_so_much():
    asked = wb.scenario(pins=(wb.pin("wax", 2.5),), bands=(wb.bound("liquid oil"),))
    answer = formulate(asked, BAR)
    assert wb.percent(answer) == pytest.approx({"wax": 2.5, "oil": 97.5})
    (line,) = [line for line in answer.rules if line.rule.id == "pin/wax"]
    # Wax at 18 in place of oil at 5 is 0.13 a point; less of it is the cheap way.
    assert line.ease.price == pytest.approx(-0.13)
    assert line.ease.until == pytest.approx(0.0)
    assert line.tighten.price == pytest.approx(0.13)
    assert line.tighten.until == pytest.approx(100.0)


def test_a_reason_is_shown_behind_the_sentence():
    asked = wb.scenario(
        limits=(wb.bound("wax", None, 3, why="glassy above that", table="limits"),)
    )
    rule = wb.rules_of(asked, BAR)["limit/wax/max"]
    assert rule.sentence == "wax at most 3 % (glassy above that)"
    assert str(rule.origin) == "test.toml: limits.wax.max"


@pytest.mark.parametrize(
    ("bands", "cause"),
    [
        (
            {"hard butter": (60, None), "liquid oil": (50, None)},
            BandsMiss("min", 110.0),
        ),
        (
            {"hard butter": (None, 40), "liquid oil": (None, 50)},
            BandsMiss("max", 90.0),
        ),
    ],
)
def test_bands_that_cannot_make_a_hundred_are_told_as_such(bands, cause):
    asked = wb.scenario(
        bands=tuple(wb.bound(what, *sides) for what, sides in bands.items())
    )
    clash = formulate(asked, BAR)
    assert isinstance(clash, Clash)
    assert clash.causes == (cause,)
    assert {rule.id for rule in clash.rules} == {
        "total",
        *(
            f"band/{what}/{'max' if low is None else 'min'}"
            for what, (low, _) in bands.items()
        ),
    }


@pytest.mark.parametrize(
    ("markets", "binds"),
    [(("EU",), True), (("US", "EU"), True), (("US",), False), ((), False)],
)
def test_an_opinion_binds_where_it_was_given_and_is_told_elsewhere(markets, binds):
    given = replace(wb.usage("mint", "opinion", 0.1), market="EU")
    known = replace(
        wb.catalogue({"oil": "liquid oil", "mint": "scent"}), limits=(given,)
    )
    asked = wb.scenario(markets=markets)
    found = wb.rules_of(asked, known).get("practice/mint/max")
    assert (found is not None) is binds
    if found is not None:
        assert found.sentence == "mint at most 0.1 % (an opinion for EU, no law)"
    told = basis({"oil": 99.7, "mint": 0.3}, asked, known)
    assert bool(told.beyond) is not binds
    said = "0.3 % of mint is more than the 0.1 % by an opinion for EU, no law: told,"
    assert any(each.startswith(said) for each in notes(told, [])) is not binds
