"""A page in a terminal: tables that go on below, and curves with their values."""

import pytest

from optimiser.presenting.page import (
    Item,
    Numbered,
    Page,
    Paragraph,
    Plot,
    Section,
    Series,
    Table,
    numbers,
    words,
)
from optimiser.presenting.terminal import as_text

NAMES = ["cocoa butter", "beeswax"]
COSTS = [18.2, 7.25]


def lines_of(*blocks, columns=80):
    page = Page("Title", (), (Section("", blocks),))
    return as_text(page, columns).splitlines()[1:]


def wide_table(count):
    heads = [f"variant {n}" for n in range(1, count + 1)]
    shares = [numbers(head, COSTS, "{:.2f}".format) for head in heads]
    return Table((words("%", NAMES), *shares), lines=(1,))


def test_a_table_too_wide_goes_on_below_with_its_first_column_again():
    assert lines_of(wide_table(4), columns=40) == [
        "  %             variant 1  variant 2",
        "  cocoa butter      18.20      18.20",
        "  ------------  ---------  ---------",
        "  beeswax            7.25       7.25",
        "",
        "  %             variant 3  variant 4",
        "  cocoa butter      18.20      18.20",
        "  ------------  ---------  ---------",
        "  beeswax            7.25       7.25",
    ]
    assert len(lines_of(wide_table(4), columns=60)) == 4


@pytest.mark.parametrize("columns", [40, 60, 80, 120])
@pytest.mark.parametrize("count", [1, 4, 9])
def test_no_table_is_wider_than_the_terminal_and_none_loses_a_column(count, columns):
    text = lines_of(wide_table(count), columns=columns)
    assert max(map(len, text)) <= columns
    assert sum(line.count("18.20") for line in text) == count


CURVES = Plot(
    "It falls.",
    "°C",
    "%",
    (
        Series("model", (20.0, 30.0), (33.2, 5.6), (8.0, 8.0)),
        Series("sum", (20.0, 30.0), (36.0, None)),
    ),
    0,
)


def test_values_stand_before_the_curves_and_doubt_is_a_band():
    first, second, third, *rest = lines_of(CURVES, columns=60)
    assert first.split() == ["°C", "o", "|", "0", "36"]
    assert second.split()[:4] == ["20", "33", "+-8", "36"]
    assert third.split()[:4] == ["30", "6", "+-8", "-"]
    band = second[second.index("-8") + 2 :].split(maxsplit=1)[1]
    # The mark of the second curve is not hidden by the band of the first.
    assert band.startswith("---")
    assert "o" in band
    assert band.endswith("|")
    assert rest == ["  o model, | sum. It falls."]


def test_a_narrow_terminal_draws_the_curves_without_their_values():
    first, second, *_ = lines_of(CURVES, columns=40)
    assert first.split() == ["°C", "0", "36"]
    assert "33" not in second


def test_a_scale_begins_at_zero_unless_it_is_told_otherwise():
    curve = (Series("cost", (0.0, 10.0), (19.5, 15.5)),)
    from_zero = lines_of(Plot("", "%", "EUR", curve, 1))
    assert from_zero[0].split() == ["%", "o", "0.0", "19.5"]
    close = lines_of(Plot("", "%", "EUR", curve, 1, zero=False))
    assert close[0].split() == ["%", "o", "15.5", "19.5"]
    assert close[2].index("o") < from_zero[2].index("o")


def test_tables_are_parted_from_sentences_and_from_each_other():
    table = Table((words("", ["one"]),))
    text = lines_of(Paragraph("Said."), table, table, Item("below"))
    assert text == ["Said.", "", "  one", "", "  one", "", "  below"]


def test_a_section_without_a_title_is_parted_from_the_one_before():
    page = Page(
        "Title",
        ("about",),
        (Section("", (Paragraph("One."),)), Section("", (Item("two"),))),
    )
    assert as_text(page, 80) == "Title\nabout\nOne.\n\n  two\n"


def test_steps_have_a_box_on_paper_and_their_words_are_without_it():
    steps = Numbered(("Melt it.", "Pour it."), ticked=True)
    assert steps.texts == ("Melt it.", "Pour it.")
    assert lines_of(steps)[-2:] == ["  1 [ ] Melt it.", "  2 [ ] Pour it."]
    assert lines_of(Numbered(steps.texts))[-1] == "  2 Pour it."
