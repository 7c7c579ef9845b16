"""Pages as HTML: everything escaped, every picture told in words, nothing fetched."""

import re
from html.parser import HTMLParser

import pytest

from optimiser.presenting.html import WRITTEN, as_html, points_below
from optimiser.presenting.page import (
    Item,
    Numbered,
    Page,
    Paragraph,
    Plot,
    Section,
    Series,
    Table,
    TableColumn,
    numbers,
    words,
)

EVIL = "<script>alert(1)</script>\"'&\x1b[31m"
VOID = {"meta", "link", "input", "br"}


class Tree(HTMLParser):
    """Counts elements, and sees that each that opens is closed in its turn."""

    def __init__(self):
        super().__init__()
        self.open, self.seen, self.attributes = [], [], []

    def handle_starttag(self, tag, attrs):
        """Note an element that opens."""
        self.seen.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        """Note an element without content."""
        self.seen.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag):
        """See that the last that opened is closed."""
        assert self.open.pop() == tag


def tree_of(text):
    tree = Tree()
    tree.feed(text)
    assert tree.open == []
    return tree


def page_of(*blocks, title="Bar", about=("a.toml",)):
    return Page(title, about, (Section("Head", blocks),))


def curve(name="sum", doubt=()):
    return Series(name, (10.0, 20.0, 30.0), (4.0, None, 0.0), doubt)


@pytest.mark.parametrize(
    "page",
    [
        page_of(Paragraph(EVIL)),
        page_of(Item(EVIL, (EVIL,))),
        page_of(Numbered((EVIL,))),
        page_of(Table((words(EVIL, [EVIL]), numbers(EVIL, [1.0], lambda _: EVIL)))),
        page_of(Plot(EVIL, EVIL, EVIL, (curve(EVIL),))),
        page_of(title=EVIL, about=(EVIL,)),
        Page("Bar", (), (Section(EVIL, (Paragraph("x"),)),)),
    ],
)
def test_nothing_that_came_from_a_file_is_markup(page):
    told = as_html([page])
    assert "alert(1)" in told
    assert "script" not in tree_of(told).seen
    assert "\x1b" not in told
    assert not any("alert" in (value or "") for _, value in tree_of(told).attributes)


def test_a_column_without_a_head_has_no_empty_heading():
    """Who listens to a page is not read a heading of nothing."""
    told = as_html([page_of(Table((words("", ["a"]), numbers("g", [1.0], str))))])
    assert "<tr><td></td>" in told
    assert '<th scope="col" class="n">g</th>' in told
    assert '<th scope="col"></th>' not in told


def test_a_document_fetches_nothing_and_runs_nothing():
    told = as_html([page_of(Paragraph("x"))])
    assert told.startswith(WRITTEN + "\n")
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', told)[1]
    assert policy.startswith("default-src 'none'")
    named = {name for name, _ in tree_of(told).attributes}
    assert not named & {"src", "href", "style", "onclick"}
    assert "url(" not in told
    assert "@import" not in told


def test_a_picture_says_its_message_and_its_figures_in_words():
    doubt = (8.0, 8.0, 8.0)
    told = as_html([page_of(Plot("It softens.", "°C", "%", (curve("sum", doubt),), 1))])
    drawn = re.search(r"<svg class=\"plot\".*?</svg>", told, re.DOTALL)[0]
    title, described = re.search(r'aria-labelledby="(\w+) (\w+)"', drawn).groups()
    assert f'<title id="{title}">It softens.</title>' in drawn
    assert f'<desc id="{described}">sum (%; °C): 10: 4.0, 30: 0.0</desc>' in drawn
    assert "<figcaption>" in told


def test_curves_differ_by_more_than_colour():
    plot = Plot("x", "a", "b", tuple(curve(name) for name in "abcd"))
    dashes = re.findall(r'<polyline class="curve" stroke-dasharray="([^"]*)"',
                        as_html([page_of(plot)]))  # fmt: skip
    assert len(set(dashes)) == 4


