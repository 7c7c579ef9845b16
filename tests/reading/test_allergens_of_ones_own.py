"""What a maker's own allergens.csv calls an allergen: read, asked, or a new one."""

import pytest

from optimiser import InputError

HEAD = "ingredient,allergen,EU,GB\n"
TABLE = "catalogues/workshops/demo/allergens.csv"


@pytest.fixture
def rows(desk):
    """Return a function that reads a row of a workshop's allergens.csv."""

    def read(allergen):
        desk.write(TABLE, f"{HEAD}beeswax,{allergen},yes,yes\n")
        return desk.catalogue("demo").allergens

    return read


@pytest.mark.parametrize(
    ("written", "read"),
    [("peanuts", "peanut"), ("Soya", "soy"), ("celery", "celery"), ("kiwi", "kiwi")],
)
def test_an_allergen_is_read_as_people_call_it(rows, written, read):
    assert rows(written)[read]["beeswax"].listed["EU"] is True


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("penut", "is near peanut, and no known name of it.\n  To fix: write peanut;"),
        ("nuts", "may mean tree nuts (almond, hazelnut, walnut, ...) or peanuts"),
        ("hazelnuts", "is one tree nut, and allergen lists count all tree nuts"),
    ],
)
def test_an_allergen_that_nobody_would_ask_about_by_that_name_is_refused(
    rows, written, said
):
    with pytest.raises(InputError) as told:
        rows(written)
    assert f"{TABLE}, row 2, column allergen: '{written}' {said}" in str(told.value)
