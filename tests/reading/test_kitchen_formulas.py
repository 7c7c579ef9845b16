"""Formula tables as they stand in a kitchen: spoons, cups, drops, everyday names."""

import pytest

from optimiser.errors import InputError
from optimiser.reading import read_catalogue, read_formula, shipped_folder
from optimiser.reading.formulas import formula_told


@pytest.fixture(scope="module")
def catalogue():
    return read_catalogue(shipped_folder("catalogues"), None)


@pytest.fixture
def told(tmp_path, catalogue):
    """Return a function that reads a table."""

    def read(text, header="ingredient,amount,unit"):
        path = tmp_path / "f.csv"
        path.write_text(f"{header}\n{text}", encoding="utf-8")
        return formula_told(path, catalogue)

    return read


@pytest.fixture
def said(told):
    """Return a function that gives what is asked about a table."""

    def read(text, **more):
        with pytest.raises(InputError) as caught:
            told(text, **more)
        return str(caught.value)

    return read


def test_weights_of_every_unit_are_brought_to_percent(told):
    found = told("shea,0.3,kg\ncoconut oil 76,500,g\ne-wax,100,g\nvit E,0.1,kg\n")
    assert found.percents == pytest.approx(
        {
            "shea_butter": 30.0,
            "coconut_oil": 50.0,
            "emulsifying_wax": 10.0,
            "tocopherols": 10.0,
        }
    )
    assert found.told == ()


def test_ounces_and_pounds_are_the_international_ones(told):
    found = told("shea butter,1,lb\nbeeswax,16,oz\n").percents
    assert found == pytest.approx({"shea_butter": 50.0, "beeswax": 50.0})


def test_a_spoon_is_weighed_by_what_is_known_of_it_and_that_is_told(told):
    found = told("cocoa butter,100,g\njojoba,2 1/2,tbsp\n")
    grams = 2.5 * 3 * 231 * 16.387064 / 768 * 0.865  # tbsp in ml, g/ml
    percent = 100 * grams / (100 + grams)
    assert found.percents["jojoba_oil"] == pytest.approx(percent, rel=0.02)
    assert len(found.told) == 1
    assert found.told[0].startswith("jojoba: 2 1/2 tbsp is about 32 g (")


def test_parts_weigh_alike(told):
    found = told("beeswax,1,part\nshea,1,part\nalmond oil,2,parts\n").percents
    assert found == {"beeswax": 25.0, "shea_butter": 25.0, "sweet_almond_oil": 50.0}


def test_percent_among_weights_is_of_the_finished_product_and_told(told):
    found = told("beeswax,30,g\nshea,70,g\nvitamin e,1,%\n")
    assert found.percents["tocopherols"] == 1.0
    assert found.percents["beeswax"] == pytest.approx(29.7)
    assert found.told == ("vitamin e: percent of the finished product",)


def test_percent_in_the_unit_column_is_as_written(told):
    found = told("beeswax,30,%\nshea,70,%\n")
    assert found.percents == {"beeswax": 30.0, "shea_butter": 70.0}


def test_numbers_without_any_unit_are_told_how_they_were_read(told):
    assert told("beeswax,30,\nshea,70,\n").told == (
        "no line has a unit; read as percent",
    )
    found = told("beeswax,1,\nshea,3,\n")
    assert found.percents == {"beeswax": 25.0, "shea_butter": 75.0}
    assert found.told == ("no line has a unit; read as parts",)


def test_two_names_of_one_ingredient_are_added_up_and_that_is_told(told):
    found = told("beeswax pellets,20,g\nshea,70,g\nyellow beeswax,10,g\n")
    assert found.percents == pytest.approx({"beeswax": 30.0, "shea_butter": 70.0})
    assert found.told == (
        "beeswax pellets and yellow beeswax are one ingredient here, beeswax: added up",
    )


