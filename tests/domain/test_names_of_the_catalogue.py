"""What a name stands for: a key, a name, an alias, or an INCI name of one alone."""

import pytest
from msgspec.structs import replace

from tests.rules import workbench as wb

ROWS = [
    wb.ingredient("shea_butter", "soft butter", aliases=("karite",)),
    replace(wb.ingredient("olive_oil"), inci="Olea Europaea Fruit Oil"),
    replace(wb.ingredient("cocoa_butter"), inci="Theobroma Cacao Seed Butter"),
    replace(wb.ingredient("cocoa_wafers"), inci="THEOBROMA CACAO SEED BUTTER"),
    # named as another's label has it: its name comes before
    replace(wb.ingredient("cera_alba", "wax"), inci="Cera Alba"),
    replace(wb.ingredient("beeswax", "wax"), inci="Cera Flava"),
    replace(wb.ingredient("yellow_wax", "wax"), name="Cera Flava", inci="Cera Citrina"),
]
KNOWN = wb.catalogue({each.key: each for each in ROWS})


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("olive_oil", "olive_oil"),
        ("Olive  Oil", "olive_oil"),
        ("Karite", "shea_butter"),
        ("olea europaea FRUIT oil", "olive_oil"),
        ("Theobroma Cacao Seed Butter", None),  # of two
        ("Cera Alba", "cera_alba"),
        ("cera flava", "yellow_wax"),
        ("Cera Citrina", "yellow_wax"),
        ("olive", None),
    ],
)
def test_a_name_stands_for_what_alone_is_called_so(name, key):
    assert KNOWN.exact(name) == key
    assert KNOWN.find(name) == key
