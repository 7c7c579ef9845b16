"""Scenarios that extend others: what is overridden, merged, appended, taken out."""

import pytest

from optimiser.domain.material import Origin

PARENT = """\
title = "Massage bar"
use = "leave-on"
workshop = "demo"
market = ["EU", "GB"]
[aim]
order = ["cost"]
[base]
"cocoa butter" = 60
"beeswax" = 40
[bands]
"hard butter" = { min = 40, max = 55, why = "firm" }
[limits]
"beeswax" = { max = 7 }
"jojoba oil" = { max = 20 }
[closeness]
by_ingredient = 20
[[windows]]
name = "warm"
property = "density"
min = 900
[[ratios]]
first = ["beeswax"]
second = ["jojoba oil"]
max = 2
"""


@pytest.fixture
def child(desk):
    """How to read a scenario that extends the parent."""
    desk.write("massage.toml", PARENT)
    return lambda text: desk.scenario(f'extends = "massage.toml"\n{text}\n')


@pytest.fixture
def child_said(desk):
    """What the problems of a scenario that extends the parent say."""
    desk.write("massage.toml", PARENT)
    return lambda text: desk.said(f'extends = "massage.toml"\n{text}\n')


def test_keys_override_and_plain_lists_are_not_appended(child):
    scenario = child('title = "Winter bar"\nmarket = ["GB"]')
    assert (scenario.title, scenario.use) == ("Winter bar", "leave-on")
    assert scenario.markets == ("GB",)


def test_an_inherited_entry_carries_the_name_of_its_file(child, desk):
    scenario = child('[limits]\n"beeswax" = { max = 3 }')
    origins = {limit.what: limit.origin for limit in scenario.limits}
    assert origins == {
        "beeswax": Origin(str(desk.folder / "bar.toml"), field="limits.beeswax"),
        "jojoba_oil": Origin("massage.toml", field="limits.jojoba oil"),
    }
    assert scenario.origins["use"] == Origin("massage.toml", field="use")


def test_a_reason_goes_with_the_limits_it_was_written_for(child):
    (band,) = child('[bands]\n"hard butter" = { min = 45, max = 60 }').bands
    assert (band.low, band.why) == (45, None)
    (band,) = child('[bands]\n"hard butter" = { min = 45, why = "firmer" }').bands
    assert band.why == "firmer"


def test_tables_merge_key_by_key(child):
    (band,) = child('[bands]\n"hard butter" = { max = 50, of = "lipids" }').bands
    assert (band.low, band.high, band.of, band.why) == (40, 50, "lipids", "firm")


def test_another_spelling_meets_the_same_ingredient(child):
    scenario = child('[base]\n"cacao butter" = 70\n"Cera alba" = 30')
    assert scenario.base == {"cocoa_butter": 70, "beeswax": 30}


@pytest.mark.parametrize("name", ["beeswax", "white wax", "Cera Alba"])
def test_false_takes_an_inherited_entry_out_by_any_of_its_names(child, name):
    assert [b.what for b in child(f'[limits]\n"{name}" = false').limits] == [
        "jojoba_oil"
    ]


def test_false_takes_one_side_out(child):
    (band,) = child('[bands]\n"hard butter" = { min = false }').bands
    assert (band.low, band.high) == (None, 55)


@pytest.mark.parametrize(
    ("key", "left"),
    [("bands", "bands"), ("windows", "windows"), ("closeness", "closeness")],
)
def test_false_takes_a_whole_table_or_list_out(child, key, left):
    assert getattr(child(f"{key} = false"), left) == ()


def test_false_with_nothing_to_take_out_is_told(child_said):
    assert child_said('[limits]\n"shea butter" = false') == (
        "bar.toml, key limits.shea butter: 'shea butter = false' takes nothing out.\n"
        "  To fix: write the name as the extended file does, or take the line out."
    )


def test_lists_of_tables_append_and_are_counted_by_file(child, desk):
    windows = child('[[windows]]\nproperty = "density"\nmax = 990').windows
    assert [(w.low, w.high, w.origin) for w in windows] == [
        (900, None, Origin("massage.toml", field="windows[1]")),
        (None, 990, Origin(str(desk.folder / "bar.toml"), field="windows[1]")),
    ]


def test_a_window_of_the_same_name_replaces_the_inherited_one(child, desk):
    (window,) = child(
        '[[windows]]\nname = "warm"\nproperty = "density"\nmin = 950'
    ).windows
    assert window.low == 950
    assert window.origin == Origin(str(desk.folder / "bar.toml"), field="windows[1]")


