"""Words in the name of an ingredient that tell of an allergen, and false friends."""

import pytest

from optimiser.domain.spoken import allergens_in


@pytest.mark.parametrize(
    "name",
    [
        "milk of magnesia",
        "Milk of Magnesia",
        "milk thistle seed oil",
        "milk vetch root",
        "coconut milk",
        "coconut milk powder",
        "rice milk",
        "shea milk",
        "butternut squash seed oil",
        "nutmeg butter",
        "nutmeg oil",
        "buckwheat flour",
        "buck wheat hulls",
        "water chestnut flour",
        "horse chestnut extract",
        "doughnut fragrance",
        "shea butter",
        "shea nut butter",
        "cocoa butter",
        "soapnut powder",
        "tiger nut oil",
        "witch hazel",
        "eggplant extract",
        "crab apple extract",
        "oyster mushroom powder",
        "salmon pink mica",
        "dairy-free cream",
        "peanut-free oil",
        "soy free wax",
    ],
)
def test_a_false_friend_tells_of_no_allergen(name):
    assert allergens_in(name) == ()


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("goat milk powder", {"milk"}),
        ("goat's milk", {"milk"}),
        ("milk powder", {"milk"}),
        ("milk of goats", {"milk"}),
        ("goat milk, free from parabens", {"milk"}),
        ("coconut milk and goat milk", {"milk"}),
        ("almond and goat milk", {"tree nut", "milk"}),
        ("buttermilk", {"milk"}),
        ("oat milk", {"oat"}),
        ("almond milk", {"tree nut"}),
        ("milk of almonds", {"tree nut"}),
        ("cashew nut milk", {"tree nut"}),
        ("soy milk", {"soy"}),
        ("bean curd", {"soy"}),
        ("nut milk", {"tree nut", "peanut"}),
        ("mixed nut butter", {"tree nut", "peanut"}),
        ("ground nuts", {"peanut"}),
        ("wheat germ", {"wheat"}),
        ("gluten-free oats", {"oat"}),
        ("free range egg", {"egg"}),
        ("oyster shell", {"mollusc"}),
        ("crab shell", {"crustacean"}),
    ],
)
def test_a_name_tells_of_what_it_is_made_of(name, told):
    assert set(allergens_in(name)) == told
