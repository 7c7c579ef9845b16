"""Words that people use for allergens and markets."""

import pytest


def add_peanut(desk):
    for each in ("peanut", "soy", "milk"):
        desk.add("materials/allergens.csv", f"jojoba_oil,{each},no,no,no,no,no,,,book,")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("tree nuts", "tree nut"),
        ("Tree Nut", "tree nut"),
        ("peanuts", "peanut"),
        ("groundnuts", "peanut"),
        ("monkey nuts", "peanut"),
        ("treenuts", "tree nut"),
        ("Tree-nuts", "tree nut"),
        ("soya", "soy"),
        ("soya beans", "soy"),
        ("dairy", "milk"),
    ],
)
def test_an_allergen_is_understood_in_the_words_people_use(desk, written, meant):
    add_peanut(desk)
    scenario = desk.scenario_with(f'[exclude]\nallergens = ["{written}"]')
    assert scenario.exclude.allergens == (meant,)


@pytest.mark.parametrize("written", ["nut", "nuts", "Nuts", "any nuts", "nut-free"])
def test_nuts_alone_are_refused_with_both_readings(desk, written):
    add_peanut(desk)
    said = desk.said_with(f'[exclude]\nallergens = ["{written}"]')
    assert f"'{written}' may mean tree nuts" in said
    assert "peanuts, which are a pulse" in said
    assert 'write "tree nut", or "peanut", or both' in said
    assert "nearest" not in said


@pytest.mark.parametrize(
    ("written", "readings"),
    [
        ("gluten", ("wheat, which every list names", 'write "wheat", or "oat"')),
        ("cereals", ("oats too, which the US list does not", '"oat", or both')),
        ("seeds", ("sesame, the one seed on the lists", 'write "sesame", or name')),
    ],
)
def test_other_words_of_two_meanings_are_refused_with_both(desk, written, readings):
    add_peanut(desk)
    said = " ".join(desk.said_with(f'[exclude]\nallergens = ["{written}"]').split())
    assert all(each in said for each in readings)
    assert "nearest" not in said


@pytest.mark.parametrize("written", ["walnut", "Almonds", "hazelnuts", "cashew"])
def test_one_nut_alone_is_refused_for_lists_count_all_together(desk, written):
    add_peanut(desk)
    said = " ".join(desk.said_with(f'[exclude]\nallergens = ["{written}"]').split())
    assert f"'{written}' is one tree nut" in said
    assert 'write "tree nut" for all of them' in said
    assert "peanut" not in said


@pytest.mark.parametrize("written", ["coconut", "shea", "argan"])
def test_what_some_call_a_nut_and_no_list_names_is_refused_with_the_way_to_ask(
    desk, written
):
    add_peanut(desk)
    said = " ".join(desk.said_with(f'[exclude]\nallergens = ["{written}"]').split())
    assert "is no tree nut on any list here today" in said
    assert "until January 2025" in said
    assert 'reading = "cautious"' in said


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
