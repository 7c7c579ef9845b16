"""The second opinion in words: each outcome, and the same as data."""

import pytest

from optimiser.explaining.answer import OpinionLine, PropertyLine, SecondOpinion
from optimiser.presenting.opinion import opinion, opinion_data
from optimiser.presenting.studies.robust import _not_counted
from tests.presenting.shown import flat, told
from tests.rules import workbench as wb

KNOWN = wb.catalogue(
    {"cocoa": "hard butter"}, figures={"solid fat": {"cocoa": {20.0: 80.0}}}
)
RULE = wb.rules_of(
    wb.scenario(windows=(wb.window("solid fat", 50.0, at=20.0, over="lipids"),)), KNOWN
)["window/solid fat/20 degC/lipids/min"]
AIMS = (("cost", 11.0, "EUR/kg"),)


def line(second, holds, relative=False):
    return OpinionLine(RULE, 55.0, second, 8.0, holds, relative)


def words(said, aims=AIMS):
    return flat(told(opinion(said, aims)))


def test_nothing_is_said_where_nothing_was_asked():
    assert [*opinion(None, AIMS)] == []
    assert opinion_data(None) is None


def test_agreement_is_one_sentence():
    told = words(SecondOpinion("agrees", (line(52.0, True),)))
    assert "solid fat at 20 °C over the lipids at least 50 55 52 8" in told
    assert "It agrees: every window above holds by it too." in told
    assert "not far from its most" not in told
    assert "A melting model, not a measurement" in told


def test_a_window_that_was_held_tells_rounds_starts_and_cost():
    said = SecondOpinion(
        "held", (line(50.0, True),), 9, 4, (("cost", 10.0, "EUR/kg"),), (38.2,)
    )
    assert (
        "By straight sums alone the answer would have had 'solid fat at 20 °C over the"
        " lipids' only 38 by this opinion. It was solved again until that held."
        " That took cost from 10.00 to 11.00 EUR/kg."
    ) in words(said)
    assert "It cost nothing." in words(said, (("cost", 10.0, "EUR/kg"),))


def test_a_window_that_is_asked_for_twice_is_named_once():
    lines = (line(38.0, False), line(38.0, False))
    said = words(SecondOpinion("told", lines))
    assert "By it 'solid fat at 20 °C over the lipids' would not hold." in said


def test_a_window_out_of_reach_tells_how_near_one_came():
    said = SecondOpinion(
        "not reached", (line(38.0, False),), 30, 3, AIMS, (38.0,), (44.4,)
    )
    assert (
        "By it 'solid fat at 20 °C over the lipids' does not hold, and no formula"
        " within your rules was found for which it does; the"
        " nearest came to 'solid fat at 20 °C over the lipids' 44."
    ) in words(said)


def test_what_is_told_only_says_that_the_straight_sum_decides():
    told = words(SecondOpinion("told", (line(38.0, False),)))
    assert "would not hold. It is told only" in told


def test_what_is_not_known_is_named():
    said = SecondOpinion("unknown", (line(None, None),), unknown=("lard",))
    assert words(said).startswith("No second opinion: too little is known of lard.")


def test_firmness_says_what_it_counts_from():
    told = words(SecondOpinion("agrees", (line(52.0, True, relative=True),)))
    assert "Firmness counts from your base at 25 °C" in told


@pytest.mark.parametrize("columns", [64, 80, 120])
def test_the_lines_fit(columns):
    said = SecondOpinion("agrees", (line(52.0, True),))
    assert max(map(len, told(opinion(said, AIMS), columns).splitlines())) <= columns


def test_the_data_have_stable_keys():
    said = SecondOpinion("held", (line(50.0, True),), 9, 4, AIMS, (38.2,))
    told = opinion_data(said)
    assert list(told) == [
        "outcome",
        "windows",
        "rounds",
        "starts",
        "by_straight_sums",
        "nearest",
        "unknown",
    ]
    assert told["windows"][0] == {
        "rule": RULE.id,
        "straight_sum": 55.0,
        "second": 50.0,
        "doubt": 8.0,
        "holds": True,
        "counts_from_base": False,
    }


@pytest.mark.parametrize(
    ("second", "least", "most", "told"),
    [
        (53.4, 53.1, None, " Within it may be missed firmness at 32 °C (at least 53.1;"
         " 53 by it)."),
        (60.0, 50.0, 67.0, " Within it may be missed firmness at 32 °C (asked 50 to 67;"
         " 60 by it)."),
        (75.0, 53.1, None, ""),
        (75.0, None, 90.0, ""),
        (75.0, None, None, None),
        (None, 53.1, None, None),
    ],
)  # fmt: skip
def test_robust_says_that_the_second_opinion_s_own_doubt_is_not_counted(
    second, least, most, told
):
    doubt = None if second is None else 8.0
    line = PropertyLine(
        "firmness", 32.0, "lipids", 39.0, 60.0, 81.0, "", (), second, doubt, least, most
    )
    head = "Not counted: the doubt of the second opinion itself, 8 points either way."
    assert list(_not_counted([line])) == ([] if told is None else [head + told])
