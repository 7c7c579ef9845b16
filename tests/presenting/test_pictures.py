"""Bands and price curves drawn: on a page, in a terminal, as a sheet."""

import io
import re
import zipfile

import pytest
from python_calamine import CalamineWorkbook

from optimiser import explaining
from optimiser.explaining import why
from optimiser.presenting.html import as_html
from optimiser.presenting.page import (
    BandLine,
    Bands,
    Item,
    Number,
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
from optimiser.presenting.pictures import formula_pictures, price_pictures
from optimiser.presenting.terminal import as_text
from optimiser.presenting.workbook import as_xlsx, page_sheets
from tests.shipped import read_scenario

EVIL = "<b>&\x1b[31m"
BANDS = Bands(
    "Wax is at its end.",
    "%",
    (
        BandLine("hard butter", 20.0, 40.0, 30.0, (25.0, 35.0)),
        BandLine("wax", None, 10.0, 10.0),
        BandLine("oil", 50.0, None),
    ),
    "this formula",
    "recipes",
)


def page_of(*blocks, title="Bands"):
    return Page("Bar", ("a.toml",), (Section(title, blocks),))


def test_bands_are_drawn_on_one_scale_from_zero():
    told = as_html([page_of(BANDS)])
    boxes = [
        tuple(map(float, found))
        for found in re.findall(
            r'<rect class="band" x="([\d.]+)" y="[\d.]+" width="([\d.]+)" height="16"',
            told,
        )
    ]
    (first, wide), (least, ten), (fifty, rest) = boxes
    per_point = wide / 20.0
    assert first - least == pytest.approx(20 * per_point, abs=0.2)
    assert ten == pytest.approx(10 * per_point, abs=0.2)
    # What has no upper end goes to the end of the scale, as wide as there is room.
    assert fifty + rest == pytest.approx(628.0, abs=0.2)
    assert rest > 5 * per_point
    rings = re.findall(r"<circle class=\"ring\" cx=\"[\d.]+\"", told)
    assert len(rings) == 3  # one of them in the key


def test_bands_are_told_in_words_to_who_cannot_see_them():
    told = as_html([page_of(BANDS)])
    (picture,) = re.findall(r"<title id=\"plot\d+\">(.*?)</title>", told)
    assert picture == "Wax is at its end."
    (desc,) = re.findall(r"<desc[^>]*>(.*?)</desc>", told)
    assert "hard butter (%): 20 to 40, this formula 30, recipes 25, 35." in desc
    assert "wax (%): at most 10, this formula 10." in desc
    assert desc.endswith("oil (%): at least 50")


def test_nothing_that_came_from_a_file_is_markup_in_bands():
    told = as_html(
        [page_of(Bands(EVIL, EVIL, (BandLine(EVIL, 1.0, 2.0),), EVIL, EVIL))]
    )
    assert "<b>" not in told
    assert "\x1b" not in told


def test_bands_without_a_figure_still_say_their_message():
    told = as_html([page_of(Bands("Nothing yet.", "%", (), "this"))])
    assert "<p>Nothing yet.</p>" in told


@pytest.mark.parametrize("columns", [40, 60, 80, 120])
def test_bands_fit_a_terminal_and_stand_where_they_are(columns):
    lines = as_text(page_of(BANDS), columns).splitlines()
    assert max(map(len, lines)) <= columns
    (butter,) = [line for line in lines if "hard butter" in line]
    drawn = butter[butter.index("butter") + 8 :]
    assert drawn.index("o") == pytest.approx(drawn.rindex("-") * 30 / 40, abs=1.5)
    assert drawn.count(".") == 2
    assert "o this formula, . recipes" in " ".join(lines)


def test_a_single_point_of_a_plot_is_seen():
    curve = Series("cost", (0.0, 10.0), (1.0, 3.0))
    here = Series("where the limit stands", (5.0,), (2.0,))
    told = as_html([page_of(Plot("A rule", "%", "EUR", (curve, here), zero=False))])
    assert told.count("<circle") == 2  # on the curve, and in its key
    assert told.count("<polyline") == 1


@pytest.fixture(scope="module")
def bar():
    return read_scenario("scenarios/massage_bar.toml")


def test_a_formula_stands_in_its_bands_and_its_money_adds_up(bar):
    answer = explaining.formulate(*bar)
    bands, money = formula_pictures(answer).sections
    (figure,) = bands.blocks
    totals = {}
    for line in answer.formula:
        was = totals.get(line.category, 0.0)
        totals[line.category] = was + line.percent
    assert len(figure.spans) > 4
    for each in figure.spans:
        assert each.value == pytest.approx(totals.get(each.name, 0.0), abs=1e-6)
        assert (each.low or 0.0) - 1e-6 <= each.value <= (each.high or 100.0) + 1e-6
    (table,) = money.blocks
    costs, shares = table.columns[1].cells, table.columns[2].cells
    assert sum(x.value for x in costs) == pytest.approx(answer.cost_per_kg, abs=1e-6)
    assert sum(int(x.text) for x in shares) == 100
    assert [x.value for x in costs] == sorted((x.value for x in costs), reverse=True)


def test_price_curves_pass_through_where_their_limits_stand(bar):
    reasons = why.why(*bar)
    (section,) = price_pictures(reasons).sections
    assert len(section.blocks) > 3
    for plot in section.blocks:
        curve, here = plot.series
        at = curve.at.index(here.at[0])
        assert curve.values[at] == here.values[0]
        assert curve.at == tuple(sorted(curve.at))


def test_a_page_is_a_spreadsheet_of_its_words_and_tables():
    table = Table(
        (words("", ["wax", "oil"]), numbers("g", [4.5, None], "{:.1f}".format))
    )
    page = Page(
        "A bar",
        ("a.toml", "leave-on"),
        (
            Section("", (Paragraph("It melts."), Item("one", ("two",)))),
            Section("Weights", (table, Numbered(("first",)))),
            Section("Weights", (table,)),
            Section("=Bands/of?it", (BANDS,)),
            Section("Curve", (Plot("Up", "at", "to", (Series("x", (1.0,), (2.0,)),)),)),
        ),
    )
    book = CalamineWorkbook.from_filelike(io.BytesIO(as_xlsx(page_sheets([page]))))
    names = ["report", "Weights", "Weights 2", "=Bands of it", "Curve"]
    assert book.sheet_names == names
    told = [row[0] for row in book.get_sheet_by_index(0).to_python()]
    said = {"A bar", "a.toml; leave-on", "It melts.", "- one", "    two", "1. first"}
    assert said | {"Weights", "Wax is at its end.", "Up"} <= set(told)
    assert book.get_sheet_by_index(1).to_python() == [
        ["", "g"],
        ["wax", 4.5],
        ["oil", ""],
    ]
    head, first, *_ = book.get_sheet_by_name("=Bands of it").to_python()
    assert head[1:4] == ["least, %", "most, %", "this formula, %"]
    assert first == ["hard butter", 20.0, 40.0, 30.0, "25.0, 35.0"]
    assert book.get_sheet_by_name("Curve").to_python() == [["at", "x, to"], [1.0, 2.0]]


# ECMA-376, part 1, 18.3.1.66: ySplit rows and xSplit columns stay where they are.
def test_of_a_sheet_its_head_alone_stays_in_sight():
    table = Table((words("name", ["wax"]), words("why", ["firm"])))
    made = as_xlsx(page_sheets([Page("A bar", (), (Section("Weights", (table,)),))]))
    with zipfile.ZipFile(io.BytesIO(made)) as packed:
        sheet = packed.read("xl/worksheets/sheet2.xml").decode()
    (pane,) = re.findall("<pane [^>]*>", sheet)
    assert 'ySplit="1"' in pane
    assert "xSplit" not in pane


def test_numbers_of_a_page_keep_their_digits_in_a_spreadsheet():
    shown = Number(40.25, "40.3")
    page = page_of(
        Table((words("", ["a"]), numbers("%", [40.25], lambda _: shown.text)))
    )
    book = CalamineWorkbook.from_filelike(io.BytesIO(as_xlsx(page_sheets([page]))))
    assert book.get_sheet_by_index(1).to_python()[1] == ["a", 40.25]
