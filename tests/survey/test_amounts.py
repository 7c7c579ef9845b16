"""Amounts as published recipes write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.reading.recipes import read_amount
from optimiser.reading.recipes.numbers import unit_of

TEASPOON, CUP, OUNCE = 4.92892, 236.588, 28.3495


def ends(amount, unit, of_unit):
    span = read_amount(amount, unit).measure(of_unit).span
    return span.low, span.value, span.high


@pytest.mark.parametrize(
    ("amount", "value"),
    [
        ("1/2", 0.5),
        ("1\u20442", 0.5),
        ("\u00bd", 0.5),
        ("2\u00bd", 2.5),
        ("3 \u00bd", 3.5),
        ("1-1/2", 1.5),
        ("1 1/4", 1.25),
        (".5", 0.5),
        ("009.00", 9.0),
        ("1,250", 1250.0),
        ("2,5", 2.5),
        ("12.", 12.0),
        ("1 + 1/2", 1.5),
    ],
)
def test_a_number_is_read_in_every_spelling(amount, value):
    assert ends(amount, "g", "g") == (value, value, value)


@pytest.mark.parametrize(
    ("amount", "low", "value", "high"),
    [
        ("17-20", 17, 18.5, 20),
        ("1 to 2", 1, 1.5, 2),
        ("0.5 - 1", 0.5, 0.75, 1),
        ("4 or 5", 4, 4.5, 5),
        ("29\u201359.5", 29, 44.25, 59.5),
        ("20-10", 10, 15, 20),
        ("1/2 - 1", 0.5, 0.75, 1),
        ("up to 10", 0, 10, 10),
        ("~1", 0.9, 1, 1.1),
        ("about 2", 1.8, 2, 2.2),
    ],
)
def test_a_range_keeps_its_ends_and_its_middle(amount, low, value, high):
    assert ends(amount, "%", "%") == pytest.approx((low, value, high))


@pytest.mark.parametrize(
    ("amount", "unit", "value"),
    [
        ("1 cup + 2 tbsp", "ml", CUP + 6 * TEASPOON),
        ("1 cup and 2 tbsp", "ml", CUP + 6 * TEASPOON),
        ("1 cup plus 2 tbsp", "ml", CUP + 6 * TEASPOON),
        ("1 lb 2 oz", "g", 18 * OUNCE),
    ],
)
def test_amounts_that_are_added_up_make_one(amount, unit, value):
    found = read_amount(amount, "")
    assert len(found.measures) == 1
    assert found.measure(unit).span.value == pytest.approx(value, rel=1e-5)


def test_a_count_times_a_number_without_unit_is_a_question():
    assert "may be several packs" in read_amount("2 x 50", "").question


def test_both_ends_of_a_range_may_carry_the_unit():
    assert ends(".5% to 1%", "", "%") == (0.5, 0.75, 1.0)
    assert ends("1 tsp to 1 tbsp", "", "ml") == pytest.approx(
        (TEASPOON, 2 * TEASPOON, 3 * TEASPOON), rel=1e-5
    )


@pytest.mark.parametrize(
    ("amount", "measures"),
    [
        ("1/4 cup (40g)", {"ml": CUP / 4, "g": 40}),
        ("45g (approx. 3 tbsp)", {"g": 45, "ml": 9 * TEASPOON}),
        ("5% | 10g", {"%": 5, "g": 10}),
        ("0.3 grams or 1/8 tsp.", {"g": 0.3, "ml": TEASPOON / 8}),
        ("103 grams or 105 ml", {"g": 103, "ml": 105}),
    ],
)
def test_several_amounts_in_one_cell_are_all_kept(amount, measures):
    found = {each.unit: each.span.value for each in read_amount(amount, "").measures}
    assert found == pytest.approx(measures, rel=1e-4)


@pytest.mark.parametrize(
    ("unit", "canonical", "size"),
    [
        ("oz.", "g", OUNCE),
        ("Ounces", "g", OUNCE),
        ("lb", "g", 453.592),
        ("T", "ml", 3 * TEASPOON),
        ("t", "ml", TEASPOON),
        ("TBSP", "ml", 3 * TEASPOON),
        ("tsp.", "ml", TEASPOON),
        ("fl oz", "ml", 6 * TEASPOON),
        ("fl. oz.", "ml", 6 * TEASPOON),
        ("Cups", "ml", CUP),
        ("Drops", "drop", 1),
        ("parts", "part", 1),
    ],
)
def test_units_are_known_in_their_usual_spellings(unit, canonical, size):
    found = unit_of(unit)
    assert found[0] == canonical
    assert found[1] == pytest.approx(size, rel=1e-5)


@pytest.mark.parametrize(
    ("amount", "unit", "of"),
    [
        ("60", "% of finished product", "product"),
        ("5", "% of base", "base"),
        ("up to 100", "% on top of base", "on top"),
        ("100-200", "g per 100 g of base", "on top"),
        ("1", "teaspoon per 3 cups of mixture", "on top"),
        ("half the total weight (8 oz batch - 4 oz sugar)", "", "product"),
        ("5", "%", "recipe"),
    ],
)
def test_an_amount_says_what_it_is_a_share_of(amount, unit, of):
    assert read_amount(amount, unit).of == of


@pytest.mark.parametrize(
    ("amount", "unit"),
    [
        ("", ""),
        ("some", ""),
        ("to smell", ""),
        ("q.s.", ""),
        ("a few drops", ""),
        ("as much as you like", ""),
        ("optional", ""),
        ("1", "capsule"),
    ],
)
def test_what_is_no_amount_is_unknown_and_never_zero(amount, unit):
    found = read_amount(amount, unit)
    assert found.measures == ()
    assert found.unknown
    assert found.sure == "unknown"


def test_one_pack_or_a_range_is_a_question():
    assert "may be one pack" in read_amount("1 - 2lb block", "").question


def test_a_lone_article_is_one():
    assert ends("about a", "teaspoon", "ml")[1] == pytest.approx(TEASPOON, rel=1e-5)


@pytest.mark.parametrize(
    ("amount", "unit", "wrong"),
    [
        ("-5", "g", "is negative"),
        ("1/0", "g", "divides by zero"),
        ("9999999", "g", "is more than 1e"),
    ],
)
def test_a_number_that_cannot_be_used_is_refused(amount, unit, wrong):
    with pytest.raises(ValueError, match=wrong):
        read_amount(amount, unit)


@pytest.mark.parametrize("comma", ["2,5", "1,250"])
def test_a_comma_in_a_number_is_told(comma):
    assert any("comma" in each for each in read_amount(comma, "g").remarks)


def test_words_that_were_passed_over_are_told():
    assert "not read: heap" in read_amount("1 heap", "g").remarks


@given(st.text(max_size=40), st.text(max_size=20))
def test_any_text_is_read_or_refused_and_never_breaks(amount, unit):
    try:
        found = read_amount(amount, unit)
    except ValueError:
        return
    for each in found.measures:
        assert 0 <= each.span.low <= each.span.value <= each.span.high


@pytest.mark.parametrize(
    ("amount", "value"),
    [
        ("3 000", 3000.0),
        ("3\u00a0000", 3000.0),
        ("3\u202f000", 3000.0),
        ("12 000.5", 12000.5),
        ("5 000,5", 5000.5),
    ],
)
def test_a_space_between_thousands_is_read_and_told(amount, value):
    assert ends(amount, "g", "g") == (value, value, value)
    told = read_amount(amount, "g").remarks
    assert any("a space between thousands" in each for each in told)


def test_no_whole_number_of_thousands_begins_with_nought():
    assert ends("0,500", "kg", "g") == (500.0, 500.0, 500.0)


@pytest.mark.parametrize(
    "amount",
    """1_0|10 20|10;20|1.5.2|1/2/3|1\u00b2|\u00b3|10+5|5 - -3|1 1|1e9|1e-3|1e400|a dozen
    |twelve|5/0.5|0.5/2|10-5/2|1.250,5|1,25,000|+5|(-5)|about -5|5-|4 +|5 ?|>5|5:3|10^2
    |5\u00b11|3'000|3 0000|10 (20)|1 cup + 2|1 tsp - 5|10 - 20 - 30|1 and 1/2|5 3/4/2
    |10 per 1 2|2 per 0|0x|e5|5 % 10 %|0 500""".replace("\n    ", "").split("|"),
)
def test_an_amount_with_something_left_over_waits_for_an_answer(amount):
    found = read_amount(amount, "g")
    assert found.measures == ()
    assert found.question


@pytest.mark.parametrize("amount", ["0", "0.0", "up to 0", "0 g (5 ml)"])
def test_none_of_it_is_asked_about(amount):
    assert "there is none of it" in read_amount(amount, "g").question


@pytest.mark.parametrize(
    ("amount", "value"),
    [("half a", 0.5), ("3/4 of a", 0.75), ("10 (melted)", 10), ("5 (approx.)", 5)],
)
def test_a_unit_is_found_behind_words_and_brackets(amount, value):
    assert ends(amount, "g", "g")[1] == value


@given(st.lists(st.sampled_from(["1", "20", "3.5", "0", ".", "-", "+", "/", " ", "e"])))
def test_what_is_taken_as_written_is_one_plain_number(parts):
    text = "".join(parts)
    try:
        found = read_amount(text, "g")
    except ValueError:
        return
    if not found.measures or found.question or found.remarks:
        return
    span = found.measures[0].span
    assert len(found.measures) == 1
    if span.low == span.high and not set(text) & set("/-"):
        assert span.value == float(text)
