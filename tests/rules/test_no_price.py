"""What has no price and is asked for is told once, with every way to mend it."""

from msgspec.structs import replace

from optimiser.rules.pool import choose
from tests.rules import workbench as wb

KINDS = {f"oil {n}": "liquid oil" for n in range(1, 10)}
BASE = {"oil 1": 60.0, "oil 2": 40.0}


def told(base, aims=("cost",), *, own=True, **more):
    """What is said where nothing of a base has a price."""
    catalogue = wb.catalogue(KINDS, prices=dict.fromkeys(base))
    asked = replace(wb.scenario(aims=aims, base=base, **more), cost_asked=own)
    problems = choose(asked, catalogue).problems
    assert len(problems) == 1
    return problems[0]


def test_one_without_a_price_is_told_where_it_stands_with_three_ways():
    found = told({"oil 1": 100.0}, ("change", "cost"))
    assert (found.field, found.found) == ("base.oil 1", "oil 1")
    assert found.wrong == (
        "is asked for by the scenario, but no price is known in workshop 'demo'"
    )
    assert found.fix == (
        "add a pack to its prices.csv (ingredient,pack,unit,price,freight,currency),"
        " as in oil 1,100,g,PRICE,0,EUR; or, to do without prices, let order of [aim]"
        ' be ["change"]; or, to leave it out, write [exclude] and, below it,'
        ' ingredients = ["oil 1"]'
    )


def test_several_without_a_price_are_one_list():
    found = told(BASE, pins=(wb.pin("oil 2", 40.0),))
    assert str(found) == (
        "test.toml: the scenario asks for oil 1 and oil 2, but no price is known of"
        " them in workshop 'demo'.\n  To fix: add a pack of each to its prices.csv"
        " (ingredient,pack,unit,price,freight,currency), as in oil 1,100,g,PRICE,0,EUR;"
        ' or, to do without prices, let order of [aim] be ["change", "count"]; or, to'
        " leave them out, write [exclude] and, below it, ingredients ="
        ' ["oil 1", "oil 2"], and write "oil 2" = false below [pins].'
    )


def test_invented_prices_in_another_currency_are_named_where_a_price_is_missing():
    catalogue = replace(
        wb.catalogue(KINDS, prices={"oil 1": None}),
        currency="USD",
        uncounted=("EUR",),
    )
    (found,) = choose(wb.scenario(base={"oil 1": 100.0}), catalogue).problems
    assert found.wrong.endswith(
        "no price is known in workshop 'demo' (invented ones in EUR do not count"
        " beside USD)"
    )
    assert "as in oil 1,100,g,PRICE,0,USD;" in found.fix


def test_many_without_a_price_are_counted_and_nobody_is_told_to_leave_all_out():
    found = told(dict.fromkeys(KINDS, 100.0 / 9))
    assert "oil 6 and 3 more, but no price is known of them" in found.wrong
    assert "leave" not in found.fix


def test_a_study_that_asks_for_cost_itself_is_not_told_to_do_without():
    assert "do without" not in told(BASE, own=False).fix


def test_without_a_base_what_is_left_to_aim_at_is_how_many_there_are():
    catalogue = wb.catalogue(KINDS, prices={"oil 1": None})
    pins = (wb.pin("oil 1", 40.0),)
    asked = replace(wb.scenario(pins=pins), cost_asked=True)
    (found,) = choose(asked, catalogue).problems
    assert 'let order of [aim] be ["count"]' in found.fix


def test_where_no_workshop_is_named_that_is_what_several_lack():
    found = told(BASE, workshop="")
    assert found.wrong.endswith("but no workshop is named for their prices")
    assert found.fix.startswith('write workshop = "demo"; or')


def test_where_nothing_is_left_to_choose_from_it_is_told_what_kept_the_first_out():
    catalogue = wb.catalogue(KINDS, prices=dict.fromkeys(KINDS))
    asked = wb.scenario(bands=(wb.bound("liquid oil", 1, 100),))
    (found,) = choose(asked, catalogue).problems
    why = "no price is known in workshop 'demo'"
    assert found.wrong == (
        f"leaves no ingredient to choose from (oil 1: {why}; oil 2: {why};"
        f" oil 3: {why}; oil 4: {why})"
    )
