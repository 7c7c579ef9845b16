"""Windows whose sides are the base's own figures."""

import pytest

from optimiser.rules import build

WINDOW = '[[windows]]\nproperty = "{}"\n{}over = "{}"\n{}\n'


def window(side, what="solid fat", at='at = "30 degC"\n', over="hard butter"):
    return WINDOW.format(what, at, over, side)


@pytest.fixture
def richer(desk):
    """The desk with curves of solid fat for both butters."""
    for row in (
        "shea_butter,solid fat,30 degC,20.5,,,%,NMR,,measured,book,",
        "shea_butter,solid fat,25 degC,40,,,%,NMR,,measured,book,",
        "cocoa_butter,solid fat,25 degC,70,,,%,NMR,,measured,book,",
    ):
        desk.add("materials/properties.csv", row)
    return desk


@pytest.mark.parametrize(
    ("side", "low", "high"),
    [
        ('min = "as the base"', 35.5, None),  # (40 * 43 + 20 * 20.5) / 60
        ('max = "as the base"', None, 35.5),
        ('max = "as the base at 25 degC"', None, 60.0),
        ('min = 20\nmax = "As the base at 25 degC"', 20.0, 60.0),
    ],
)
def test_a_side_is_worked_out_from_the_base(richer, side, low, high):
    (found,) = richer.scenario_with(window(side, over="butters")).windows
    assert (found.low, found.high) == (low, high)


def test_a_figure_of_the_base_is_rounded_so_that_the_base_keeps_it(richer):
    richer.write(
        "catalogues/workshops/demo/properties.csv",
        "ingredient,property,at,value,unit,evidence\n"
        "shea_butter,solid fat,30 degC,20,%,measured\n",
    )
    sides = 'min = "as the base"\nmax = "as the base"'  # 35.33...
    (found,) = richer.scenario_with(window(sides, over="butters")).windows
    assert (found.low, found.high) == (35.3, 35.4)


def test_the_rule_says_the_number_and_that_it_is_the_bases(richer):
    text = window('min = 20\nmax = "as the base at 25 degC"\nwhy = "not harder"')
    richer.scenario_with(text)
    from optimiser.reading import read_scenario  # noqa: PLC0415

    scenario, catalogue = read_scenario(richer.folder / "bar.toml")
    chosen = ("cocoa_butter",)
    said = [x.sentence for x in build(scenario, catalogue, chosen).rules]
    low, high = [x for x in said if x.startswith("solid fat")]
    assert low.endswith("at least 20 % (not harder)")
    assert high.endswith("at most 70 % (as the base at 25 °C; not harder)")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            window('min = "as the base"', over="lipids"),
            "key windows[1].min: 'as the base' cannot be told: no solid fat is known of"
            " refined shea butter",
        ),
        (
            '[[windows]]\nproperty = "iodine value"\nmin = "as the base"',
            "or add iodine value to",
        ),
        (
            window('min = "as the base"', over="fatty alcohol"),
            "cannot be told: the base has none of the fatty alcohol",
        ),
        (window('min = "as the basin"'), "'as the basin' is not a number"),
        (window('min = "35"'), "write 35 without quotes"),
        (
            window('min = "as the base at warm"'),
            "'warm' is not a known temperature",
        ),
        (
            window('min = "as the base"\nmax = 10'),
            "has min 43 above max 10.\n  To fix: the base reads 43: write a max above",
        ),
    ],
)
def test_what_cannot_be_worked_out_is_said(desk, text, said):
    told = desk.said_with(text)
    assert said.replace("refined shea", "shea") in told
    assert told.count("To fix:") == 1


LACKING = window('min = "as the base"', over="butters")
EXCLUDED = '[exclude]\ningredients = ["shea butter"]\n'


def test_the_first_way_that_is_told_of_an_unknown_figure_works(desk):
    """What is excluded counts in the base only where its figure is known."""
    told = desk.said_with(LACKING)
    row = 'write [exclude] and, below it, ingredients = ["shea butter"]'
    assert row in told
    assert (
        'to keep it, write without = ["shea butter"] into this window (which then'
        ' holds the rest) and, below [pins], "shea butter" = ' in told
    )
    (found,) = desk.scenario_with(LACKING + EXCLUDED).windows
    assert (found.low, found.low_as) == (
        43.0,
        "as the base without shea butter at 30 °C",
    )


def test_a_window_holds_the_rest_of_what_is_left_aside(desk):
    text = window('min = "as the base"\nwithout = ["shea butter"]', over="butters")
    found = desk.scenario_with(text)
    (held,) = found.windows
    assert held.over == "butters without shea butter"
    assert (held.low, held.low_as) == (43.0, "as the base at 30 °C")
    assert "shea_butter" not in found.parts[held.over]


def test_what_a_window_leaves_aside_has_to_be_in_its_part(desk):
    told = desk.said_with(window('min = 3\nwithout = ["shea butter"]', over="wax"))
    assert "'shea butter' is not in the wax" in told


def test_a_window_of_the_same_name_leaves_aside_what_the_first_did(desk):
    aside = 'min = 3\nname = "a"\nwithout = ["shea butter"]'
    desk.scenario_with(window(aside, over="butters"))
    again = 'extends = "bar.toml"\ntitle = "x"\n'
    text = again + window('min = 4\nname = "a"', over="butters")
    found = desk.scenario(text, "x.toml")
    (held,) = found.windows
    assert (held.low, held.over) == (4.0, "butters without shea butter")


def test_what_is_excluded_counts_in_the_base_where_its_figure_is_known(richer):
    text = window('min = "as the base"', over="butters")
    (found,) = richer.scenario_with(text + EXCLUDED).windows
    assert (found.low, found.low_as) == (35.5, "as the base at 30 °C")


def test_a_base_that_lost_a_line_is_told_how_to_make_it_without(desk):
    desk.scenario()
    told = desk.said(
        'extends = "bar.toml"\ntitle = "x"\n[base]\n"shea butter" = false\n',
        "other.toml",
    )
    assert (
        'to make it without shea butter, take "shea butter" = false out of [base] and'
        ' write [exclude] and, below it, ingredients = ["shea butter"]; or add the'
    ) in told


def test_without_a_base_there_is_nothing_to_be_as(desk):
    text = 'title = "x"\nworkshop = "demo"\nuse = "leave-on"\n'
    text += window('min = "as the base"')
    said = desk.said(text, "other.toml")
    assert "key windows[1].min: 'as the base' needs a base" in said
    assert "write a [base], or a number here" in said
