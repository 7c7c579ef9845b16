"""What stands in a recipe is read and told, or asked about: nothing vanishes."""

import pytest

from optimiser.presenting.survey.reading import questions
from optimiser.reading.recipes import read_amount, read_recipe_table
from optimiser.studies.survey.remarks import LeftOver

CUP, OUNCE = 236.588, 28.3495


def line(recipe, name):
    return next(each for each in recipe.lines if each.written.name == name)


@pytest.mark.parametrize("amount", ["1 c", "", "as needed", "3 handfuls"])
def test_a_name_not_known_and_without_a_share_that_could_be_a_main_one_asks(
    one, amount
):
    found = one([f"zorble flakes,{amount},,", "granulated sugar,300,g,"])
    assert not found.used
    assert "zorble flakes" in str(found.questions[0])


@pytest.mark.parametrize("amount", ["a few drops", "a pinch", "2 drops", "1 capsule"])
def test_a_name_not_known_of_which_there_is_a_little_does_not_ask(one, amount):
    found = one([f"zorble,{amount},,", "beeswax,30,g,", "sunflower oil,70,g,"])
    assert found.used


def test_a_point_and_three_digits_beside_decimal_commas_ask(one):
    found = one(["beeswax,1.250 g,,", 'sunflower oil,"250,0 g",,'])
    assert len(found.questions) == 1
    assert "1.250 g" in str(found.questions[0])
    assert "1250" in str(found.questions[0])


def test_a_comma_and_three_digits_beside_decimal_commas_ask(one):
    found = one(['beeswax,"1,250 g",,', 'sunflower oil,"250,5 g",,'])
    assert len(found.questions) == 1


@pytest.mark.parametrize("other", ["250.5 g", "250 g"])
def test_a_point_and_three_digits_beside_decimal_points_do_not_ask(one, other):
    assert one(["beeswax,31.250 g,,", f"sunflower oil,{other},,"]).used


def test_two_figures_parted_by_a_stroke_are_both_read():
    found = read_amount("100g / 3.5 oz", "")
    assert found.question is None
    assert [m.span.value for m in found.measures] == pytest.approx(
        [100, 3.5 * OUNCE], rel=1e-5
    )


def test_a_volume_with_two_weights_in_brackets_is_read(one):
    amount = read_amount("3/4 cup (approx. 6 oz / 170g)", "")
    assert amount.question is None
    assert amount.measure("ml").span.low == pytest.approx(0.75 * CUP, rel=1e-5)
    assert one(
        [
            "shea butter,3/4 cup (approx. 6 oz / 170g),,",
            "beeswax,30,g,",
        ]
    ).lines[0].percent.value == pytest.approx(85, abs=0.2)


def test_an_approximate_second_figure_never_widens_an_exact_first(one):
    grams = read_amount("45g (approx. 3 tbsp)", "").measure("g").span
    assert (grams.low, grams.value, grams.high) == (45, 45, 45)
    cup = read_amount("1 cup (approx. 200 g)", "").measure("ml").span
    assert cup.low == cup.high
    first = one(["shea butter,45g (approx. 3 tbsp),,", "beeswax,55,g,"]).lines[0]
    assert first.percent.low == first.percent.high == pytest.approx(45)


def test_a_first_figure_that_is_approximate_is_still_widened():
    span = read_amount("about 40 g (3 tbsp)", "").measure("g").span
    assert (span.low, span.high) == pytest.approx((36, 44))


@pytest.mark.parametrize(
    ("amount", "cups"),
    [
        ("a quarter cup", 0.25),
        ("quarter of a cup", 0.25),
        ("three quarters of a cup", 0.75),
        ("half a cup", 0.5),
        ("one third cup", 1 / 3),
        ("two thirds cup", 2 / 3),
        ("1 and a half cups", 1.5),
        ("a cup", 1.0),
        ("two cups", 2.0),
        ("three cups", 3.0),
        ("one and a quarter cups", 1.25),
    ],
)
def test_fractions_in_letters_are_read(amount, cups):
    found = read_amount(amount, "")
    assert found.question is None
    assert found.measure("ml").span.value == pytest.approx(cups * CUP, rel=1e-4)


def test_a_count_times_a_weight_is_read_and_told():
    found = read_amount("2 x 100 g", "")
    assert found.measure("g").span.value == 200
    assert "2 x 100 g read as 200 g" in found.remarks
    assert read_amount("2 x 100", "").question


