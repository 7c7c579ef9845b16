"""What goes into the book: which lots a weighing may name, and what is left out."""

from datetime import date
from decimal import Decimal

import pytest

from optimiser.domain.material import Lot
from optimiser.domain.record import BatchMade, Book, Entry, WeighedIn
from optimiser.explaining import check
from optimiser.workshop.recording import left_unweighed, lots_problems
from tests.rules import workbench as wb

EARLIER = (
    BatchMade("A-1", date(2026, 9, 1), "Bar", "bar.toml", "leave-on"),
    WeighedIn("wax", "wax", "W1", Decimal(40)),
    WeighedIn("oil", "oil", "S1", Decimal(160)),
)
BOOK = Book(
    Entry(number, "2026-09-01T10:00:00Z", "me", fact, None if number == 1 else 1)
    for number, fact in enumerate(EARLIER, start=1)
)
SHELF = [Lot(key, lot, 1.0, None, wb.CSV) for key, lot in (("wax", "W2"), ("oil", ""))]


@pytest.mark.parametrize(
    ("ingredient", "lot", "wrong"),
    [
        ("wax", "w2", None),  # on the shelf, however it is written
        ("wax", "W1", None),  # used up, in an earlier batch
        ("wax", "S1", "is no lot of wax in stock.csv"),  # a lot of the oil
        ("wax", "", None),
        ("oil", "S9", None),  # the shelf names no lot of oil: it may be any
    ],
)
def test_a_lot_is_one_of_the_shelf_or_of_an_earlier_batch_of_it(ingredient, lot, wrong):
    weighed = WeighedIn(ingredient, ingredient, lot, Decimal(40))
    found = lots_problems(BOOK, [weighed], SHELF)
    assert [each.wrong.partition(";")[0] for each in found] == (
        [wrong] if wrong else []
    )


KNOWN = wb.catalogue({"oil": "liquid oil", "wax": "wax", "shea": "soft butter"})


# What the scenario has is half wax and half shea; nothing is told of one that has none.
@pytest.mark.parametrize(
    ("bands", "weighed", "left"),
    [
        ((("wax", 50, 50), ("liquid oil", 0, 0)), {"wax": 9, "oil": 91}, ("shea",)),
        ((("wax", 50, 50), ("liquid oil", 0, 0)), {"wax": 50, "shea": 50}, ()),
        ((("wax", 60, 60), ("liquid oil", 60, 60)), {"wax": 9, "oil": 91}, ()),
    ],
)
def test_what_was_not_weighed_is_told_where_the_formula_has_it(bands, weighed, left):
    rows = (*bands, ("soft butter", 0, 100))
    asked = wb.scenario(bands=tuple(wb.bound(*each) for each in rows))
    found = [WeighedIn(key, key, "", Decimal(grams)) for key, grams in weighed.items()]
    held = check(dict(weighed), asked, KNOWN)
    assert left_unweighed(found, held, asked, KNOWN) == left
