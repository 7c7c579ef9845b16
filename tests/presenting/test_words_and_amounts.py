"""Words, numbers, columns and rounding, in their corners."""

import math
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser.domain.record import VerdictGiven
from optimiser.explaining.answer import Easing, PropertyLine
from optimiser.presenting import amounts
from optimiser.presenting.bench.facts import verdict_words
from optimiser.presenting.clash import eased_to
from optimiser.presenting.facts import properties
from optimiser.presenting.page import Table, TableColumn, words
from optimiser.presenting.studies import tradeoff as tradeoff_text
from optimiser.presenting.studies.blocks import property_name
from optimiser.presenting.terminal import width
from optimiser.presenting.words import (
    cents,
    clean,
    decimals,
    exactly,
    listed,
    money,
    short,
    tidy,
    unit_words,
)
from optimiser.studies.tradeoff import Axis, BreakPoint
from tests.presenting import shown
from tests.rules import workbench as wb


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
        (1e-12, "0"),
        (-1e-12, "0"),
        (2e-8, "0.00000002"),
        (1e15, "1000000000000000"),
        (-999.96, "-1000"),
    ],
)
def test_a_short_number_has_at_most_four_figures(number, told):
    assert short(number) == told


def test_a_number_without_end_is_null():
    assert exactly(math.inf) is None
    assert exactly(math.nan) is None


@pytest.mark.parametrize(
    ("amount", "told"),
    [
        (0.0, "0.00"),
        (-0.0, "0.00"),
        (1e-12, "0.00"),
        (-4.5e-13, "0.00"),
        (9e-7, "0.00"),
        (2e-6, "0.000002"),
        (-0.000904, "-0.0009"),
        (0.00499, "0.005"),
        (0.005, "0.01"),
        (-17.495, "-17.50"),
        (1e15, "1000000000000000.00"),
    ],
)
def test_money_below_a_cent_keeps_two_figures_and_dust_is_nothing(amount, told):
    assert money(amount) == told


@pytest.mark.parametrize(
    ("number", "places", "told"),
    [
        (0.0, 1, "0.0"),
        (-0.0, 2, "0.00"),
        (-1e-12, 0, "0"),
        (-0.04, 1, "0.0"),
        (1e15, 1, "1000000000000000.0"),
    ],
)
def test_a_number_of_fixed_decimals_is_never_minus_zero(number, places, told):
    assert decimals(number, places) == told


@pytest.mark.parametrize("value", [0.0, -0.0, 1e-12, -1e-7])
def test_what_rounding_left_is_tidied_away(value):
    assert str(tidy(value)) == "0.0"
    assert tidy(2e-6) == 2e-6


@pytest.mark.parametrize(
    ("column", "hundredths"),
    [
        ([0.0, 100.0], [0, 10000]),
        ([-0.0, 1e-12, 100.0], [0, 0, 10000]),
        ([1e15, 1e-12], [10**17, 0]),
    ],
)
def test_columns_of_extreme_amounts_have_no_dust(column, hundredths):
    kinds = ["wax"] * len(column)
    assert amounts.percents(column, kinds) == hundredths
    assert amounts.grams(column) == hundredths
    assert amounts.as_text(hundredths[0], sign=True) in {"0.0", f"+{10**15}.0"}


@pytest.mark.parametrize("unit", ["", "1"])
def test_a_unit_that_says_nothing_is_not_printed(unit):
    line = PropertyLine("feel", 30.0, "product", 55.0, 55.0, 55.0, unit)
    text = shown.told(properties([line]), 80)
    assert text.splitlines()[1].split() == ["feel", "at", "30", "°C", "55", "55", "55"]
    assert all(each == each.rstrip() for each in text.splitlines())
    assert property_name(line) == "feel at 30 °C"
    assert unit_words(unit) == unit_words(unit, ", ") == ""
    assert unit_words("EUR/kg") == " EUR/kg"


@pytest.mark.parametrize("unit", ["", "1", "N"])
def test_where_the_bargain_turns_is_told_with_and_without_a_unit(unit):
    across = Axis("firmness", unit, 25.0, "lipids", True)
    up = Axis("feel", unit, None, "lipids")
    points = tuple(
        BreakPoint(name, number, 60.0 - 2.0 * number, None, None)
        for name, number in (("A", 10.0), ("B", 20.0), ("C", 25.0))
    )
    told = tradeoff_text._turn(
        SimpleNamespace(points=points, elbow="B", across=across, up=up)
    )
    size = unit_words(unit)
    one = "N" if size else "unit of firmness at 25 °C"
    assert told == (
        f"The bargain turns at B (firmness at 25 °C 20{size}): up to there each {one}"
        f" is worth 2{size} on average, after it 2{size}."
    )


def test_a_limit_is_eased_to_a_number_without_an_empty_unit():
    rule = wb.rules_of(
        wb.scenario(limits=(wb.bound("a", None, 5.0, table="limits"),)),
        wb.catalogue({"a": "wax", "b": "wax"}),
    )["limit/a/max"]
    for unit, told in (("%", "7.5 %"), ("1", "7.5"), ("", "7.5")):
        assert eased_to(Easing(replace(rule, unit=unit), 7.5)) == told


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
    for columns, used in (("10", 40), ("80", 80), ("300", 120)):
        monkeypatch.setenv("COLUMNS", columns)
        assert width() == used


def lines(columns, width):
    return shown.told([Table(tuple(columns))], width).splitlines()


def test_a_table_aligns_points_and_narrows_words():
    names = words("name", ["a long name of an oil", "wax"], least=8)
    assert lines([names, TableColumn("%", ("10.25", "3"))], 22) == [
        "  name               %",
        "  a long name    10.25",
        "   of an oil",
        "  wax             3",
    ]


# A drop point is a temperature itself; no room is told of it.
@pytest.mark.parametrize(
    ("given", "told"),
    [
        (VerdictGiven(drop_point=33.5), "bar: drops at 33.5 °C"),
        (VerdictGiven("7", 18.0, "right"), "unit 7: right at 18 °C"),
        (
            VerdictGiven(room=25.0, penetration=70.0, note="soft"),
            "bar: penetration 70 (0.1 mm) at 25 °C (soft)",
        ),
    ],
)
def test_a_verdict_is_told_with_the_room_it_was_given_in(given, told):
    assert verdict_words(given) == told


def test_a_table_shortens_words_that_may_not_wrap():
    cells = words("", ["a very long name"], least=6, wraps=False)
    assert lines([cells, TableColumn("%", ("1",))], 14)[1] == "  a very..   1"


def test_a_narrow_table_wraps_heads_and_breaks_no_word():
    cells = words("", ["points", "of solid fat"], least=4)
    assert lines([TableColumn("a long head", ("1", "2")), cells], 16) == [
        "  a long",
        "    head",
        "       1  points",
        "       2  of",
        "           solid",
        "           fat",
    ]


def test_a_table_that_cannot_narrow_further_stays_whole():
    assert lines([TableColumn("%", ("123.45",))], 4) == ["       %", "  123.45"]


def test_a_column_with_nothing_in_it_takes_no_room():
    empty = words("", ["", ""])
    found = lines([empty, TableColumn("%", ("1", "2"))], 40)
    assert found == ["    %", "    1", "    2"]
