"""Emulsifiers matched to what the lipids require, at totals that are tried in turn."""

import pytest
from msgspec.structs import replace

from optimiser.domain.scenario import Emulsify
from optimiser.explaining import Answer, check, formulate
from optimiser.rules.emulsifiers import each_total
from tests.rules import workbench as wb

# A worked example of formulators' pages: 10 soybean (7), 7.5 cocoa (6) and 7.5 mango
# (8) require HLB 7.0; of emulsifiers with 2.9 and 15 that takes 66 % and 34 %.
KNOWN = wb.catalogue(
    {
        "soybean": "liquid oil",
        "cocoa": "hard butter",
        "mango": "soft butter",
        "low": "emulsifier",
        "high": "emulsifier",
        "ready": "emulsifier",
        "water": "water",
    },
    prices={"low": 8.0, "high": 9.0, "ready": 1.0, "water": 0.1},
    figures={
        "required HLB": {"soybean": 7.0, "cocoa": 6.0, "mango": 8.0},
        "HLB": {"low": 2.9, "high": 15.0},
    },
)


def asked(*totals, within=0.01):
    pins = {"soybean": 10.0, "cocoa": 7.5, "mango": 7.5}
    return wb.scenario(
        pins=tuple(wb.bound(k, p, p, table="pins") for k, p in pins.items()),
        bands=(wb.bound("emulsifier", 0.0), wb.bound("water", 0.0)),
        emulsify=Emulsify(totals, within, wb.toml("emulsifiers.total")),
    )


def test_the_pair_of_a_worked_example_is_found():
    answer = formulate(asked(20.0), KNOWN)
    used = {line.ingredient: line.percent for line in answer.formula}
    assert used["low"] + used["high"] == pytest.approx(5.0)
    assert used["high"] / 5.0 == pytest.approx(0.34, abs=0.005)
    assert "ready" not in used  # it has no HLB to count


def test_of_the_totals_the_one_that_serves_the_aim_is_kept():
    answer = formulate(asked(24.0, 16.0, 20.0), KNOWN)
    used = {line.ingredient: line.percent for line in answer.formula}
    # 16 % of 25 is the example's total of 4, of which 2.64 and 1.36 were weighed.
    assert used["low"] == pytest.approx(2.64, abs=0.01)
    assert used["high"] == pytest.approx(1.36, abs=0.01)


def test_a_total_that_has_no_answer_is_passed_over():
    tight = replace(asked(8.0, 20.0), limits=(wb.bound("low", 3.0, table="limits"),))
    answer = formulate(tight, KNOWN)
    assert isinstance(answer, Answer)
    total = next(x for x in answer.rules if x.rule.id == "emulsifiers/total")
    assert total.rule.limit == 20.0


def test_a_formula_is_checked_against_the_total_it_comes_nearest():
    formula = {
        "soybean": 10.0,
        "cocoa": 7.5,
        "mango": 7.5,
        "low": 3.31,
        "high": 1.69,
        "water": 70.0,
    }
    told = check(formula, asked(16.0, 20.0, within=0.1), KNOWN)
    assert told.status == "kept"
    wrong = check(
        {**formula, "low": 1.69, "high": 3.31}, asked(20.0, within=0.1), KNOWN
    )
    assert wrong.status == "broken"


def test_a_formula_with_an_emulsifier_of_unknown_hlb_breaks_the_rule_on_that():
    formula = {"soybean": 25.0, "low": 2.0, "high": 2.0, "ready": 1.0, "water": 70.0}
    told = check(formula, asked(20.0, within=10.0), KNOWN)
    lines = {line.rule.id: line for line in told.lines}
    assert lines["emulsifiers/no HLB"].value == pytest.approx(1.0)
    assert lines["emulsifiers/no HLB"].slack == pytest.approx(-1.0)


def test_without_emulsifiers_asked_for_there_is_one_question():
    plain = wb.scenario()
    assert each_total(plain) == (plain,)
    assert not [key for key in wb.rules_of(plain, KNOWN) if "emulsifiers" in key]


# HLB is matched to what is usual also by a careful maker: at the worse ends of both
# figures at once nothing would ever match.
def test_hlb_is_matched_at_the_usual_figures_whatever_their_spread():
    spread = {
        "required HLB": {
            key: wb.figure(hlb, hlb - 1.0, hlb + 1.0, unit="")
            for key, hlb in (("soybean", 7.0), ("cocoa", 6.0), ("mango", 8.0))
        },
        "HLB": {
            key: wb.figure(hlb, hlb - 0.5, hlb + 0.5, unit="")
            for key, hlb in (("low", 2.9), ("high", 15.0))
        },
    }
    known = replace(KNOWN, figures=wb.catalogue({}, figures=spread).figures)
    plain, careful = (
        wb.percent(formulate(replace(asked(20.0), cautious=cautious), known))
        for cautious in (False, True)
    )
    assert careful == pytest.approx(plain)
    assert careful["high"] / 5.0 == pytest.approx(0.34, abs=0.005)