def test_an_inherited_guard_may_be_set_to_false_and_back(desk):
    desk.write("massage.toml", PARENT + "[guard]\nlauric = { max = 5 }")
    desk.write("mid.toml", 'extends = "massage.toml"\n[guard]\nlauric = false')
    assert desk.scenario('extends = "massage.toml"').lauric_guard.high == 5
    assert desk.scenario('extends = "mid.toml"').lauric_guard.high is None
    again = desk.scenario('extends = "mid.toml"\n[guard]\nlauric = { max = 7 }')
    assert again.lauric_guard.high == 7


def test_chains_reach_through_folders(desk):
    desk.write("far/away/massage.toml", PARENT)
    desk.write("far/hot.toml", 'extends = "away/massage.toml"\ncautious = true')
    scenario = desk.scenario('extends = "far/hot.toml"\ntitle = "Hot"')
    assert scenario.cautious
    assert scenario.origins["cautious"].file == "far/hot.toml"
    assert scenario.origins["use"].file == "far/away/massage.toml"


def test_a_parent_on_another_drive_is_shown_by_its_name(child, monkeypatch):
    def refuse(*_):
        raise ValueError("path is on mount 'D:'")

    monkeypatch.setattr("os.path.relpath", refuse)
    assert child("").origins["use"].file == "massage.toml"


def test_circles_are_refused(desk):
    desk.write("a.toml", 'extends = "b.toml"')
    desk.write("b.toml", 'extends = "a.toml"')
    assert desk.said('extends = "a.toml"') == (
        "b.toml, key extends: 'a.toml' leads back to itself: a.toml -> b.toml -> "
        "a.toml.\n  To fix: extend another file."
    )


def test_a_file_that_extends_itself_is_refused(desk):
    assert desk.said('extends = "bar.toml"') == (
        "bar.toml, key extends: 'bar.toml' leads back to itself: bar.toml -> "
        "bar.toml.\n  To fix: extend another file."
    )


@pytest.mark.parametrize(
    ("written", "found", "fix"),
    [
        (
            "masage.toml",
            "masage.toml",
            "correct the name; the nearest file there is massage.toml",
        ),
        ("a_b", "a_b", "correct the name; no file there has a name like it"),
        (
            "no/massage.toml",
            "no/massage.toml",
            "check the folder: it is not there, or may not be read",
        ),
    ],
)
def test_an_extended_file_that_is_not_there_is_told(desk, written, found, fix):
    desk.write("massage.toml", PARENT)
    assert desk.said(f'extends = "{written}"\n[limits]\n"beeswax" = {{}}') == (
        f"bar.toml, key extends: '{found}' is not there.\n  To fix: {fix}."
    )


def test_an_extended_file_that_cannot_be_read_makes_nothing_else_missing(desk):
    desk.write("massage.toml", "title = Bar")
    assert desk.said(
        'extends = "massage.toml"\n[closeness]\nby_ingredient = 3\n'
        '[limits]\n"wax" = false\n[bands]\n"mine" = { max = 3 }\n'
        '[[windows]]\nproperty = "density"\nat = "storage"\nmin = 3'
    ) == (
        "massage.toml: line 1 is not written as TOML (invalid value).\n"
        '  To fix: put text in quotes, as in use = "leave-on".'
    )


def test_problems_of_all_files_are_told_at_once(desk):
    desk.write("massage.toml", PARENT.replace("max = 20", 'max = "20"'))
    told = desk.said('extends = "massage.toml"\ntitle = 3\n[pins]\nbee = 1')
    assert told.splitlines()[::2] == [
        "bar.toml, key title: '3' is a number, not text.",
        "massage.toml, key limits.jojoba oil.max: '20' is text, not a number.",
        "bar.toml, key pins.bee: 'bee' is not a known ingredient; the nearest known "
        "name is beeswax.",
    ]


def test_two_sides_of_two_files_that_cross_are_told_with_both(child_said):
    said = child_said('[bands]\n"hard butter" = { max = 30 }')
    assert "has min 40 (massage.toml) above max 30 (" in said
    assert "bar.toml)." in said
    said = child_said('[bands]\n"hard butter" = { min = 50, max = 30 }')
    assert "has min 50 above max 30." in said


def test_each_side_says_in_which_file_it_stands(child, desk):
    (band,) = child('[bands]\n"hard butter" = { max = 50 }').bands
    own = str(desk.folder / "bar.toml")
    assert [band.written(side).file for side in ("min", "max")] == ["massage.toml", own]
    (band,) = child('[bands]\n"hard butter" = { min = 45, max = 50 }').bands
    assert [band.written(side).file for side in ("min", "max")] == [own, own]
    (band,) = child("").bands
    assert {band.written(side).file for side in ("min", "max")} == {"massage.toml"}
