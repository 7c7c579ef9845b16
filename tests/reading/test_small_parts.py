"""Small parts of the reading: advice on numbers, dates, units, and shipped folders."""

import pytest

import optimiser
from optimiser.reading import shipped_folder
from optimiser.reading.cells import (
    QuantityError,
    date_advice,
    in_unit,
    number_advice,
    read_quantity,
    to_date,
    to_number,
)
from optimiser.reading.shapes import shown_value
from optimiser.reading.toml_text import parse_toml


@pytest.mark.parametrize(
    ("text", "fix"),
    [
        ("2,65", "write the decimal with a point, as in 2.65"),
        (
            "1,234",
            "write the decimal with a point, as in 1.234, or thousands without a "
            "comma, as in 1234",
        ),
        ("1.234,5", "write it with one point and no spaces, as in 1234.5"),
        ("1 234,5", "write it with one point and no spaces, as in 1234.5"),
        ("n/a", "leave it blank when the value is not known"),
        ("5-10", "write one number; the ends of a range have places of their own"),
        ("5 to 10", "write one number; the ends of a range have places of their own"),
        ("5 %", "write the number alone, as in 5"),
        ("2,5 kg", "write the number alone, as in 2.5"),
        ("some", "write a plain number, as in 2.65"),
    ],
)
def test_advice_looks_at_what_was_written(text, fix):
    assert to_number(text) is None
    assert number_advice(text) == ("is not a number", fix)


@pytest.mark.parametrize("text", ["inf", "-Infinity", "1e999", "1_000", "\u0665"])
def test_what_only_a_computer_calls_a_number_is_refused(text):
    assert to_number(text) is None
    assert number_advice(text) == (
        "is not a number that can be used",
        "write a plain number, as in 2.65",
    )


@pytest.mark.parametrize(
    ("text", "number"), [("2.65", 2.65), ("-1", -1.0), ("1e-3", 0.001), (".5", 0.5)]
)
def test_plain_numbers_are_read(text, number):
    assert to_number(text) == number


@pytest.mark.parametrize(
    ("text", "fix"),
    [
        ("2026/11/25", "write the date as 2026-11-25"),
        (
            "02.11.2026",
            "write 2026-11-02 if the day stands first, 2026-02-11 if the month does",
        ),
        ("31.02.2026", "write year-month-day, as in 2026-11-25"),
        ("2026/13/45", "write year-month-day, as in 2026-11-25"),
        ("20261125", "write year-month-day, as in 2026-11-25"),
        ("2026-W48-3", "write year-month-day, as in 2026-11-25"),
    ],
)
def test_advice_on_dates_never_guesses_which_is_the_month(text, fix):
    assert date_advice(text) == fix


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-11-25", "2026-11-25"),
        ("25.11.2026", "2026-11-25"),
        ("25/11/2026", "2026-11-25"),
        ("11/25/2026", "2026-11-25"),
        ("5-5-2026", "2026-05-05"),
        ("02.11.2026", None),
        ("31.11.2026", None),
        ("20261125", None),
        ("2026-11-31", None),
    ],
)
def test_a_date_is_read_where_only_one_number_can_be_the_month(text, day):
    found = to_date(text)
    assert (found and found.isoformat()) == day


@pytest.mark.parametrize(
    ("text", "wrong", "fix"),
    [
        (
            "2kg",
            "is not a number, a space and a unit",
            'put a space between them: "2 kg"',
        ),
        (
            "2",
            "is not a number, a space and a unit",
            'write the unit too, as in "2 kg"',
        ),
        (
            "2,5",
            "is not a number, a space and a unit",
            "write the decimal with a point, as in 2.5, and the unit after a space",
        ),
        (
            "2 2**99999999",
            "is not an amount that can be told in kg",
            'write it like "2 kg"',
        ),
        (
            "2 " + "k" * 99,
            "is not an amount that can be told in kg",
            'write it like "2 kg"',
        ),
    ],
)
def test_a_text_that_is_no_quantity_says_how_to_write_it(text, wrong, fix):
    with pytest.raises(QuantityError) as caught:
        read_quantity(text, "kg", "2 kg")
    assert (str(caught.value), caught.value.fix) == (wrong, fix)


@pytest.mark.parametrize("unit", ["°C", "degC", "C"])
def test_degrees_may_be_written_in_each_usual_way(unit):
    assert in_unit(30.0, unit, "degC") == 30.0


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (True, "true"),
        (4, "4"),
        (10**30, "a number of many digits"),
        (4.5, "4.5"),
        ({"a": 1, "b": 2}, "{ a, b }"),
        ({}, "{}"),
        ([1, 2], "[...]"),
        ([], "[]"),
        ("x" * 70, "x" * 57 + "..."),
    ],
)
def test_a_value_is_shown_as_its_file_writes_it_and_cut_short(value, shown):
    assert shown_value(value) == shown


@pytest.mark.parametrize(
    ("text", "fix"),
    [
        ("a = 1\na = 2", "write each name and each [table] once in a file"),
        ("[t]\n[t]", "write each name and each [table] once in a file"),
        ("a = { min = 4,5 }", "write the decimal with a point, as in 4.5"),
        ("a = \u201cx\u201d", 'write straight quotes, as in "cocoa butter"'),
        ('a = "x', "close the quote that this line opens"),
        ('a = "C:\\windows"', "write / instead of \\ in a path"),
        (
            "[hard butter]",
            'put a name of several words in quotes, as in "cocoa butter" = 40',
        ),
        ("a = 2 kg", "write the number alone, as in 2, or all of it in quotes"),
        ("a = leave-on", 'put text in quotes, as in use = "leave-on"'),
        ("a = [1", "write one name = value a line, with text in quotes"),
        ("= 3", "write one name = value a line, with text in quotes"),
    ],
)
def test_a_line_that_is_no_toml_is_told_with_what_would_fix_it(text, fix):
    problems = []
    assert parse_toml(text, "t.toml", problems) is None
    assert [problem.fix for problem in problems] == [fix]


def test_the_end_of_a_file_is_named_where_something_is_left_open():
    problems = []
    assert parse_toml('a = """x', "t.toml", problems) is None
    assert str(*problems).startswith("t.toml: the end of the file is not written as")


def test_a_checkout_has_its_folders_beside_the_package():
    for name in ("catalogues", "scenarios"):
        assert shipped_folder(name).is_dir()


def test_an_installed_package_has_them_inside(tmp_path, monkeypatch):
    inside = tmp_path / "optimiser" / "_data" / "catalogues"
    inside.mkdir(parents=True)
    monkeypatch.setattr(optimiser, "__file__", str(tmp_path / "optimiser/__init__.py"))
    assert shipped_folder("catalogues") == inside
    assert shipped_folder("scenarios") == tmp_path / "scenarios"
