"""Without a window on firmness, wax stays as strong as in the base, and known."""

import pytest

from optimiser.domain.scenario import Exclusions
from optimiser.explaining import formulate
from optimiser.explaining.facts import apart
from tests.rules import workbench as wb


def known(**prices):
    """Return two waxes, one twice as strong, and a third that nobody has judged."""
    return wb.catalogue(
        {
            "beeswax": "wax",
            "candelilla": "wax",
            "micro": "wax",
            "sunflower": "liquid oil",
            "grapeseed": "liquid oil",
        },
        prices={"beeswax": 20.0, "candelilla": 30.0, "micro": 5.0} | prices,
        figures={
            "wax firmness": {"beeswax": 2.0, "candelilla": 4.0},
            "solid fat": {"sunflower": {25.0: 0.0}, "grapeseed": {25.0: 0.0}},
        },
    )


KNOWN = known()
CHEAP = known(candelilla=1.0, sunflower=5.0, grapeseed=9.0)
BASE = {"beeswax": 20.0, "sunflower": 80.0}
BAND = (wb.bound("wax", 10.0, 25.0),)
NO_BEESWAX = Exclusions(ingredients=("beeswax",))


def asked(**more):
    return wb.scenario(**{"aims": ("change",), "base": BASE, "bands": BAND} | more)


# 25 % at most, counted as beeswax, of a wax that firms twice as much and is cheap.
def test_of_a_wax_twice_as_strong_no_more_than_half_takes_the_place():
    found = wb.best(asked(aims=("cost",), exclude=NO_BEESWAX), CHEAP)
    assert found["candelilla"] == pytest.approx(12.5)


def test_without_a_band_there_is_a_quarter_more_of_wax_at_the_most():
    free = asked(aims=("cost",), exclude=NO_BEESWAX, bands=())
    assert wb.best(free, CHEAP)["candelilla"] == pytest.approx(12.5)


def test_half_as_much_of_a_wax_twice_as_strong_is_as_near_as_can_be():
    free = asked(aims=("category change",), exclude=NO_BEESWAX, bands=())
    found = wb.best(free, KNOWN)
    assert found["candelilla"] == pytest.approx(10.0)
    # Ten points of oil came in, and no more wax than there was, as it is counted.
    assert apart(BASE, found, KNOWN, "category") == pytest.approx(10.0)
    more = {"candelilla": 20.0, "sunflower": 80.0}
    assert apart(BASE, more, KNOWN, "category") == pytest.approx(20.0)
    assert apart(BASE, more, KNOWN, "ingredient") == pytest.approx(20.0)


def test_wax_that_nobody_has_judged_does_not_come_in_by_itself():
    answer = formulate(asked(aims=("cost",)), KNOWN)
    assert "micro" not in wb.percent(answer)
    (out,) = answer.left_out
    assert out.ingredient == "micro"
    assert "nothing is known of how hard it sets" in out.why


@pytest.mark.parametrize(
    "more",
    [
        {"pins": (wb.pin("micro", 2.0),)},
        {"limits": (wb.bound("micro", 2.0, 5.0, table="limits"),)},
        {"limits": (wb.bound("micro", table="limits"),)},  # as --with writes it
    ],
)
def test_wax_that_the_maker_names_may_be_used_unjudged(more):
    assert not formulate(asked(aims=("cost",), **more), KNOWN).left_out


def test_what_names_wax_may_be_chosen_from_does_not_ask_for_it():
    only = frozenset({"beeswax", "micro", "sunflower"})
    answer = formulate(asked(aims=("cost",), only=only), KNOWN)
    assert "micro" not in wb.percent(answer)


def test_the_cheapest_bar_keeps_the_wax_that_a_band_asks_for_by_its_strength():
    base = {"beeswax": 15.0, "micro": 5.0, "sunflower": 80.0}
    band = (wb.bound("wax", 12.0, 25.0),)
    found = wb.best(asked(aims=("cost",), base=base, bands=band), KNOWN)
    # 12 % less the 5 % of which nothing is known, which may be used but not be more.
    assert found["beeswax"] == pytest.approx(7.0)
    assert found["micro"] == pytest.approx(5.0)


def test_where_one_wax_alone_may_be_used_nothing_is_counted():
    only = ("beeswax", "sunflower")
    rules = wb.rules_of(asked(), KNOWN, only)
    assert not [each for each in rules if each.startswith("guard")]
    assert [x for x in wb.rules_of(asked(), KNOWN) if x.startswith("guard/wax counted")]


@pytest.mark.parametrize(
    "more",
    [
        {"windows": (wb.window("firmness", 30.0, at=25.0, over="lipids"),)},
        {"base": {"sunflower": 100.0}},
        {"base": {"beeswax": 20.0, "sunflower": 60.0, "grapeseed": 20.0}, "bands": ()},
    ],
)
def test_a_guard_on_wax_stands_only_where_nothing_else_holds_it(more):
    guards = {
        each for each in wb.rules_of(asked(**more), KNOWN) if each.startswith("guard")
    }
    wax = {each for each in guards if "counted as beeswax" in each}
    assert wax == (
        {"guard/wax counted as beeswax/max"} if more.get("bands") == () else set()
    )
