"""What goes into the book: which lots a weighing may name."""

from datetime import date
from decimal import Decimal

import pytest

from optimiser.domain.material import Lot
from optimiser.domain.record import BatchMade, Book, Entry, WeighedIn
from optimiser.workshop.recording import lots_problems
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
