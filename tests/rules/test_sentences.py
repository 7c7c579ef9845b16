"""A rule's sentence is made from its values each time it is shown."""

import pytest

from optimiser.domain.scenario import Emulsify
from optimiser.domain.wording import Counted, Fixed, Gap, Measured
from tests.rules import workbench as wb

CASES = (
    (Measured("beeswax"), "max", 4.0, "beeswax at most 4 %"),
    (Measured("beeswax", after="of the lipids"), "min", 0.25,
     "beeswax at least 0.25 % of the lipids"),
    (Measured("plant to bee:", "to 1"), "max", 0.5, "plant to bee: at most 0.5 to 1"),
    (Measured("HLB over the emulsifier", ""), "min", 9.0,
     "HLB over the emulsifier at least 9"),
    (Measured("beeswax", none="no beeswax"), "max", 0.0, "no beeswax"),
    (Measured("beeswax", none="no beeswax"), "max", 2.5, "beeswax at most 2.5 %"),
    (Measured("beeswax"), "exact", -0.0, "beeswax exactly 0 %"),
    (Counted("ingredient", "ingredients", "of wax"), "max", 1.0,
     "at most 1 ingredient of wax"),
    (Counted("ingredient", "ingredients", "of wax"), "max", 2.0,
     "at most 2 ingredients of wax"),
    (Counted("ingredient", "ingredients", "in all"), "min", 0.0,
     "at least 0 ingredients in all"),
    (Gap("HLB", "asked"), "min", -0.5, "HLB at most 0.5 below asked"),
    (Gap("HLB", "asked"), "min", 0.5, "HLB at least 0.5 above asked"),
    (Gap("HLB", "asked"), "max", 0.5, "HLB at most 0.5 above asked"),
    (Gap("HLB", "asked"), "max", -0.5, "HLB at least 0.5 below asked"),
    (Fixed("the percentages add up to 100 %"), "exact", 100.0,
     "the percentages add up to 100 %"),
)  # fmt: skip


@pytest.mark.parametrize(("wording", "side", "limit", "said"), CASES)
def test_a_limit_is_said_as_it_is(wording, side, limit, said):
    assert wording.say(side, limit) == said


@pytest.mark.parametrize("wording", {type(case[0]): case[0] for case in CASES}.values())
def test_what_a_rule_is_about_is_said_without_its_limit(wording):
    said = wording.say("min", 7.25)
    assert wording.what
    assert all(word in said for word in wording.what.split())
    assert "7.25" not in wording.what


KNOWN = wb.catalogue(
    {"oil": "liquid oil", "wax": "wax", "other wax": "wax", "high": "emulsifier"},
    figures={"HLB": {"high": 12.0}, "required HLB": {"oil": 6.0, "wax": 9.0}},
)


def rules(**more):
    return wb.rules_of(wb.scenario(**more), KNOWN)


def test_a_moved_limit_is_said_and_where_it_was():
    band = rules(bands=(wb.bound("wax", 4.0, why="holds its shape"),))["band/wax/min"]
    assert band.moved(3.5).sentence == (
        "wax at least 3.5 % (holds its shape) (eased from 4)"
    )
    assert band.moved(3.5).moved(3.0).sentence == (
        "wax at least 3 % (holds its shape) (eased from 4)"
    )
    assert band.moved(3.5).moved(4.0).sentence == band.sentence


def test_what_was_kept_out_is_said_once_some_may_come_in():
    exclude = wb.scenario().exclude
    rule = wb.rules_of(wb.scenario(exclude=type(exclude)(ingredients=("wax",))), KNOWN)[
        "exclude/wax"
    ]
    assert rule.sentence == "no wax"
    assert rule.moved(1.5).sentence == "wax at most 1.5 % (eased from none)"


def test_both_sides_of_an_hlb_are_said_when_they_move():
    asked = Emulsify((10.0,), 0.5, wb.toml("emulsifiers"))
    found = rules(emulsify=asked)
    low, high = found["emulsifiers/HLB/min"], found["emulsifiers/HLB/max"]
    about = "HLB of the emulsifiers"
    than = "what the lipids require"
    assert low.sentence == f"{about} at most 0.5 below {than}"
    assert low.moved(-1.2).sentence == (
        f"{about} at most 1.2 below {than} (eased from -0.5)"
    )
    assert high.moved(1.0).sentence == (
        f"{about} at most 1 above {than} (eased from 0.5)"
    )


def test_one_may_be_chosen_and_two_once_that_is_eased():
    rule = rules(choices=(wb.choice("wax", None, 1),))["choice/wax/max"]
    assert rule.sentence == "at most 1 ingredient of wax"
    assert rule.moved(2.0).sentence == "at most 2 ingredients of wax (eased from 1)"


def test_reasons_follow_what_a_rule_says_and_do_not_take_part_in_it():
    limit = wb.usage("wax", "practice", 4.0)
    known = wb.catalogue({"oil": "liquid oil", "wax": "wax"}, limits=(limit,))
    rule = wb.rules_of(wb.scenario(), known)["practice/wax/max"]
    assert rule.sentence == "wax at most 4 % (common practice)"
    # A reason that holds the very words of the rule is left as it was written.
    why = "at most 4 %, said my aunt"
    own = rules(limits=(wb.bound("wax", None, 4.0, why=why),))["limit/wax/max"]
    assert own.moved(5.0).sentence == f"wax at most 5 % ({why}) (eased from 4)"