def test_a_line_may_hold_its_amount_before_its_name(told):
    found = told("30 g of beeswax,,\nshea,70,g\n").percents
    assert found == pytest.approx({"beeswax": 30.0, "shea_butter": 70.0})


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        (
            "beeswax,30,g\nshea,some,\n",
            "row 3, column amount: 'shea some' 'some' is no",
        ),
        ("beeswax,30,g\nshea,70,\n", "has no unit, and other lines have one"),
        ("beeswax,1,part\nshea,70,g\n", "nothing tells what one weighs"),
        ("beeswax,30,g\nvitamin e,100,%\n", "leaves nothing for the lines by weight"),
        ("beeswax,30,g\ncoco butter,70,g\n", "row 3, column ingredient: 'coco butter'"),
        (
            "beeswax,30,g\nshea or cocoa butter,70,g\n",
            "may be refined shea butter or cocoa butter",
        ),
        (
            "beeswax,30,g\nessential oil,1,g\n",
            "tells only that it is of the category scent",
        ),
        ("beeswax,30,g\nshea,-3,g\n", "the amount is negative"),
        ("beeswax,30,g\nbeeswax,3,g\n", "'beeswax' is there twice"),
        ("beeswax,30,g\ncalendula infused oil,3,g\n", "an oil that it does not tell"),
    ],
)
def test_what_is_not_certain_is_asked_with_its_row(said, text, asked):
    assert asked in said(text)


def test_a_table_of_several_recipes_is_no_formula(said):
    text = "one,beeswax,30,g\ntwo,shea,70,g\n"
    header = "recipe,ingredient,amount,unit"
    assert "holds several recipes" in said(text, header=header)


def test_everyday_names_stand_in_tables_of_percent_too(tmp_path, catalogue):
    path = tmp_path / "f.csv"
    path.write_text("ingredient,percent\nvit E,1\norganic shea butter,99\n")
    assert read_formula(path, catalogue) == {"tocopherols": 1.0, "shea_butter": 99.0}


def test_drops_among_parts_are_one_question_at_the_line_that_is_no_part(told):
    with pytest.raises(InputError) as caught:
        told("beeswax,1,part\nshea,2,parts\nlavender oil,5,drops\n")
    (problem,) = caught.value.problems
    assert (problem.row, problem.field) == (4, "amount")
    assert "stands beside parts (beeswax)" in problem.wrong
    assert "grams for all" in problem.fix


def spooned(told, name, amount, unit):
    """Return grams beside 100 g of beeswax, and what was told of the spoon."""
    found = told(f"beeswax,100,g\n{name},{amount},{unit}\n")
    (percent,) = [p for key, p in found.percents.items() if key != "beeswax"]
    return 100.0 * percent / (100.0 - percent), " ".join(found.notes)


@pytest.mark.parametrize(
    ("amount", "unit", "times", "word"),
    [
        ("1 heaped", "tbsp", 1.75, "heaped is taken as 1.5 to 2 times a level one"),
        ("1", "heaping tbsp", 1.75, "heaped is taken as 1.5 to 2 times a level one"),
        ("1 scant", "tbsp", 0.925, "scant is taken as 0.85 to 1 times a level one"),
        ("1 rounded", "tbsp", 1.35, "rounded is taken as 1.2 to 1.5 times a level one"),
        ("1", "rounded tbsp", 1.35, "rounded is taken as 1.2 to 1.5 times a level one"),
        ("1 generous", "tbsp", 1.1, "generous is taken as 1 to 1.2 times a level one"),
        ("1 big", "tbsp", 1.1, "generous is taken as 1 to 1.2 times a level one"),
        ("1 mounded", "tbsp", 1.75, "heaped is taken as 1.5 to 2 times a level one"),
        ("1 level", "tbsp", 1.0, ""),
        ("1 levelled", "tbsp", 1.0, ""),
    ],
)
def test_how_full_a_spoon_is_counts_and_is_told(told, amount, unit, times, word):
    plain, unsaid = spooned(told, "sugar", "1", "tbsp")
    grams, said = spooned(told, "sugar", amount, unit)
    assert grams == pytest.approx(times * plain)
    assert word in said
    assert "is taken as" not in unsaid
    assert "not read" not in said


@pytest.mark.parametrize("name", ["castor oil", "lavender oil", "melted coconut oil"])
def test_what_pours_cannot_be_heaped(told, name):
    grams, said = spooned(told, name, "1 heaped", "tsp")
    assert grams == pytest.approx(spooned(told, name, "1", "tsp")[0])
    assert "; heaped is taken as level" in said
    assert spooned(told, name, "1 rounded", "tsp")[0] == pytest.approx(grams)
    assert spooned(told, name, "1 generous", "tsp")[0] == pytest.approx(1.1 * grams)


def test_heaped_says_nothing_of_a_weight(told):
    grams, said = spooned(told, "sugar", "20 heaped", "g")
    assert grams == pytest.approx(20.0)
    assert "not read: heaped" in said
