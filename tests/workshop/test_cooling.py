"""How a bar is cooled, by what sets it and where it thickens."""

import pytest

from optimiser.workshop import cooling
from optimiser.workshop.cooling import FRIDGE, ways_to_cool
from tests.rules import workbench as wb

KNOWN = wb.catalogue(
    {
        "cocoa": wb.ingredient("cocoa", "hard butter", kind="cocoa-type"),
        "stearin": wb.ingredient("stearin", "hard butter", kind="stearin"),
        "shea": wb.ingredient("shea", "soft butter", kind="shea-type"),
        "wax": "wax",
        "oil": "liquid oil",
        "water": "water",
    }
)


@pytest.mark.parametrize(
    ("used", "thickens", "told"),
    [
        ({"cocoa": 100}, None, "BLOOM"),
        ({"cocoa": 10, "oil": 90}, 36.0, "BLOOM"),
        ({"cocoa": 10, "oil": 90}, 36.1, "FIRST"),
        ({"cocoa": 9.9, "oil": 90.1}, 30.0, None),
        ({"stearin": 100}, 30.0, None),
        ({"cocoa": 90, "shea": 10}, 30.0, "BOTH"),
        ({"cocoa": 90.1, "shea": 9.9}, 30.0, "BLOOM"),
        ({"cocoa": 50, "shea": 50}, 40.0, "GRAIN"),  # it cannot be seeded
        ({"shea": 10, "wax": 20, "oil": 70}, 30.0, "GRAIN"),
        ({"wax": 10, "oil": 90}, 60.0, "WAXY"),
        ({"wax": 9.9, "oil": 90.1}, 60.0, None),
        # of the lipids: half of it is water
        ({"wax": 5, "oil": 45, "water": 50}, 60.0, "WAXY"),
    ],
)
def test_what_sets_it_tells_how_it_is_cooled(used, thickens, told):
    said = (getattr(cooling, told),) if told else ()
    assert ways_to_cool(used, KNOWN, thickens) == (*said, FRIDGE)


def test_where_it_thickens_unknown_nothing_is_said_of_seeding():
    for wax, said in ((10, (cooling.WAXY,)), (9, ())):
        used = {"cocoa": 100 - wax, "wax": wax}
        assert ways_to_cool(used, KNOWN, None, known=False) == (*said, FRIDGE)


def test_what_holds_no_fat_is_not_cooled():
    assert ways_to_cool({"water": 100}, KNOWN, None) == ()
