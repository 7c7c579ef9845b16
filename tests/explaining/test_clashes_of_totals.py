"""Where no total of emulsifiers fits: told for all of them, and which one would."""

import pytest
from msgspec.structs import replace

from optimiser import presenting
from optimiser.errors import InputError
from optimiser.explaining import Answer, Clash, formulate
from optimiser.explaining.formulate import TotalClash
from optimiser.rules import build
from optimiser.rules.emulsifiers import TOTAL
from tests.rules import workbench as wb
from tests.rules.test_emulsifiers import KNOWN, asked


def told(clash):
    return " ".join(presenting.as_text(presenting.clash_page(clash)).split())


def narrow(*totals, most=3.0, **limits):
    """25 % of fats; at most 3 % of emulsifiers is at most 12 % of them."""
    bands = (wb.bound("emulsifier", 0.0, most), wb.bound("water", 0.0, 80.0))
    bounds = tuple(
        wb.bound(key, *sides, table="limits") for key, sides in limits.items()
    )
    return replace(asked(*totals, within=0.2), bands=bands, limits=bounds)


def eased_total(clash):
    """The way out that gives emulsifiers another total, if one is offered."""
    ways = [[(each.rule.id, each.to) for each in way.easings] for way in clash.ways_out]
    return next((n for n, way in enumerate(ways) if way[0][0] == TOTAL), None)


@pytest.mark.parametrize("totals", [(28.0,), (40.0, 28.0), (28.0, 40.0)])
def test_the_nearest_total_that_fits_is_offered_and_answers_at_the_told_cost(totals):
    scenario = narrow(*totals)
    clash = formulate(scenario, KNOWN)
    assert isinstance(clash, Clash)
    way = clash.ways_out[eased_total(clash)]
    (easing,) = way.easings
    # The nearest is 12 %; a maker would write half percents.
    assert (easing.rule.limit, easing.to) == (28.0, 12.0)
    taken = replace(scenario, eased={TOTAL: (easing.to, wb.toml("eased"))})
    answer = formulate(taken, KNOWN)
    assert isinstance(answer, Answer)
    assert answer.cost_per_kg == pytest.approx(way.cost_per_kg)
    lines = {line.rule.id: line.rule for line in answer.rules}
    assert lines[TOTAL].limit == 12.0
    assert f"(eased from {totals[0]:g})" in lines[TOTAL].sentence
    emulsifiers = sum(
        line.percent for line in answer.formula if line.category == "emulsifier"
    )
    assert emulsifiers == pytest.approx(0.12 * 25.0)


def test_each_total_that_clashes_for_other_reasons_is_told():
    # 4 % is too little for half a percent of the dear one, 28 % is above the band.
    clash = formulate(narrow(28.0, 4.0, high=(0.5, None)), KNOWN)
    (other,) = clash.totals
    assert isinstance(other, TotalClash)
    assert other.total == 4.0
    ids = {rule.id for rule in other.rules}
    assert "limit/high/min" in ids
    assert "limit/high/min" not in {rule.id for rule in clash.rules}
    assert "With 4 % of emulsifiers".upper() in told(clash).upper()
    data = presenting.clash_data(clash)
    assert [set(each["clash"]) for each in data["totals"]] == [ids]
    assert "is for 28 %, then for the others" in clash.causes[0]


def test_totals_that_clash_for_the_same_reason_are_told_once():
    clash = formulate(narrow(28.0, 40.0), KNOWN)
    assert clash.totals == ()
    assert "what follows is for each of them" in clash.causes[0]


def test_ways_out_are_those_of_all_totals():
    """Of the second total no more than a little of one limit stands in the way."""
    clash = formulate(narrow(60.0, 12.0, most=2.9), KNOWN)
    (first, *_) = clash.ways_out[0].easings
    assert (first.rule.id, first.to) in {("band/emulsifier/max", 3.0), (TOTAL, 11.5)}
    bands = [e.to for way in clash.ways_out for e in way.easings
             if e.rule.id == "band/emulsifier/max"]  # fmt: skip
    assert bands == [3.0]


def test_no_total_is_offered_where_it_is_not_in_the_way():
    clash = formulate(narrow(12.0, water=(90.0, None)), KNOWN)
    assert isinstance(clash, Clash)
    assert eased_total(clash) is None


@pytest.mark.parametrize("limit", [0.0, -1.0, 101.0, None])
def test_a_total_is_not_eased_to_what_is_none(limit):
    scenario = replace(narrow(12.0), eased={TOTAL: (limit, wb.toml("eased"))})
    with pytest.raises(InputError, match="is not eased"):
        build(scenario, KNOWN)
