"""Words, numbers, columns and rounding, in their corners."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.presenting import amounts
from optimiser.presenting.layout import Column, table, width
from optimiser.presenting.words import cents, clean, exactly, listed, money, short


@pytest.mark.parametrize(
    ("text", "cleaned"),
    [
        ("plain", "plain"),
        ("caf\u00e9 oil", "café oil"),
        ("a\tb\r\nc", "a b c"),
        ("\x1b]0;title\x07x", "]0;titlex"),
        ("a\u202eb\u200bc", "abc"),
        ("\ud800x", "x"),
        (12, "12"),
    ],
)
def test_cleaned_text_is_one_printable_line(text, cleaned):
    assert clean(text) == cleaned


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (0.0, "0"),
        (-0.0, "0"),
        (0.75, "0.75"),
        (36.49999, "36.5"),
        (1000.0, "1000"),
        (100.04, "100"),
        (-2.5, "-2.5"),
        (math.inf, "no limit"),
    ],
)
def test_a_short_number_has_at_most_four_figures(number, told):
    assert short(number) == told


def test_a_number_without_end_is_null():
    assert exactly(math.inf) is None
    assert exactly(math.nan) is None


def test_money_below_a_cent_keeps_two_figures():
    assert money(-0.000904) == "-0.0009"


def test_a_list_of_names_reads_as_a_phrase():
    assert listed([]) == ""
    assert listed(["a"]) == "a"
    assert listed(["a", "b"]) == "a and b"


@given(st.lists(st.floats(0.001, 100), min_size=1, max_size=20), st.data())
def test_rounded_amounts_add_up_and_stay_near(values, data):
    steps = data.draw(st.lists(st.sampled_from([1, 10]), min_size=20, max_size=20))
    rounded = amounts.adding_up(values, steps[: len(values)])
    assert sum(rounded) == cents(math.fsum(values))
    for value, whole in zip(values, rounded, strict=True):
        assert abs(value * 100 - whole) <= 20.01


@given(st.lists(st.integers(1, 2000), min_size=1, max_size=10))
def test_an_amount_on_a_hundredth_is_printed_as_it_is(hundredths):
    rest = 100_000 - sum(hundredths)
    values = [each / 100 for each in hundredths]
    free = [rest * 2 / 300, rest / 300]
    rounded = amounts.adding_up([*values, *free], [10] * (len(values) + 2))
    assert rounded[: len(values)] == hundredths


def test_grams_are_told_to_a_tenth_unless_they_are_few():
    assert amounts.grams([428.74, 66.27, 4.53, 0.46]) == [42874, 6627, 453, 46]
    assert amounts.grams([428.74, 66.77, 4.49, 0.5]) == [42870, 6680, 450, 50]
    assert amounts.grams([100.06, 50.01]) == [10010, 5000]  # of 150.07


CATEGORIES = ["hard butter", "soft butter", "wax", "liquid oil", "scent"]


@given(st.lists(st.floats(0.01, 60), min_size=5, max_size=5))
def test_a_shown_percent_is_the_true_one_but_for_what_the_sum_needs(values):
    values = [100 * each / math.fsum(values) for each in values]
    places = amounts.places([values], CATEGORIES)
    shown = amounts.percents(values, CATEGORIES, places)
    assert sum(shown) == 10000
    most = 5 if places == 1 else 1
    for value, each in zip(values[:-1], shown, strict=False):
        assert abs(100 * value - each) <= most + 1e-3
        assert places == 2 or each % 10 == 0
    assert abs(100 * values[-1] - shown[-1]) <= 1 + 1e-3


def test_columns_side_by_side_have_one_number_of_decimals():
    even, odd = [33.3, 66.7, 0.0], [33.34, 33.333333, 33.326667]
    kinds = ["wax", "liquid oil", "soft butter"]
    assert amounts.places([even], kinds) == 1
    assert amounts.places([even, odd], kinds) == 2
    capped = [[3.75, 96.25, 0.0]]
    assert amounts.places(capped, kinds) == 2
    assert amounts.places([[0.75, 99.0, 0.25]], ["scent", "wax", "colour"]) == 1


def test_a_width_is_kept_within_what_a_report_needs(monkeypatch):
    for columns, used in (("10", 60), ("80", 80), ("300", 120)):
        monkeypatch.setenv("COLUMNS", columns)
        assert width() == used


def test_a_table_aligns_points_and_narrows_words():
    lines = table(
        [
            Column("name", ["a long name of an oil", "wax"], number=False, least=8),
            Column("%", ["10.25", "3"]),
        ],
        22,
    )
    assert lines == [
        "  name               %",
        "  a long name    10.25",
        "   of an oil",
        "  wax             3",
    ]


def test_a_table_shortens_words_that_may_not_wrap():
    cells = Column("", ["a very long name"], number=False, least=6, wraps=False)
    assert table([cells, Column("%", ["1"])], 14)[1] == "  a very..   1"


def test_a_narrow_table_wraps_heads_and_breaks_no_word():
    cells = ["points", "of solid fat"]
    lines = table(
        [
            Column("a long head", ["1", "2"]),
            Column("", cells, number=False, least=4),
        ],
        16,
    )
    assert lines == [
        "  a long",
        "    head",
        "       1  points",
        "       2  of",
        "           solid",
        "           fat",
    ]


def test_a_table_that_cannot_narrow_further_stays_whole():
    assert table([Column("%", ["123.45"])], 4) == ["       %", "  123.45"]


def test_a_column_with_nothing_in_it_takes_no_room():
    empty = Column("", ["", ""], number=False)
    lines = table([empty, Column("%", ["1", "2"])], 40)
    assert lines == ["    %", "    1", "    2"]
