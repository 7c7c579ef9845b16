"""Words that people use for allergens and markets."""

import pytest


def add_peanut(desk):
    desk.add("materials/allergens.csv", "jojoba_oil,peanut,no,no,no,no,no,,,book,")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("tree nuts", "tree nut"),
        ("Tree Nut", "tree nut"),
        ("peanuts", "peanut"),
        ("groundnuts", "peanut"),
    ],
)
def test_an_allergen_is_understood_in_the_words_people_use(desk, written, meant):
    add_peanut(desk)
    scenario = desk.scenario_with(f'[exclude]\nallergens = ["{written}"]')
    assert scenario.exclude.allergens == (meant,)


@pytest.mark.parametrize("written", ["nut", "nuts", "Nuts"])
def test_nuts_alone_are_refused_with_both_readings(desk, written):
    add_peanut(desk)
    said = desk.said_with(f'[exclude]\nallergens = ["{written}"]')
    assert f"'{written}' may mean tree nuts" in said
    assert "peanuts, which are a pulse" in said
    assert 'write "tree nut", or "peanut", or both' in said
    assert "nearest" not in said


@pytest.mark.parametrize("written", ["UK", "uk"])
def test_the_united_kingdom_is_understood_by_its_everyday_letters(desk, written):
    text = 'title = "Bar"\nextends = "bar.toml"\n'
    desk.scenario()
    scenario = desk.scenario(f'{text}market = ["{written}", "GB"]\n', "other.toml")
    assert scenario.markets == ("GB",)


def test_a_row_of_law_may_call_the_united_kingdom_so_too(desk):
    desk.table("markets/restricted.csv", "GB", "UK")
    markets = {each.market for each in desk.catalogue().substance_limits}
    assert markets == {"EU", "GB"}