def test_a_curve_is_broken_where_it_is_not_known():
    told = as_html([page_of(Plot("x", "a", "b", (curve(),)))])
    assert [p.count(",") for p in re.findall(r'points="([^"]*)"', told)] == [1, 1]


def test_doubt_is_a_band_within_the_picture():
    series = Series("s", (0.0, 1.0), (5.0, 5.0), (2.0, 2.0))
    told = as_html([page_of(Plot("x", "a", "b", (series,)))])
    places = re.search(r'<polygon class="doubt" points="([^"]*)"', told)[1].split()
    heights = [float(each.split(",")[1]) for each in places]
    assert len(places) == 4
    assert heights[0] < heights[-1]  # above its value, and below
    assert 0.0 <= min(heights) <= max(heights) <= 300.0


def test_a_band_may_reach_further_to_one_side_and_its_ends_are_told():
    series = Series(
        "s", (0.0, 1.0, 2.0), (5.0, 5.0, 5.0), span=((4.0, 9.0), (4.0, 9.0), None)
    )
    told = as_html([page_of(Plot("x", "a", "b", (series,)))])
    band = re.search(r'<polygon class="doubt" points="([^"]*)"', told)[1].split()
    line = re.search(r'<polyline[^>]* points="([^"]*)"', told)[1].split()
    above, middle, below = (
        float(each.split(",")[1]) for each in (band[0], line[0], band[-1])
    )
    assert len(band) == 4
    assert middle - above == pytest.approx(4 * (below - middle), abs=0.5)
    assert "s (b; a): 0: 5 (4 to 9), 1: 5 (4 to 9), 2: 5<" in told


def test_a_plot_that_does_not_begin_at_zero_uses_its_room():
    series = Series("s", (0.0, 1.0), (90.0, 95.0))
    for zero, lowest in ((True, "0"), (False, "90")):
        told = as_html([page_of(Plot("x", "a", "b", (series,), zero=zero))])
        assert re.search(r'text-anchor="end">([^<]*)<', told)[1] == lowest


@pytest.mark.parametrize("series", [(), (Series("s", (), ()),)])
def test_a_plot_without_a_value_still_says_its_message(series):
    told = as_html([page_of(Plot("Nothing is known.", "a", "b", series))])
    assert "Nothing is known." in told
    assert '<svg class="plot"' not in told


def bars_of(told):
    return [
        re.findall(r'<rect class="(\w+)"[^>]* width="([\d.]+)%"', row)
        for row in re.findall(r"<td class=\"bars\">.*?</td>", told)
    ]


def test_bars_begin_at_zero_on_one_scale_and_leave_the_total_out():
    def figures(head, values):
        return TableColumn(head, numbers(head, values, "{:.1f}".format).cells, bar=True)

    table = Table(
        (words("", ["a", "b", "total"]), figures("%", [40.0, 10.0, 50.0]),
         figures("base %", [20.0, 0.0, 20.0])),
        lines=(2,),
    )  # fmt: skip
    told = as_html([page_of(table)])
    assert bars_of(told) == [
        [("own", "100.00"), ("was", "50.00")],
        [("own", "25.00"), ("was", "0.00")],
        [],
    ]
    assert '<th scope="row">a</th><td class="n">40.0</td>' in told


def test_points_stand_below_each_other():
    assert points_below(["38.0", "0.50", "7", "", "not known"]) == [
        "38.0\u2007", "0.50", "7\u2008\u2007\u2007", "", "not known\u2008\u2007\u2007",
    ]  # fmt: skip


def test_items_that_follow_each_other_are_one_list():
    told = as_html([page_of(Item("a"), Item("b", ("c",)), Paragraph("x"), Item("d"))])
    assert tree_of(told).seen.count("ul") == 3


def test_later_pages_are_chapters_with_headings_below_the_first():
    told = as_html([page_of(Paragraph("x")), page_of(Paragraph("y"), title="Why")])
    heads = re.findall(r"<(h\d)>([^<]*)<", told)
    assert heads == [("h1", "Bar"), ("h2", "Head"), ("h2", "Why"), ("h3", "Head")]
