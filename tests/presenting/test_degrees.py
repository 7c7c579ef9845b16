"""Temperatures in °F beside those in °C, on every kind of page."""

import re

import pytest

from optimiser.presenting.degrees import fahrenheit, in_both
from optimiser.presenting.html import as_html
from optimiser.presenting.page import (
    Item,
    Number,
    Numbered,
    Page,
    Paragraph,
    Plot,
    Section,
    Table,
    TableColumn,
)
from optimiser.presenting.terminal import as_text
from optimiser.presenting.workbook import page_sheets


@pytest.mark.parametrize(
    ("told", "both"),
    [
        ("74 °C", "74 °C (165 °F)"),
        ("-5 °C at night", "-5 °C (23 °F) at night"),
        ("from 10 to 45 °C", "from 10 to 45 °C (50 to 113 °F)"),
        ("35-36 °C", "35-36 °C (95-97 °F)"),
        ("20, 25 and 30 °C", "20, 25 and 30 °C (68, 77 and 86 °F)"),
        ("45.7 °C", "45.7 °C (114 °F)"),
        ("good to 3 degrees", "good to 3 degrees (5 °F)"),
        ("firmness at 25 °C: 55 to 75", "firmness at 25 °C (77 °F): 55 to 75"),
        ("0.5 %, 30 °C", "0.5 %, 30 °C (86 °F)"),
        ('--room "25 degC"', '--room "25 degC"'),
        ("no temperature: 25 %", "no temperature: 25 %"),
    ],
)
def test_fahrenheit_stands_beside_what_is_told_in_celsius(told, both):
    assert in_both(told) == both


COLUMNS = (
    TableColumn("at, °C", (Number(20.0, "20"), "35-36", "-")),
    TableColumn("solid at 30 °C", (Number(5.0, "5"), "at 40 °C", "")),
)
PAGE = Page(
    "At 25 °C",
    ("room 20 °C",),
    (
        Section(
            "From 10 °C",
            (
                Paragraph("to 11 °C", typed='--room "12 degC"'),
                Item("to 13 °C", ("under 14 °C",)),
                Numbered(("first 15 °C",)),
                Table(COLUMNS),
                Plot("fastest at 16 °C", "°C", "%", ()),
            ),
        ),
    ),
)
SHOWN = {
    25: 77,
    20: 68,
    10: 50,
    11: 52,
    13: 55,
    14: 57,
    15: 59,
    30: 86,
    40: 104,
    16: 61,
}


@pytest.fixture
def both():
    token = fahrenheit.set(True)
    yield
    fahrenheit.reset(token)


@pytest.mark.usefixtures("both")
def test_every_part_of_a_page_is_shown_in_both():
    for told in (as_text(PAGE, 120), as_html([PAGE])):
        for celsius, other in SHOWN.items():
            assert re.search(rf"\b{celsius}( °C)? \({other} °F\)", told, re.IGNORECASE)
        assert "35-36 (95-97 °F)" in told
        assert "5 (41" not in told  # a share of solid fat is no temperature
    words = [cell for row in page_sheets([PAGE])[0].rows for cell in row]
    assert "to 11 °C (52 °F)" in " ".join(map(str, words))


def test_nobody_is_told_in_fahrenheit_who_did_not_ask_for_it():
    assert "°F" not in as_text(PAGE, 120)
