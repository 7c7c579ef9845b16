"""Recipes of a maker's own: messy tables, questions, answers, bands, faults."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.errors import InputError
from optimiser.presenting.survey.page import survey_page
from optimiser.presenting.survey.remarks import remarks_told
from optimiser.presenting.survey.words import fault_words
from optimiser.presenting.terminal import as_text
from optimiser.reading.recipes import read_answers, read_knowledge, read_recipe_table
from optimiser.studies.survey import Asked, survey
from optimiser.studies.survey.remarks import Strength
from optimiser.studies.survey.structures import structure_of
from tests.survey.conftest import CATALOGUES

BAR = "cocoa butter,40,g,\nbeeswax,20,g,\nsunflower oil,40,g,\n".splitlines()


def bars(count, wax=20, oil="sunflower oil"):
    """Return so many bars that differ by a point of wax each."""
    return "".join(
        f"R{n},bar,cocoa butter,{40 - n},%,\nR{n},bar,beeswax,{wax + n},%,\n"
        f"R{n},bar,{oil},40,%,\n"
        for n in range(count)
    )


def read(tmp_path, text):
    path, problems = tmp_path / "r.csv", []
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_recipe_table(path, problems), problems


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_cells_may_be_parted_by_commas_semicolons_or_tabs(tmp_path, mark):
    found, problems = read(
        tmp_path, f"recipe{mark}ingredient{mark}amount\nA{mark}beeswax{mark}20 g\n"
    )
    assert problems == []
    assert (found[0].name, found[0].lines[0].amount) == ("A", "20 g")


@pytest.mark.parametrize("one", [False, True])
def test_cells_past_the_header_are_a_problem_of_one_recipe_not_of_many(tmp_path, one):
    path, problems = tmp_path / "r.csv", []
    path.write_text("recipe,ingredient,amount\nA,beeswax,20 g,or less\n")
    found = read_recipe_table(path, problems, one=one)
    assert [each.amount for each in found[0].lines] == ["20 g"]
    wrong = "the row has 4 cells, but the header has 3"
    assert [each.wrong for each in problems] == ([wrong] if one else [])


def test_usual_headings_are_known_and_a_percent_column_has_its_unit(tmp_path):
    found, _ = read(
        tmp_path, "formula_id,product class,Material,Percent\nA,bar,wax,5\n"
    )
    assert found[0].product_class == "bar"
    assert found[0].lines[0].unit == "%"


def test_a_blank_name_is_that_of_the_row_above_and_told(one, tmp_path):
    found, _ = read(
        tmp_path, "recipe,class,ingredient,amount\nA,bar,beeswax,20 g\n,,oil,80 g\n"
    )
    assert [len(each.lines) for each in found] == [2]
    assert found[0].lines[1].carried
    assert one(BAR).lines[0].remarks == ("a name of the catalogue",)


def test_a_table_without_recipe_names_is_one_recipe_named_by_its_file(tmp_path):
    found, _ = read(tmp_path, "ingredient,amount\nbeeswax,20 g\n")
    assert found[0].name == "r"


def test_a_broken_row_is_named_and_the_others_are_read(tmp_path):
    found, problems = read(
        tmp_path,
        'recipe,ingredient,amount\nA,"beeswax,20 g\n' + "A,oil,1 g\n" * 25,
    )
    assert len(found[0].lines) == 25
    assert [each.row for each in problems] == [2]
    assert "quote that does not end" in problems[0].wrong


def test_an_amount_without_ingredient_is_named(tmp_path):
    _, problems = read(tmp_path, "recipe,ingredient,amount\nA,,20 g\nA,oil,1 g\n")
    assert str(problems[0]).startswith(f"{tmp_path}/r.csv, row 2, column ingredient: ")


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        (b"", "is empty: it has no header row"),
        (b"a,b\n1,2\n", "has no column ingredient"),
        (b"PK\x03\x04", "is a spreadsheet or another packed file, not plain text"),
        (b"ingredient,amount\ncaf\xe9\xf0,1 g\n", "is not UTF-8 text"),
    ],
)
def test_a_file_that_cannot_be_read_is_named_and_stops_nothing(tmp_path, text, wrong):
    found, problems = read(tmp_path, text)
    assert found == ()
    assert wrong in problems[0].wrong


@given(st.binary(max_size=300))
def test_any_file_is_read_or_named_and_never_breaks(tmp_path_factory, content):
    read(tmp_path_factory.mktemp("any"), b"recipe,ingredient,amount\n" + content)


def test_a_refused_amount_is_a_question(one):
    found = one([*BAR, "shea butter,-5,g,"])
    assert [each.status for each in found.lines] == ["read", "read", "read", "refused"]
    assert "the amount is negative" in found.questions[0].wrong
    assert not found.used


def test_a_butter_without_amount_is_a_question_and_a_scent_is_not(one):
    asked = one([*BAR, "shea butter,some,,"])
    assert "no amount can be told" in asked.questions[0].wrong
    assert one([*BAR, "lavender oil,to smell,,"]).used


# What is asked, of which line, and what may be answered, whatever things are called.
@pytest.mark.parametrize(
    ("line", "about", "name", "may_be"),
    [
        ("shea butter,-5,g,", "amount", "shea butter", "1/4 tsp"),
        ("shea butter,some,,", "amount", "shea butter", "as written, or: leave out"),
        ("wax ANSWER (no),-5,g,", "amount", "wax ANSWER (no)", "1/4 tsp"),
        ("mystery,60,g,", "name", "mystery", "as written, or leave out"),
    ],
)
def test_a_question_is_told_of_its_line_with_what_may_be_answered(
    one, line, about, name, may_be
):
    found = next(x for x in one([*BAR, line]).questions if x.about == about)
    assert found.line == name
    assert found.may_be.endswith(may_be)


def test_percentages_far_from_a_hundred_are_a_question_until_accepted(one):
    lines = ["cocoa butter,40,%,", "beeswax,20,%,"]
    assert "adds up to 60 %" in one(lines).questions[0].wrong
    assert one(lines, "A,,as written\n").used


def test_lines_without_any_unit_are_percent_or_parts_and_it_is_told(one):
    percent = one(["cocoa butter,60,,", "beeswax,40,,"])
    assert "no line has a unit; read as percent" in percent.remarks
    parts = one(["cocoa butter,2,,", "beeswax,1,,"])
    assert "no line has a unit; read as parts" in parts.remarks
    assert parts.lines[1].percent.value == pytest.approx(100 / 3)


def test_active_matter_is_turned_into_the_material_as_supplied(one):
    lines = ["water,80,g,", "cocamidopropyl betaine,6,g active matter,"]
    found = one(lines)
    assert found.lines[1].percent.value == pytest.approx(100 * 20 / 100)
    assert Strength(30.0, divided=True) in found.lines[1].remarks
    plain = one(["water,80,g,", "cocamidopropyl betaine,20,g,"])
    assert Strength(30.0, divided=False) in plain.lines[1].remarks


def test_active_matter_of_unknown_strength_is_a_question(one):
    found = one([*BAR, "decyl glucoside,6,g active,"])
    assert "its strength is not known" in found.questions[0].wrong


def test_drops_in_a_recipe_of_parts_have_no_size(one):
    found = one(["cocoa butter,2,parts,", "beeswax,1,part,", "lavender oil,5,drops,"])
    assert found.lines[2].status == "no amount"
    assert found.used


@pytest.mark.parametrize(
    ("by", "share"), [("weight", 50.0), ("volume", 100 * 0.8 / 1.72)]
)
def test_parts_are_by_what_the_maker_answers(one, by, share):
    found = one(["beeswax,1,part,", "olive oil,1,part,"], f"A,,by {by}\n")
    assert found.lines[0].percent.value == pytest.approx(share, rel=0.01)


def test_a_percent_line_in_a_recipe_by_weight_is_of_the_product(one):
    found = one([*BAR, "vitamin E,1,%,"])
    assert found.lines[3].percent.value == pytest.approx(1.0)
    assert found.lines[3].sure == "assumed"


def test_percent_and_weight_in_one_cell_agree_with_the_recipe(one):
    found = one(["cocoa butter,60% | 120 g,,", "beeswax,40%,,"])
    assert found.lines[0].percent.value == pytest.approx(60)


def test_a_line_that_holds_amount_and_name_in_one_cell_is_read(one):
    found = one(["2 cups olive oil,,,", "100 g beeswax,,,"])
    assert [each.match.ingredient for each in found.lines] == ["olive_oil", "beeswax"]
    assert found.lines[0].percent.value == pytest.approx(81.2, abs=0.5)
    assert "read as 2 cups of olive oil" in found.lines[0].remarks


def test_a_recipe_in_percent_of_the_product_throughout_is_read_as_percent(one):
    lines = ["cocoa butter,60,% of total,", "beeswax,39,% of total,", "mica,1,%,"]
    found = one(lines)
    assert [each.percent.value for each in found.lines] == pytest.approx([60, 39, 1])


def test_drops_in_a_recipe_of_percent_of_the_product_have_no_size(one):
    lines = ["cocoa butter,60,% of total,", "beeswax,40,% of total,"]
    found = one([*lines, "lavender oil,5,drops,"])
    assert found.lines[2].status == "no amount"
    assert found.lines[0].percent.value == pytest.approx(60)


def test_a_large_unknown_line_is_a_question_and_a_small_one_is_not(one):
    large = one([*BAR, "mystery,40,g,"])
    assert large.questions[0].found == "mystery"
    assert "mystery,INGREDIENT OR CATEGORY" in str(large.questions[0].fix)
    assert one([*BAR, "mystery,1,g,"]).used


@pytest.mark.parametrize(
    ("answer", "status", "category"),
    [
        ("is shea butter", "read", "soft butter"),
        ("is liquid oil", "read", "liquid oil"),
        ("leave out", "left out", None),
        ("12 g", "read", None),
    ],
)
def test_an_answer_settles_a_line(one, answer, status, category):
    found = one([*BAR, "mystery,10,g,"], f"A,mystery,{answer}\n")
    line = found.lines[3]
    assert (line.status, line.category) == (status, category)
    if answer == "12 g":
        assert line.percent.value == pytest.approx(100 * 12 / 112)


def test_a_recipe_that_is_answered_away_is_left_out_visibly(one):
    found = one(BAR, "A,,leave out\n")
    assert found.left_out.startswith("you left it out (")


def test_an_answer_to_nothing_is_told(surveyed):
    rows = "".join(f"A,balm,{line}\n" for line in BAR)
    found = surveyed(rows, "B,,leave out\nA,honey,leave out\n")
    assert [each.found for each in found.problems] == ["B", "honey"]


@pytest.mark.parametrize(
    ("row", "wrong"),
    [
        ("A,oil,perhaps", "is no answer that is understood"),
        ("A,oil,12", "is no answer that is understood"),
        ("A,oil,is nothing at all", "names nothing of the catalogue"),
        ("A,,1/4 tsp", "is no answer about a whole recipe"),
        ("A,,leave out\nA,,as written", "is answered in row 2 already"),
    ],
)
def test_an_answer_that_is_none_is_refused(tmp_path, catalogue, row, wrong):
    path, problems = tmp_path / "answers.csv", []
    path.write_text(f"recipe,ingredient,answer\n{row}\n", encoding="utf-8")
    read_answers(path, catalogue, problems)
    assert wrong in problems[0].wrong


def test_names_are_taught_by_the_workshop_and_by_a_file(tmp_path, catalogue):
    (tmp_path / "workshops" / "mine").mkdir(parents=True)
    own = tmp_path / "workshops" / "mine" / "recipe_names.csv"
    own.write_text("written,stands_for\ngoo,cocoa butter\nslime,wax\n")
    file = tmp_path / "names.csv"
    file.write_text("written,stands_for\ngoo,beeswax\n")
    problems = []
    found = read_knowledge(tmp_path, "mine", catalogue, file, problems)
    assert problems == []
    assert found.taught["goo"].ingredient == "beeswax"
    assert found.taught["slime"].category == "wax"
    assert found.volumes  # those that came with the program


def test_a_taught_name_that_stands_for_nothing_is_refused(tmp_path, catalogue):
    file, problems = tmp_path / "names.csv", []
    file.write_text("written,stands_for\ngoo,coco buter\n")
    read_knowledge(CATALOGUES, None, catalogue, file, problems)
    assert "the nearest known name" in problems[0].wrong


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("soap,,1,,,g/ml,assumed,makers_practice,", "what"),
        ("beeswax,mashed,1,,,g/ml,assumed,makers_practice,", "form"),
        ("beeswax,,heavy,,,g/ml,assumed,makers_practice,", "value"),
        ("beeswax,,1,,,kg,assumed,makers_practice,", "unit"),
    ],
)
def test_a_volume_that_cannot_be_used_is_told(tmp_path, catalogue, row, column):
    (tmp_path / "materials").mkdir()
    header = "what,form,value,low,high,unit,evidence,source,note\n"
    (tmp_path / "materials" / "volumes.csv").write_text(header + row + "\n")
    problems = []
    read_knowledge(tmp_path, None, catalogue, None, problems)
    assert problems[0].field == column


def test_what_a_table_of_an_older_version_lacks_is_taken_from_the_shipped_one(
    tmp_path, catalogue
):
    (tmp_path / "materials").mkdir()
    rows = "what,form,value,low,high,unit,evidence,source,note\n"
    rows += "beeswax,,0.5,,,g/ml,assumed,makers_practice,\n"
    (tmp_path / "materials" / "volumes.csv").write_text(rows)
    problems = []
    found = read_knowledge(tmp_path, None, catalogue, None, problems).volumes
    shipped = read_knowledge(CATALOGUES, None, catalogue, None, problems).volumes
    assert problems == []
    assert found["beeswax", ""].density.value == 0.5
    assert found["unknown", ""].density == shipped["unknown", ""].density
    assert found["drop", ""].density == shipped["drop", ""].density
    assert ("wax", "") not in found  # the rest is as the maker's own table has it


def test_one_band_is_the_range_of_its_recipes_rounded_outward(surveyed):
    found = surveyed(bars(5), product_class="bar")
    bands = {each.category: (each.low, each.high) for each in found.structures[0].bands}
    assert bands == {"hard butter": (36, 40), "wax": (20, 24), "liquid oil": (40, 40)}


def test_bands_of_the_middle_half_are_narrower(surveyed):
    found = surveyed(bars(5), product_class="bar", middle=True)
    wax = next(b for b in found.structures[0].bands if b.category == "wax")
    assert (wax.low, wax.high) == (21, 23)


def test_an_end_that_rests_on_one_recipe_is_told_with_where_it_would_be(surveyed):
    lines = (
        bars(4)
        + "X,bar,cocoa butter,20,%,\nX,bar,beeswax,40,%,\nX,bar,olive oil,40,%,\n"
    )
    found = surveyed(lines, product_class="bar")
    wax = next(b for b in found.structures[0].bands if b.category == "wax")
    top = next(each for each in wax.influences if each.side == "max")
    assert (top.recipe, top.without) == ("X", pytest.approx(23))


def test_a_base_past_a_limit_of_practice_is_moved_to_the_nearest_that_keeps_it(
    surveyed, catalogue
):
    lines = bars(3, wax=24, oil="olive oil").replace("beeswax", "sunflower wax")
    found = surveyed(lines, product_class="bar", workshop="demo")
    wax = [
        each.percent
        for each in found.base.lines
        if catalogue.ingredients[each.ingredient].category == "wax"
    ]
    sunflower = next(x for x in found.base.lines if x.ingredient == "sunflower_wax")
    assert sunflower.percent == pytest.approx(20)  # common practice
    assert sunflower.centre == pytest.approx(24.03, abs=0.01)
    assert sum(wax) >= 24
    assert found.base.moved >= sunflower.centre - 20 - 0.01
    assert "others of their kinds" in found.base.remarks[0]
    (lowered,) = found.base.lowered
    assert (lowered.ingredient, lowered.ceiling) == ("sunflower_wax", 20)


def test_bands_that_clash_with_a_limit_are_told_and_give_no_base(surveyed):
    lines = "A,oil,peppermint oil,90,%,\nA,oil,olive oil,10,%,\n"
    lines += "B,oil,peppermint oil,92,%,\nB,oil,olive oil,8,%,\n"
    answers = "A,peppermint oil,as written\nB,peppermint oil,as written\n"
    found = surveyed(lines, answers, product_class="oil")
    assert found.base.lines == ()
    assert "band/scent/min" in {each.id for each in found.base.clash}


def test_a_grade_that_is_not_told_is_the_usual_one_in_the_base_and_said(surveyed):
    lines = "A,bar,sea salt,50,%,\nA,bar,cocoa butter,50,%,\n"
    found = surveyed(lines, product_class="bar", workshop="demo")
    shares = {x.ingredient: x.percent for x in found.base.lines}
    assert shares == pytest.approx({"sea_salt_fine": 50, "cocoa_butter": 50})
    salt = found.recipes[0].lines[0]
    assert salt.sure == "assumed"
    assert salt.match.how.endswith("not told: fine sea salt or coarse sea salt")


def test_a_class_without_a_usable_recipe_has_no_base(surveyed):
    found = surveyed("A,bar,beeswax,-1,g,\n", product_class="bar")
    assert (found.base, found.structures) == (None, ())


def test_the_same_name_in_two_files_is_two_recipes(tmp_path, catalogue, knowledge):
    written = []
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text("recipe,ingredient,amount\nX,beeswax,5 g\n")
        written += read_recipe_table(tmp_path / name, [])
    found = survey(written, catalogue, knowledge, {}, Asked())
    assert len({each.name for each in found.recipes}) == 2


@pytest.mark.parametrize(
    ("asked", "wrong"),
    [
        ({"product_class": "bat"}, "is no class of these recipes"),
        ({"zone": "V"}, "is no climate zone"),
        ({"product_class": "bar", "structure": "clay"}, "is no structure"),
    ],
)
def test_what_is_not_there_is_told_with_what_is(surveyed, asked, wrong):
    lines = bars(2) + bars(2).replace("R", "S").replace(",bar,", ",balm,")
    with pytest.raises(InputError) as refused:
        surveyed(lines, **asked)
    assert wrong in str(refused.value)
    assert " are " in refused.value.problems[0].fix


def test_a_supplier_dose_counts_for_a_preservative(surveyed):
    lines = "A,lotion,water,80,%,\nA,lotion,olive oil,14.7,%,\n"
    lines += "A,lotion,emulsifying wax,5,%,\n"
    lines += "A,lotion,phenoxyethanol with ethylhexylglycerin,0.3,%,\n"
    faults = surveyed(lines, product_class="lotion").faults
    assert [fault_words(each) for each in faults] == [
        "0.3 % of preservative; 0.5 % is usual at least"
    ]


# A little glycerin parts from the oils: what is left is read, and is in doubt, as if it
# had never been written.
def test_a_recipe_is_read_without_what_parts_from_it(one):
    lines = ["beeswax,20,g,", "olive oil,1,cup,"]
    plain, whole = one(lines), one([*lines, "glycerin,1/4,tsp,"])
    *rest, wet = whole.lines
    assert (wet.percent, wet.doubt, wet.status) == (None, None, "left out")
    for mine, theirs in zip(rest, plain.lines, strict=True):
        assert mine.percent.value == pytest.approx(theirs.percent.value)
        assert mine.doubt.low == pytest.approx(theirs.doubt.low, rel=1e-3)
        assert mine.doubt.high == pytest.approx(theirs.doubt.high, rel=1e-3)


# Wax is denser than oil: only where nobody says how parts are meant is that in doubt.
@pytest.mark.parametrize(
    ("answer", "sure"),
    [("A,,by weight\n", True), ("A,,by volume\n", False), ("", False)],
)
def test_parts_by_weight_are_in_no_doubt_where_it_is_said(one, answer, sure):
    found = one(["beeswax,1,part,", "olive oil,3,parts,"], answer)
    for line in found.lines:
        assert (line.doubt.low == line.percent.value == line.doubt.high) == sure
        assert ("assumed" in line.sure) == (not answer)
    (wax, _) = (line.percent.value for line in found.lines)
    assert (wax == pytest.approx(25.0)) == ("volume" not in answer)


# Lotions hold up to 5 % of beeswax, salves from 9 % on: between them, at 7, it begins
# to carry. Of the plant waxes less does as much, and several add up.
@pytest.mark.parametrize(
    ("waxes", "told"),
    [
        ({"beeswax": 6.5}, "little or no wax"),
        ({"beeswax": 7.0}, "beeswax"),
        ({"candelilla wax": 6.5}, "plant wax"),
        ({"beeswax": 6.0, "candelilla wax": 2.0}, "beeswax"),
        ({"wax": 8.0}, "wax of unknown kind"),
        ({}, "little or no wax"),
    ],
)
def test_a_recipe_is_carried_by_its_wax_from_seven_percent_on(
    one, catalogue, waxes, told
):
    rest = 100.0 - sum(waxes.values())
    lines = [f"{wax},{share},%," for wax, share in waxes.items()]
    found = one([*lines, f"olive oil,{rest},%,"])
    assert structure_of(found, catalogue) == (told, "without water", "without grains")


def test_one_scent_over_its_own_cap_is_told(surveyed):
    lines = (
        "A,balm,beeswax,20,%,\nA,balm,olive oil,79.5,%,\nA,balm,tea tree oil,0.5,%,\n"
    )
    faults = surveyed(lines, product_class="balm").faults
    assert [fault_words(each) for each in faults] == [
        "0.5 % of tea tree oil; 0.1 % is usual at most"
    ]


def test_a_base_with_water_and_no_preservative_says_so(surveyed):
    lines = "A,lotion,water,80,%,\nA,lotion,olive oil,15,%,\n"
    lines += "A,lotion,emulsifying wax,5,%,\n"
    remarks = surveyed(lines, product_class="lotion").base.remarks
    assert remarks_told(remarks) == (
        "it holds water and no preservative, for these recipes name none",
    )


NOT_READ = """\
A,lotion,water,79,%,
A,lotion,olive oil,15,%,
A,lotion,emulsifying wax,5,%,
A,lotion,xylobloom 500,1,%,
B,lotion,water,76,%,
B,lotion,olive oil,17,%,
B,lotion,emulsifying wax,6,%,
B,lotion,XyloBloom 500,0.5,%,
B,lotion,zorbanil,0.5,%,
"""


def test_a_name_that_was_not_read_may_be_the_preservative(surveyed):
    found = surveyed(NOT_READ, product_class="lotion")
    assert [fault_words(each) for each in found.faults] == [
        "79 % of water and no preservative among the names read; 1 name not read",
        "76 % of water and no preservative among the names read; 2 names not read",
    ]
    assert remarks_told(found.base.remarks) == (
        "it holds water and no preservative, for these recipes name none among the"
        " names read; 2 names not read",
    )


def test_a_bar_used_wet_may_be_kept_by_what_was_not_read(surveyed):
    lines = "A,shampoo bar,sodium cocoyl isethionate,60,%,\n"
    lines += "A,shampoo bar,cetyl alcohol,39,%,\nA,shampoo bar,zorbanil,1,%,\n"
    faults = surveyed(lines, product_class="shampoo bar").faults
    assert [fault_words(each) for each in faults] == [
        "used wet, and no preservative among the names read; 1 name not read"
    ]


def test_a_little_preservative_is_so_of_the_names_read(surveyed):
    lines = NOT_READ.replace("A,lotion,water,79", "A,lotion,water,78.9")
    lines += "A,lotion,phenoxyethanol,0.1,%,\n"
    faults = surveyed(lines, product_class="lotion").faults
    assert "% of preservative among the names read, 1 name not read; " in fault_words(
        next(each for each in faults if each.recipe == "A")
    )


GRADES = """\
A,conditioner bar,BTMS,30,g,
A,conditioner bar,cetyl alcohol,30,g,
A,conditioner bar,sunflower oil,15,g,
A,conditioner bar,milk powder,4,g,
A,conditioner bar,sea salt,21,g,
B,conditioner bar,BTMS,30,g,
B,conditioner bar,cetyl alcohol,49,g,
B,conditioner bar,high-oleic sunflower oil,15,g,
B,conditioner bar,sunflower oil,1,g,
B,conditioner bar,goat milk powder,5,g,
"""


def test_a_grade_that_matters_is_asked_with_what_is_taken_meanwhile(surveyed):
    found = surveyed(GRADES, product_class="conditioner bar")
    told = {each.written: each for each in found.grades}
    assert list(told) == ["BTMS", "sea salt", "sunflower oil", "milk powder"]
    assert told["BTMS"].recipes == ("A", "B")
    assert told["BTMS"].taken == "behentrimonium_methosulfate_cetearyl_25"
    assert told["sunflower oil"].others == ("sunflower_oil_high_oleic",)
    assert told["sunflower oil"].recipes == ("A",)  # 1 % of it decides nothing
    base = {each.ingredient for each in found.base.lines}
    assert told["BTMS"].taken in base
    assert not base & set(told["BTMS"].others)


def test_a_short_page_asks_for_grades_and_says_how_to_tell(surveyed, catalogue):
    found = surveyed(GRADES, product_class="conditioner bar")
    told = " ".join(as_text(survey_page(found, catalogue), 80).split())
    assert "WHICH ONE IS MEANT BTMS as behentrimonium methosulfate blend, 25 %" in told
    assert "sea salt as fine sea salt, or coarse sea salt?" in told
    taught = 'BTMS,"behentrimonium methosulfate blend, 50 %"'
    assert f"For another, a row in --aliases: {taught}" in told