def test_the_rest_to_a_hundred_is_what_the_others_leave(one):
    found = one(["beeswax,20,%,", "lavender oil,1,%,", "olive oil,q.s. to 100,,"])
    assert found.used
    oil = line(found, "olive oil")
    assert oil.percent.value == pytest.approx(79)
    assert LeftOver(pytest.approx(79), "%") in oil.remarks
    assert found.remarks == ()


@pytest.mark.parametrize("amount", ["q.s. 100", "to 100%", "qs to 100%", "balance"])
def test_the_rest_is_written_in_several_ways(one, amount):
    found = one(["beeswax,20,%,", f"olive oil,{amount},,"])
    assert line(found, "olive oil").percent.value == pytest.approx(80)


def test_a_rest_that_nothing_is_left_for_and_two_rests_ask(one):
    rest = "olive oil,q.s. to 100,,"
    assert not one(["beeswax,60,%,", "cocoa butter,45,%,", rest]).used
    assert not one(["beeswax,60,%,", "shea butter,q.s. to 100,,", rest]).used


@pytest.mark.parametrize("name", ["TOTAL", "Total weight", "total:", "Sum"])
def test_a_total_is_no_ingredient_and_is_told(one, name):
    found = one(["beeswax,20,g,", "olive oil,80,g,", f"{name},100,g,"])
    assert found.used
    assert line(found, "beeswax").percent.value == pytest.approx(20)
    assert "a total, no ingredient" in line(found, name).remarks[-1]


def test_a_total_in_the_column_of_recipes_is_no_recipe(tmp_path):
    path, problems = tmp_path / "r.csv", []
    path.write_text("recipe,ingredient,amount\nA,beeswax,20 g\nTOTAL,,20 g\n")
    found = read_recipe_table(path, problems)
    assert problems == []
    assert [each.name for each in found] == ["A"]


def test_an_optional_line_counts_and_is_told():
    found = read_amount("10 g (optional)", "")
    assert found.measure("g").span.value == 10
    assert found.remarks == ("optional; counted",)


@pytest.mark.parametrize(
    "remark", ["(half for a softer stick)", "(use 25 g for a firmer one)"]
)
def test_another_amount_for_another_product_is_told_and_not_counted(remark):
    found = read_amount(f"20 g {remark}", "")
    assert found.question is None
    assert [each.span.value for each in found.measures] == [20]
    assert found.remarks == (f"not counted: {remark.strip('()')}",)


def test_up_to_is_its_top_and_told():
    found = read_amount("up to 5 g", "")
    assert (found.measures[0].span.low, found.measures[0].span.value) == (0, 5)
    assert "'up to' read as its top, down to none" in found.remarks


def test_questions_that_one_answer_settles_are_one(surveyed):
    rows = "".join(
        f"{name},bar,zorble flakes,40,g,\n{name},bar,beeswax,60,g,\n" for name in "ABC"
    )
    found = surveyed(rows)
    told = questions(found)
    assert len(told) == 1
    assert "A, B and C" in told[0].text


def test_a_table_in_utf_16_is_read(tmp_path):
    path, problems = tmp_path / "r.csv", []
    path.write_bytes("ingredient,amount\nbeeswax,½ cup\n".encode("utf-16"))
    assert read_recipe_table(path, problems)[0].lines[0].amount == "½ cup"
    assert problems == []


def test_a_table_in_latin_1_is_read_where_its_letters_leave_no_doubt(tmp_path):
    path, problems = tmp_path / "r.csv", []
    path.write_bytes("ingredient,amount\ncrème balm,½ cup\n".encode("latin-1"))
    found = read_recipe_table(path, problems)
    assert found[0].lines[0].name == "crème balm"
    assert found[0].lines[0].amount == "½ cup"
    assert [each.wrong for each in problems] == [
        "is not UTF-8 text; read as Latin-1, which its letters fit"
    ]


@pytest.mark.parametrize("content", ["воск", "\u017b\u00f3\u0142ty"])
def test_another_encoding_is_refused_rather_than_guessed(tmp_path, content):
    path, problems = tmp_path / "r.csv", []
    code = "cp1251" if content == "воск" else "cp1250"
    path.write_bytes(f"ingredient,amount\n{content},1 g\n".encode(code))
    assert read_recipe_table(path, problems) == ()
    assert len(problems) == 1
