"""Trials: read from columns or formula files, and every slip told at once."""

import pathlib

import pytest

from optimiser.errors import InputError
from optimiser.reading import read_catalogue
from optimiser.reading.trials import read_trials

ROOT = pathlib.Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def catalogue():
    return read_catalogue(ROOT / "catalogues", None)


@pytest.fixture
def trials(tmp_path, catalogue):
    """Return a function that reads a text as a file of trials."""

    def read(text):
        file = tmp_path / "trials.csv"
        file.write_text(text, encoding="utf-8")
        return read_trials(file, catalogue)

    return read


@pytest.fixture
def told(trials):
    """Return a function that gives the problems of a text, without the file's name."""

    def problems(text):
        with pytest.raises(InputError) as caught:
            trials(text)
        return [
            (p.row, p.field, p.found, p.wrong, p.fix) for p in caught.value.problems
        ]

    return problems


def test_a_row_with_its_own_percentages_is_a_trial(trials):
    (one,) = trials(
        "trial,room,verdict,Cocoa Butter,white beeswax,note\n"
        "first,25 degC,too hard,90,10,winter\n"
    )
    assert one.name == "first"
    assert one.formula == {"cocoa_butter": 90.0, "beeswax": 10.0}
    assert (one.room, one.verdict) == (25.0, "too hard")
    assert one.made_from is None
    assert one.origin.row == 2


def test_a_row_may_name_a_formula_file_beside_it(trials, tmp_path):
    (tmp_path / "bar.csv").write_text(
        "ingredient,percent\ncocoa butter,60\nshea butter,40\n", encoding="utf-8"
    )
    first, second = trials(
        "formula,room,drop_point,penetration\n"
        "bar.csv,77 degF,34.5 degC,\n"
        "bar.csv,20 degC,,42\n"
    )
    assert (
        first.formula == second.formula == {"cocoa_butter": 60.0, "shea_butter": 40.0}
    )
    assert first.room == pytest.approx(25.0)
    assert first.drop_point == pytest.approx(34.5)
    assert second.penetration == 42.0
    assert first.name == "row 2"


def test_every_slip_of_a_file_is_told_at_once(told):
    found = told(
        "trial,room,verdict,penetration,cocoa butter\n"
        "a,25,soft,,90\n"
        "b,,right,,100\n"
        "c,20 degC,,,100\n"
        "d,20 degC,right,,\n"
        "e,300 degC,right,0,100\n"
    )
    assert found == [
        (
            2,
            "formula",
            None,
            "the row's percentages sum to 90, not to 100",
            "write percent of the finished product, all of it",
        ),
        (
            2,
            "verdict",
            "soft",
            "is not one of the words allowed here",
            "write too soft, or another of: too soft, right, too hard",
        ),
        (
            2,
            "room",
            "25",
            "is not a number, a space and a unit",
            'write the unit too, as in "25 degC"',
        ),
        (3, "room", None, "is blank", "write how warm the bar was, as in 25 degC"),
        (
            4,
            "verdict",
            None,
            "is blank, and nothing else was observed",
            "write a verdict, a drop_point or a penetration",
        ),
        (
            5,
            "formula",
            None,
            "is blank",
            "name a formula file, or give each ingredient a column of percent",
        ),
        (
            6,
            "room",
            "300 degC",
            "is no temperature of a bar",
            "write it in degC, as in 25 degC",
        ),
        (
            6,
            "penetration",
            "0",
            "is zero",
            "write tenths of a millimetre, or leave out",
        ),
    ]


def test_a_misspelt_column_is_told_with_the_nearest_names(told):
    (one,) = told("trial,room,verdict,coco butter\na,25 degC,right,100\n")
    assert one[:3] == (1, "coco butter", "coco butter")
    assert "the nearest known names are cocoa butter" in one[3]


def test_two_columns_for_one_ingredient_are_refused(told):
    (one,) = told("room,verdict,cocoa butter,cacao butter\n25 degC,right,50,50\n")
    assert one[3] == "is an ingredient that has a column already"


def test_a_formula_file_and_percentages_are_not_both_taken(told):
    (one,) = told("formula,room,verdict,beeswax\nbar.csv,25 degC,right,100\n")
    assert one[1] == "formula"
    assert one[3] == "is there, and so are percentages in the row"


def test_a_formula_file_that_is_not_there_is_told_once(told):
    found = told("formula,room,verdict\nno.csv,25 degC,right\nno.csv,20 degC,right\n")
    assert len(found) == 1


def test_a_file_without_trials_is_told(told):
    (one,) = told("trial,room,verdict,beeswax\n")
    assert one[3] == "holds no trials"
